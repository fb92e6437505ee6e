"""Make the pictures of the README from real runs: python docs/pictures/make.py [demo] [case].

``record_pictures.py`` makes those of the record and of the board.
"""

import io
import re
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.text import Text

from voicecount.commands.inputs import open_input, recogniser_for
from voicecount.commands.journals import CODEC
from voicecount.count.ledger import Ledger
from voicecount.count.opening import open_case
from voicecount.keep.clock import SystemClock
from voicecount.keep.journal import Journal
from voicecount.room import TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.show.case_table import case_table
from voicecount.show.conversation import Conversation, Line, Printer
from voicecount.show.tally import tally_table
from voicecount.talk.dialogue import Dialogue
from voicecount.words.grammar import build_grammar
from voicecount.words.grammars import Grammars

HERE = Path(__file__).parent
ROOT = HERE.parent.parent


@dataclass(frozen=True)
class Picture:
    """What is run and which part of its conversation is drawn."""

    name: str
    command: str
    sheet: str
    from_words: str
    """The conversation is drawn from the first answer that holds these words."""
    before: int
    """Lines before that one."""
    shown: int


PICTURES = (
    Picture("demo", "make demo", "caesarean", "Begin with", 0, 27),
    Picture("case", "make case", "caesarean_case", "One short", 6, 33),
)


def run(picture: Picture) -> tuple[list[Line], Ledger]:
    """Run the recording; give its conversation and what stands at its end."""
    sheet = load_sheet(ROOT / f"grammars/{picture.sheet}.yaml")
    given = open_input(ROOT / f"audio_fixtures/{picture.sheet}.flac", "embedded")
    grammars = Grammars(lambda vocabulary: build_grammar(sheet, vocabulary))
    recogniser = recogniser_for(given, "embedded", grammars(), sheet.policy)
    conversation = Conversation()
    with tempfile.TemporaryDirectory() as folder:
        first = open_case(sheet, at=0.0, software="", recogniser="", voice="none", told_apart=True)
        journal = Journal.create(Path(folder) / "case.vcj", first, CODEC, clock=SystemClock())
        dialogue = Dialogue(sheet, told_apart=True)
        room = Room(
            dialogue, journal, recogniser, grammars, roles=TOLD_APART, observers=[conversation]
        )
        room.open()
        room.run(given.stream(None, lambda _: None))
        journal.close()
    return conversation.lines, dialogue.ledger


def draw(picture: Picture) -> None:
    """Draw one picture."""
    lines, ledger = run(picture)
    out = Console(record=True, force_terminal=True, width=118, file=io.StringIO(), emoji=False)
    found = next(at for at, line in enumerate(lines) if picture.from_words in line.words)
    first = max(0, found - picture.before)
    tell = Printer(out)
    if first:
        out.print(Text("          ...", "dim"))
    for line in lines[first : first + picture.shown]:
        tell(line)
    out.print(Text("          ...", "dim"))
    further = ledger.count is not None and ledger.count.number > 1
    out.print(case_table(ledger) if further else tally_table(ledger))
    svg = out.export_svg(title=picture.command)
    svg = re.sub(r"@font-face \{.*?\}\s*", "", svg, flags=re.DOTALL)  # no font from a network
    target = HERE / f"{picture.name}.svg"
    target.write_text(svg.replace("Fira Code", "DejaVu Sans Mono"), encoding="utf-8")


def main() -> None:
    """Draw the pictures that are named; all where none is."""
    for picture in PICTURES:
        if picture.name in (sys.argv[1:] or [one.name for one in PICTURES]):
            draw(picture)


if __name__ == "__main__":
    main()
