"""Make the pictures of the README from a real run of the demo: python docs/pictures/make.py."""

import io
import re
import tempfile
from pathlib import Path

from rich.console import Console
from rich.text import Text

from voicecount.commands.inputs import open_input, recogniser_for
from voicecount.commands.journals import CODEC
from voicecount.count.opening import open_case
from voicecount.keep.clock import SystemClock
from voicecount.keep.journal import Journal
from voicecount.room import TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.show.conversation import Conversation, Printer
from voicecount.show.tally import tally_table
from voicecount.talk.dialogue import Dialogue
from voicecount.words.grammar import build_grammar

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
SHOWN = 27
"""Lines of the conversation in the picture; the tally is of the whole."""


def main() -> None:
    """Run the demo and draw it."""
    sheet = load_sheet(ROOT / "grammars/caesarean.yaml")
    given = open_input(ROOT / "audio_fixtures/caesarean.flac", "embedded")
    grammar = build_grammar(sheet)
    recogniser = recogniser_for(given, "embedded", grammar)
    out = Console(record=True, force_terminal=True, width=112, file=io.StringIO(), emoji=False)
    conversation = Conversation()
    with tempfile.TemporaryDirectory() as folder:
        first = open_case(sheet, at=0.0, software="", recogniser="", voice="none", told_apart=True)
        journal = Journal.create(Path(folder) / "demo.vcj", first, CODEC, clock=SystemClock())
        dialogue = Dialogue(sheet, told_apart=True)
        room = Room(
            dialogue, journal, recogniser, grammar, roles=TOLD_APART, observers=[conversation]
        )
        room.open()
        room.run(given.stream(None, lambda _: None))
        journal.close()
    tell = Printer(out)
    for line in conversation.lines[:SHOWN]:
        tell(line)
    out.print(Text("          ...", "dim"))
    out.print(tally_table(dialogue.ledger))
    svg = out.export_svg(title="make demo")
    svg = re.sub(r"@font-face \{.*?\}\s*", "", svg, flags=re.DOTALL)  # no font from a network
    (HERE / "demo.svg").write_text(svg.replace("Fira Code", "DejaVu Sans Mono"), encoding="utf-8")


if __name__ == "__main__":
    main()
