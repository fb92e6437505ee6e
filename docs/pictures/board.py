"""Make the pictures of the wall board: python -m docs.pictures.board [name ...].

The golden whole case up to a record, with the words that the typed replay of the same case says
there. Wants Chromium, playwright and pillow.
"""

import io
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image

from tests.browser import LISTENS, Page, Room, browsing, records_of, records_with
from voicecount.commands.journals import CODEC
from voicecount.keep.record import parse

HERE = Path(__file__).parent
MOST_BYTES = 150_000
_COLOURS = 48
"""Grey steps and the few tints of the smoothed letters."""

BACK_TABLE = {"text": "Lap sponges on the back table, five.", "kind": "readback"}
RECOUNT = {"text": "Both count again. Next, suture needles, on the field.", "kind": "notice"}
PARTIAL = {
    "role": "scrub",
    "text": "suture needles on the mayo stand one two",
    "place": "mayo",
    "at": 1e6,
}


@dataclass(frozen=True)
class Picture:
    """One picture."""

    name: str
    records: int
    """How far the case has come."""
    said: dict[str, Any]
    """The assistant's last words."""
    partial: dict[str, Any] | None = None
    gone: bool = False
    """Whether the assistant does not answer."""
    scheme: str = "light"
    width: int = 1920
    height: int = 1080


PICTURES = (
    Picture("board-count", 26, {**BACK_TABLE, "next": "circulator"}),
    Picture("board-difference", 121, {**RECOUNT, "next": "scrub"}),
    Picture("board-gone", 26, {**BACK_TABLE, "next": "circulator"}, gone=True),
    Picture("board-difference-dark", 121, {**RECOUNT, "next": "scrub"}, scheme="dark"),
    Picture(
        "board-tablet",
        29,
        {"text": "Confirmed. Next, suture needles, on the field.", "kind": "notice", "next": None},
        {**PARTIAL, "item": "suture_needle"},
        width=800,
        height=1280,
    ),
)


def small(png: bytes) -> bytes:
    """Give a picture with few colours."""
    out = io.BytesIO()
    image = Image.open(io.BytesIO(png)).convert("RGB")
    image.quantize(_COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def shoot(browser: Any, picture: Picture, folder: Path) -> bytes:
    """Bring a board to its moment; give what is seen."""
    parsed = [parse(line) for line in records_of()[: picture.records]]
    events = [CODEC.decode({**one.payload, "kind": one.kind}) for one in parsed]
    # Written anew, for the age of the last record.
    records = records_with(folder, events)
    view = {"width": picture.width, "height": picture.height}
    with Room(folder, records) as room:
        room.assistant.tell(
            said={"at": 1.0, "spoken": True, **picture.said}, partial=picture.partial
        )
        look = {"viewport": view, "color_scheme": picture.scheme}
        with Page(browser, room.server.address, **look) as page:
            page.until_record(picture.records)
            page.until(LISTENS)
            page.until("document.getElementById('age').textContent !== ''")
            if picture.gone:
                room.assistant.die()
                page.since("gone")
            return bytes(page.page.screenshot())


def main(names: list[str]) -> None:
    """Make them all, or those that are named."""
    with browsing() as browser:
        for picture in PICTURES:
            if names and picture.name not in names:
                continue
            with tempfile.TemporaryDirectory() as folder:
                made = small(shoot(browser, picture, Path(folder)))
            if len(made) > MOST_BYTES:
                raise SystemExit(f"{picture.name}: {len(made)} bytes are too many; crop it")
            (HERE / f"{picture.name}.png").write_bytes(made)
            sys.stdout.write(f"{picture.name}.png, {len(made) / 1000:.0f} kB\n")


if __name__ == "__main__":
    main(sys.argv[1:])
