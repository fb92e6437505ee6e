"""Make the pictures of the record and of the board: record_pictures.py [record] [many] [board].

The record is that of a journal in tests/golden; the many cases are random ones of the tests. Pages
are turned to pictures by pdftoppm (Debian: poppler-utils), the board by a Chromium.
"""

import io
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import cast

import typst
from PIL import Image

from voicecount.commands.board import told_now
from voicecount.commands.inputs import open_input, recogniser_for
from voicecount.commands.journals import CODEC
from voicecount.commands.report import case_of
from voicecount.count.opening import open_case
from voicecount.errors import JournalError
from voicecount.keep.clock import SystemClock
from voicecount.keep.journal import Journal
from voicecount.report import plots
from voicecount.report.many import Summary
from voicecount.report.pages import pages
from voicecount.report.pdf import Paper, pdf
from voicecount.report.timeline import timeline
from voicecount.room import TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.sound.moments import Moment
from voicecount.talk.dialogue import Dialogue
from voicecount.words.grammar import build_grammar
from voicecount.words.grammars import Grammars

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
CASE = ROOT / "tests/golden/whole_case_2026_11_26.vcj"
MADE = "2026-11-27T08:00:00+00:00"
GIVEN = (("Case", "K 2041"), ("Theatre", "4"))
RANDOM_CASES = 60
DOTS = 84
"""For each inch of a page."""
ON_WHITE = b"""
#set page(width: auto, height: auto, margin: 8pt)
#image(bytes(sys.inputs.svg), format: "svg", width: 17cm)
"""

SPEAKING = re.compile(r"^([\d.]+) (\w+: .+)$")
UNTIL = "Nothing found there."
"""The board is shown before these words: a needle is missing."""


def record() -> None:
    """Draw the first two pages on A4, the first one on letter, and the case over time."""
    facts = case_of(CASE, MADE, GIVEN, beside=True)
    blocks = pages(facts)
    _pages(pdf(blocks, "a4"), "a4", 2)
    _pages(pdf(blocks, "us-letter"), "us-letter", 1)
    _drawing(timeline(facts), "timeline")


def _pages(data: bytes, paper: Paper, last: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "record.pdf"
        file.write_bytes(data)
        command = [
            "pdftoppm",
            "-r",
            str(DOTS),
            "-l",
            str(last),
            "-png",
            str(file),
            f"{folder}/page",
        ]
        subprocess.run(command, check=True)  # noqa: S603 - our own file
        name = "letter" if paper == "us-letter" else paper
        for number, page in enumerate(sorted(Path(folder).glob("page*.png")), start=1):
            with Image.open(page) as drawn:
                _keep(drawn, f"record_{name}_{number}")


def _drawing(svg: str, name: str) -> None:
    """Turn a drawing of the record into a picture on white."""
    written = typst.compile(ON_WHITE, format="png", ppi=110, sys_inputs={"svg": svg})
    with Image.open(io.BytesIO(cast("bytes", written))) as drawn:
        _keep(drawn, name)


def _keep(drawn: Image.Image, name: str) -> None:
    few = drawn.convert("L").quantize(16)  # black on white needs few shades
    few.save(HERE / f"{name}.png", optimize=True)


def many() -> None:
    """Draw figures of many cases."""
    sys.path.insert(0, str(ROOT / "tests"))
    from case_play import random_case  # noqa: PLC0415 - a module of the tests

    summary = Summary()
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(RANDOM_CASES):
            each = Path(folder) / str(seed)
            each.mkdir()
            path = random_case(seed, each).path
            if path.exists():  # some are kept in memory
                try:
                    summary.add(case_of(path, MADE, (), beside=False))
                except JournalError:
                    continue
    _drawing(plots.times(summary).svg, "many_times")
    _drawing(plots.differences(summary).svg, "many_differences")


def board() -> None:
    """Draw the board in a count that is short by one."""
    sheet = load_sheet(ROOT / "grammars/caesarean_case.yaml")
    grammars = Grammars(lambda vocabulary: build_grammar(sheet, vocabulary))
    with tempfile.TemporaryDirectory() as folder:
        script, path = Path(folder) / "case.txt", Path(folder) / "case.vcj"
        script.write_text(_script(), encoding="utf-8")
        given = open_input(script, "typed")
        recogniser = recogniser_for(given, "typed", grammars(), sheet.policy)
        first = open_case(sheet, at=0.0, software="", recogniser="", voice="none", told_apart=True)
        with (
            Journal.create(path, first, CODEC, clock=SystemClock()) as journal,
            told_now(path) as teller,
        ):

            def moments() -> Iterator[Moment]:
                yield from given.stream(None, lambda _: None)
                teller.moved()
                _photograph(path)  # before the room is told that the talk has ended

            dialogue = Dialogue(sheet, told_apart=True)
            room = Room(
                dialogue, journal, recogniser, grammars, roles=TOLD_APART, observers=[teller]
            )
            room.open()
            room.run(moments())


def _photograph(journal: Path) -> None:
    """Show a journal on the board, and the board in a browser."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 - of the tests

    command = [sys.executable, "-m", "voicecount", "board", str(journal), "--port", "0"]
    serving = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)  # noqa: S603 - our own
    try:
        told = serving.stderr.readline() if serving.stderr is not None else ""
        address = told.split("board: ")[1].strip()
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=shutil.which("chromium"))
            page = browser.new_page(viewport={"width": 1280, "height": 720})
            page.goto(address)
            page.wait_for_timeout(1500)
            drawn = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
            browser.close()
    finally:
        serving.terminate()
        serving.wait()
    drawn.quantize(64).save(HERE / "board.png", optimize=True)


def _script() -> str:
    """Give the demo's talk as typed words; no two lines at once."""
    at, last, lines = 0.0, 0.0, []
    for line in (ROOT / "audio_fixtures/caesarean_case.txt").read_text("utf-8").splitlines():
        found = SPEAKING.match(line)
        if found is None:
            continue
        if UNTIL in line:
            break
        at += last + float(found[1])
        last = 0.6 * len(line.split())
        lines.append(f"{at:.1f} {found[2].lower().rstrip('.')}")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Draw what is named; all where nothing is."""
    every = {"record": record, "many": many, "board": board}
    for name in sys.argv[1:] or every:
        every[name]()


if __name__ == "__main__":
    main()
