"""One case for the benchmarks of the live room: sheet, journal, dialogue and room, wired as usual.

The room is made in one place, ``Case.room``, for a replay and for every live run, so that they
differ in nothing but the sound's way.
"""

import tempfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path
from typing import Any

from voicecount.commands.inputs import load_grammars, load_recogniser, open_input
from voicecount.commands.journals import CODEC
from voicecount.count.events import Event
from voicecount.count.opening import open_case
from voicecount.hear.meant import MeantRecogniser, Voices
from voicecount.hear.port import Recogniser
from voicecount.keep.journal import Journal
from voicecount.room import NOT_TOLD_APART, TOLD_APART, Observer, Room
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.sound.files import probe
from voicecount.sound.gate import Noticed
from voicecount.speak.port import Speaker, Voice
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply
from voicecount.words.grammars import Grammars

TIMES = frozenset({"at", "start", "end", "right_at"})
SOUND = frozenset({"sound_checked", "noise_changed", "microphone_changed", "utterances_heard"})
"""Kinds of events that tell of the room's sound: a recording that is replayed has none."""


@dataclass(frozen=True)
class Materials:
    """What is the same for every run of a case: the slow things are loaded once."""

    sheet: Sheet
    grammars: Grammars
    recogniser: Recogniser
    recording: Path
    channels: int

    @classmethod
    def load(cls, sheet_path: Path, recording: Path) -> "Materials":
        """Load a sheet with what was learned for it, and the recogniser with its policy."""
        sheet = load_sheet(sheet_path)
        grammars = load_grammars(sheet_path, sheet)
        recogniser = load_recogniser("embedded", grammars(), sheet.policy)
        return cls(sheet, grammars, recogniser, recording, probe(recording).channels)


class Case:
    """A new journal in a folder, and the room that fills it."""

    def __init__(self, materials: Materials, folder: Path) -> None:
        self._materials = materials
        self.path = folder / "case.vcj"
        told_apart = materials.channels == len(TOLD_APART)
        self._roles = TOLD_APART if told_apart else NOT_TOLD_APART
        first = open_case(
            materials.sheet,
            at=0.0,
            software="benchmark",
            recogniser=materials.recogniser.name,
            voice="embedded",
            told_apart=told_apart,
        )
        self.journal: Journal[Event] = Journal.create(self.path, first, CODEC)
        self.dialogue = Dialogue(materials.sheet, told_apart=told_apart)
        self.voices = Voices()

    def room(
        self,
        *,
        voice: Voice | None = None,
        speaker: Speaker | None = None,
        observers: Iterable[Observer] = (),
        meanwhile: Callable[[], Sequence[Noticed]] = tuple,
        heard_from: Callable[[], float] = lambda: float("-inf"),
        ahead: Callable[[str], None] | None = None,
    ) -> Room:
        """Make the room: the one place where a benchmark does so."""
        return Room(
            self.dialogue,
            self.journal,
            MeantRecogniser(self._materials.recogniser, self.dialogue, self.voices),
            self._materials.grammars,
            roles=self._roles,
            voice=voice,
            speaker=speaker,
            observers=observers,
            meanwhile=meanwhile,
            heard_from=heard_from,
            ahead=ahead,
        )

    def events(self) -> list[Event]:
        """Close the journal, and read back from the disk what is in it."""
        self.journal.close()
        with Journal.open(self.path, CODEC) as read:
            return list(read.events)


@dataclass(frozen=True)
class Replayed:
    """What a replay gives."""

    events: list[Event]
    replies: list[tuple[float, Reply]]
    """Each with its time on the recording, in seconds."""


class _Replies:
    """An observer that keeps the replies."""

    def __init__(self) -> None:
        self.replies: list[tuple[float, Reply]] = []

    def partial(self, *_: object) -> None:
        """Keep nothing."""

    heard = stored = unspoken = partial

    def replied(self, at: float, reply: Reply) -> None:
        """Keep it."""
        self.replies.append((at, reply))


def replay(materials: Materials) -> Replayed:
    """Run the recording without real time."""
    seen = _Replies()
    with tempfile.TemporaryDirectory() as folder:
        case = Case(materials, Path(folder))
        room = case.room(observers=[seen])
        room.open()
        room.run(open_input(materials.recording, "embedded").stream(None, lambda _: None))
        return Replayed(case.events(), seen.replies)


def plain(event: Event) -> dict[str, Any]:
    """Give an event without its times."""
    values = event.model_dump(mode="json")
    return {key: value for key, value in values.items() if key not in TIMES}


def difference(live: Sequence[Event], replayed: Sequence[Event]) -> str | None:
    """Name the first event that is not that of a replay, or None; times and sound apart."""
    first = [plain(event) for event in live if event.kind not in SOUND]
    second = [plain(event) for event in replayed if event.kind not in SOUND]
    for place, (one, other) in enumerate(zip_longest(first, second)):
        if one != other:
            return f"event {place}: live {one}, in the replay {other}"
    return None
