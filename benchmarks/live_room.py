"""How long people wait in a live room: a recording in real time through the whole of it.

    python -m benchmarks.live_room grammars/caesarean.yaml audio_fixtures/caesarean.flac

The recording stands in for the microphone at the speed of life and stands still while the assistant
would speak; the voice is made, and nothing is played. Printed are the seconds from the moment at
which an answer is due (the end of speech, or the end of the time that a line stays open for more
numbers) to the start of the spoken answer, how far partial answers lag behind the voice, frames
that are missing, and whether the events are those of a replay.
"""

import argparse
import os
import tempfile
from pathlib import Path

import numpy as np

from voicecount.commands.inputs import open_input, recogniser_for
from voicecount.commands.journals import CODEC
from voicecount.count.events import Event
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.errors import VoiceError
from voicecount.hear.heard import Heard
from voicecount.keep.clock import StoppableClock, SystemClock
from voicecount.keep.journal import Journal
from voicecount.room import NOT_TOLD_APART, TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.sound.device import DeviceSource
from voicecount.sound.moments import moments
from voicecount.sound.playback import FileCapture
from voicecount.speak.choose import choose_voice
from voicecount.speak.port import Clip
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply
from voicecount.words.grammar import build_grammar
from voicecount.words.grammars import Grammars


class Stopwatch:
    """An observer and a speaker that keep how late everything came."""

    def __init__(self, source: DeviceSource, clock: StoppableClock) -> None:
        self._source = source
        self._clock = clock
        self._due: float | None = None
        self.answers: list[float] = []
        self.partials: list[float] = []

    def partial(self, heard: Heard, _role: Role | None) -> None:
        """Keep how far a partial answer lags behind the voice it is of."""
        self.partials.append(self._source.now() - heard.end)

    def heard(self, heard: Heard, role: Role | None) -> None:
        """Keep nothing."""

    def stored(self, event: Event) -> None:
        """Keep nothing."""

    def replied(self, at: float, _reply: Reply) -> None:
        """Keep when the answer was due."""
        self._due = at

    def unspoken(self, _at: float, _reply: Reply, error: VoiceError) -> None:
        """Say so: the figures would not be true."""
        raise error

    def play(self, _clip: Clip) -> None:
        """Keep how late an answer begins: a tone before it, too."""
        if self._due is not None:
            self.answers.append(self._source.now() - self._due)
            self._due = None
        with self._clock.stopped():
            pass


def events_of_replay(sheet: Path, recording: Path) -> list[dict[str, object]]:
    """Give the events of the same recording without real time."""
    loaded = load_sheet(sheet)
    given = open_input(recording, "embedded")
    with tempfile.TemporaryDirectory() as folder:
        journal, dialogue = _case(loaded, Path(folder) / "replay.vcj", given.channels)
        room = Room(
            dialogue,
            journal,
            recogniser_for(given, "embedded", _grammars(loaded)(), loaded.policy),
            _grammars(loaded),
            roles=TOLD_APART if given.channels == len(TOLD_APART) else NOT_TOLD_APART,
        )
        room.open()
        room.run(given.stream(None, lambda _: None))
        journal.close()
        with Journal.open(Path(folder) / "replay.vcj", CODEC) as read:
            return [_without_times(event) for event in read.events]


def _grammars(sheet: Sheet) -> Grammars:
    return Grammars(lambda vocabulary: build_grammar(sheet, vocabulary))


def _case(sheet: Sheet, path: Path, channels: int) -> tuple[Journal[Event], Dialogue]:
    told_apart = channels == len(TOLD_APART)
    first = open_case(
        sheet,
        at=0.0,
        software="benchmark",
        recogniser="embedded",
        voice="embedded",
        told_apart=told_apart,
    )
    return Journal.create(path, first, CODEC), Dialogue(sheet, told_apart=told_apart)


def _without_times(event: Event) -> dict[str, object]:
    values = event.model_dump(mode="json")
    return {key: value for key, value in values.items() if key not in {"at", "start", "end"}}


def main() -> None:
    """Run in real time and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sheet", type=Path)
    parser.add_argument("recording", type=Path)
    given = parser.parse_args()
    sheet = load_sheet(given.sheet)
    clock = StoppableClock(SystemClock())
    capture = FileCapture(given.recording, clock)
    source = DeviceSource(lambda: capture, capture.channels, clock)
    watch = Stopwatch(source, clock)
    as_input = open_input(given.recording, "embedded")
    recogniser = recogniser_for(as_input, "embedded", _grammars(sheet)(), sheet.policy)
    voice = choose_voice("embedded", announce=print)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "live.vcj"
        journal, dialogue = _case(sheet, path, capture.channels)
        room = Room(
            dialogue,
            journal,
            recogniser,
            _grammars(sheet),
            roles=TOLD_APART if capture.channels == len(TOLD_APART) else NOT_TOLD_APART,
            voice=voice,
            speaker=watch,
            observers=[watch],
        )
        room.open()
        room.run(moments(source, partial_every=0.4, now=source.now))
        source.close()
        journal.close()
        with Journal.open(path, CODEC) as read:
            live = [_without_times(event) for event in read.events]
    told = {"answers": watch.answers[1:], "partials": watch.partials}
    for name, lags in told.items():
        print(
            f"{name}: median {np.median(lags):.2f} s, 95th percentile "
            f"{np.percentile(lags, 95):.2f} s, most {max(lags):.2f} s (n = {len(lags)})"
        )
    print(f"sound missing: {source.account.missing}")
    replay = events_of_replay(given.sheet, given.recording)
    print(f"events live {len(live)}, in a replay {len(replay)}, the same: {live == replay}")
    print(f"processors: {os.cpu_count()}, load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
