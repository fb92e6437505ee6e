"""What the tests of the room share: a sheet, an observer that keeps all, a room in a folder."""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np

from voicecount.commands.journals import CODEC, check_resumable
from voicecount.commands.script import Script, read_script
from voicecount.count.events import Event
from voicecount.count.ledger import Ledger
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.errors import VoiceError
from voicecount.hear.port import Heard, Outcome, Recogniser
from voicecount.keep.files import Disk
from voicecount.keep.journal import Journal
from voicecount.room import NOT_TOLD_APART, TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.sound.frame import Utterance
from voicecount.sound.moments import Moment
from voicecount.speak.port import Speaker
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply
from voicecount.testing.voice import FakeVoice
from voicecount.words.grammar import build_grammar
from voicecount.words.grammars import Grammars
from voicecount.words.meaning import Meaning

SHEET = load_sheet(Path(__file__).parent.parent / "grammars" / "first_try.yaml")
GRAMMARS = Grammars(lambda vocabulary: build_grammar(SHEET, vocabulary))

COUNT = """
0 scrub: gauze, one two three four five six seven eight nine ten
8 circulator: ten
12 scrub: lap sponge one two four
18 scrub: lap sponge one two three four five
24 circulator: four
30 scrub: lap sponge one two three four five
36 circulator: five
40 circulator: did you see the game last night
44 scrub: one marking pen two pieces
48 circulator: one
52 scrub: suture needles total four
57 circulator: four
"""


class Notes:
    """An observer that keeps what it is told, in order."""

    def __init__(self) -> None:
        self.all: list[tuple[str, object]] = []

    def partial(self, heard: Heard, role: Role | None) -> None:
        self.all.append(("partial", (heard.text, role)))

    def heard(self, heard: Heard, role: Role | None) -> None:
        self.all.append(("heard", (heard.text, role)))

    def stored(self, event: Event) -> None:
        self.all.append(("stored", event))

    def replied(self, at: float, reply: Reply) -> None:
        self.all.append(("replied", (at, reply.text)))

    def unspoken(self, at: float, reply: Reply, error: VoiceError) -> None:
        self.all.append(("unspoken", (at, reply.text, error)))

    def kinds(self) -> list[str]:
        return [kind for kind, _ in self.all]

    def replies(self) -> list[tuple[float, str]]:
        return [what for kind, what in self.all if kind == "replied"]  # type: ignore[misc]


class Setting:
    """A room over a new or resumed journal in a folder."""

    def __init__(
        self,
        folder: Path,
        recogniser: Recogniser,
        *,
        told_apart: bool = True,
        voice: FakeVoice | None = None,
        speaker: Speaker | None = None,
        disk: Disk | None = None,
        ahead: Callable[[str], None] | None = None,
    ) -> None:
        self.path = folder / "case.vcj"
        ledger = None
        if self.path.exists():
            self.journal = Journal.open(self.path, CODEC, disk=disk)
            ledger = check_resumable(self.path, self.journal.events, SHEET)
        else:
            first = open_case(
                SHEET, at=0, software="t", recogniser="t", voice="t", told_apart=told_apart
            )
            self.journal = Journal.create(self.path, first, CODEC, disk=disk)
        self.resumed = ledger is not None
        self.dialogue = Dialogue(SHEET, told_apart=told_apart, ledger=ledger)
        self.notes = Notes()
        self.room = Room(
            self.dialogue,
            self.journal,
            recogniser,
            GRAMMARS,
            roles=TOLD_APART if told_apart else NOT_TOLD_APART,
            voice=voice,
            speaker=speaker,
            observers=[self.notes],
            ahead=ahead,
        )

    def run(self, stream: Sequence[Moment] | Iterator[Moment]) -> Ledger:
        with self.journal:
            last = max(event.at for event in self.journal.events)
            if self.resumed:
                self.room.reopen(last)
            else:
                self.room.open()
            self.room.run(stream, after=last)
        return self.dialogue.ledger

    def kept(self) -> tuple[Event, ...]:
        with Journal.open(self.path, CODEC) as journal:
            return journal.events


def script(tmp_path: Path, text: str) -> Script:
    path = tmp_path / "script.txt"
    path.write_text(text)
    return read_script(path)


def utterance(start: float, end: float, channel: int = 0) -> Utterance:
    return Utterance(channel, start, end, np.zeros(0, np.float32), offset=start)


def heard(start: float, end: float, meaning: Meaning, channel: int = 0) -> Heard:
    return Heard(channel, start, end, Outcome.ACCEPTED, meaning, "as typed")
