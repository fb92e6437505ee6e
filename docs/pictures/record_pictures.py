"""Make the pictures of the record: record_pictures.py [record] [many].

The record is that of a journal in tests/golden; the many cases are random ones of the tests. Pages
are turned to pictures by pdftoppm (Debian: poppler-utils).
"""

import io
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import cast

import typst
from PIL import Image

from voicecount.commands.report import case_of
from voicecount.errors import JournalError
from voicecount.report import plots
from voicecount.report.many import Summary
from voicecount.report.pages import pages
from voicecount.report.pdf import Paper, pdf
from voicecount.report.timeline import timeline

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


def main() -> None:
    """Draw what is named; all where nothing is."""
    every = {"record": record, "many": many}
    for name in sys.argv[1:] or every:
        every[name]()


if __name__ == "__main__":
    main()
