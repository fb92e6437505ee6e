"""Make the pictures of a practice page: python -m docs.pictures.drill_pictures.

An attempt at a shipped drill that is made by hand, with faults. Wants Chromium, playwright, pillow
and pdftoppm (Debian: poppler-utils).
"""

import io
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image

from voicecount.drill.load import load_drill
from voicecount.drill.page import attempt_page
from voicecount.drill.past import Past

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
DRILL = "hernia_interrupted"
MADE = "2026-11-26T18:50:00+00:00"
DOTS = 84
"""For each inch of a printed page."""
VIEW = {"width": 1100, "height": 1400}


def _page(folder: Path) -> Path:
    """Write the page and its recording."""
    from tests.drill_attempts_made import faulty, write_sound  # noqa: PLC0415 - of the tests

    loaded = load_drill(DRILL)
    judgement, attempt = faulty(loaded)
    score = judgement.score or 0.0
    before = [
        Past(f"2026-11-2{day}T10:00:00+00:00", loaded.drill.title, score * share, judgement.marks)
        for day, share in enumerate((0.6, 0.75, 0.8), start=2)
    ]
    sound = write_sound(folder / "sound.flac", attempt)
    text = attempt_page(
        judgement, attempt, loaded, student="k7", made=MADE, sound=sound, before=before
    )
    target = folder / "page.html"
    target.write_text(text, "utf-8")
    return target


def _shoot(browser: Any, page: Path, scheme: str) -> bytes:
    """Give the top of a page, and its first strips, as they are seen."""
    context = browser.new_context(viewport=VIEW, color_scheme=scheme)
    seen = context.new_page()
    seen.goto(page.as_uri())
    seen.wait_for_timeout(500)
    if scheme == "dark":
        seen.locator("#time").scroll_into_view_if_needed()
        seen.evaluate("document.getElementById('time').scrollIntoView()")
    picture = bytes(seen.screenshot())
    context.close()
    return picture


def _keep(png: bytes, name: str) -> None:
    """Keep a picture with few colours, the marks' own among them."""
    with Image.open(io.BytesIO(png)) as drawn:
        few = drawn.convert("RGB").quantize(
            128, Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE
        )
        few.save(HERE / f"{name}.png", optimize=True)


def _print(browser: Any, page: Path, folder: Path) -> None:
    """Draw the first two printed pages in grey."""
    context = browser.new_context()
    seen = context.new_page()
    seen.goto(page.as_uri())
    seen.pdf(path=str(folder / "page.pdf"), prefer_css_page_size=True)
    context.close()
    command = ["pdftoppm", "-r", str(DOTS), "-gray", "-l", "2", "-png", "page.pdf", "page"]
    subprocess.run(command, check=True, cwd=folder)  # noqa: S603 - our own file
    for number, file in enumerate(sorted(folder.glob("page*.png")), start=1):
        with Image.open(file) as drawn:
            drawn.quantize(16).save(HERE / f"drill_print_{number}.png", optimize=True)


def main() -> None:
    """Make them all."""
    sys.path.insert(0, str(ROOT / "tests"))
    from browser import browsing  # noqa: PLC0415 - a module of the tests

    with browsing() as browser, tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        page = _page(folder)
        for scheme in ("light", "dark"):
            _keep(_shoot(browser, page, scheme), f"drill_{scheme}")
        _print(browser, page, folder)


if __name__ == "__main__":
    main()
