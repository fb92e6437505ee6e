"""A case in real time through a virtual sound card: microphone, loudspeaker and all between them.

    python -m benchmarks.live_card grammars/caesarean.yaml audio_fixtures/caesarean.flac
    python -m benchmarks.live_card SHEET RECORDING --echo -10

As ``benchmarks.live_room``, but through the sound system: PulseAudio with two sinks of no hardware
(Debian: pulseaudio pulseaudio-utils libportaudio2 libasound2-plugins). The recording's people
(``tests/virtual_people.py``, a process of its own) are played into the one whose monitor is the
microphone; the assistant's voice goes into the other, through the half duplex of a real room, and
people stand still while they hear it. With ``--echo`` it also comes back into the microphone, so
much weaker. "As heard" is measured outside the room, from the monitors of both sinks: from the end
of somebody's voice to the first sound of the answer.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import soundfile

from benchmarks.live_case import Case, Materials, Replayed, difference, replay
from benchmarks.stopwatch import AFTER_TIME, AFTER_WORDS, Answer, Figures, Stopwatch
from tests.virtual_card import SINKS, VirtualCard
from tests.virtual_people import BEFORE, words
from voicecount.commands.ears import Ears, Wanted, open_ears
from voicecount.commands.run import PARTIAL_SECONDS
from voicecount.count.events import Event
from voicecount.keep.clock import StoppableClock, SystemClock
from voicecount.keep.settings import Settings
from voicecount.live import Note, noted, told_to_stop
from voicecount.room import Observer, Room
from voicecount.sound.moments import Moment, Quiet, moments
from voicecount.speak.ahead import AheadVoice
from voicecount.speak.choose import choose_voice
from voicecount.speak.port import Voice
from voicecount.words.commands import COMMANDS, HUSH
from voicecount.words.vocabulary import Vocabulary

LOUDSPEAKER, MICROPHONE = SINKS
PLAYED_RATE = 48_000
_LONGEST = 3600.0
"""Seconds after which people who do not end hang."""
_AFTER_END = 4.0
"""Seconds that are listened to after the recording's end."""
_ONSET = (-0.1, 2.0)
"""Seconds around its hand-over in which the first sound of an answer is heard."""
_PEOPLE = Path(__file__).parent.parent / "tests/virtual_people.py"


class People:
    """The process of the recording's people."""

    def __init__(self, card: VirtualCard, recording: Path, waits: Sequence[float]) -> None:
        given = {
            "recording": str(recording.resolve()),
            "rate": PLAYED_RATE,
            "microphone": MICROPHONE,
            "loudspeaker": LOUDSPEAKER,
            "waits": list(waits),
        }
        self._process = subprocess.Popen(
            [sys.executable, str(_PEOPLE), json.dumps(given)],
            env=card.environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.ended = threading.Event()
        self._lines: list[str] = []
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def begin(self) -> None:
        """Let the recording begin."""
        if self._process.stdin is not None:
            self._process.stdin.write("begin\n")
            self._process.stdin.flush()

    def close(self) -> dict[str, Any]:
        """End it, and give what was heard in the room."""
        if self._process.stdin is not None:
            self._process.stdin.close()
        self._reader.join(10.0)
        self._process.wait(10.0)
        found = json.loads(self._lines[-1])
        assert isinstance(found, dict)  # noqa: S101 - for the types
        return found

    def _read(self) -> None:
        for line in self._process.stdout or ():
            self._lines.append(line)
            if line.strip() == "end":
                self.ended.set()


class OnCard:
    """A case that is run on a virtual card; ``before`` are observers that come first."""

    def __init__(self, materials: Materials, folder: Path, card: VirtualCard) -> None:
        self._materials = materials
        self._folder = folder
        self._card = card
        self.found: dict[str, Any] = {}
        """What the people's process heard."""
        self.watch: Stopwatch | None = None
        self.ears: Ears | None = None

    def run(
        self,
        replayed: Replayed,
        *,
        observers: Iterable[Observer] = (),
        echo: float | None = None,
    ) -> list[Event]:
        """Run it to the recording's end and give the events of its journal."""
        os.environ.update(self._card.environment)
        clock = StoppableClock(SystemClock())
        voice = choose_voice("embedded", together=self._materials.sheet.ways, announce=print)
        people = People(
            self._card, self._materials.recording, waits(self._materials.recording, replayed)
        )
        if echo is not None:
            give_back(self._card, echo)
        try:
            return self._listen(people, clock, voice, observers)
        finally:
            if self.ears is not None:
                self.ears.source.close()
            self.found = people.close()

    def _listen(
        self,
        people: People,
        clock: StoppableClock,
        voice: Voice | None,
        observers: Iterable[Observer],
    ) -> list[Event]:
        notes: deque[Note] = deque()
        grammars = self._materials.grammars
        stops = told_to_stop(self._materials.recogniser, grammars(Vocabulary((*COMMANDS, HUSH))))
        wanted = Wanted((f"{MICROPHONE}_microphone",), f"{LOUDSPEAKER}_loudspeaker")
        ears = open_ears(wanted, Settings(), clock=clock, notes=notes, stops=stops, voice=voice)
        self.ears = ears
        watch = Stopwatch(ears.source.now, clock.monotonic, speaker=ears.speaker)
        self.watch = watch
        case = Case(self._materials, self._folder)
        ahead = AheadVoice(voice) if voice is not None else None
        room = case.room(
            voice=ahead,
            ahead=ahead.prepare if ahead is not None else None,
            speaker=watch,
            observers=[watch, *observers],
            meanwhile=ears.take_noticed,
            heard_from=ears.heard_from,
        )
        people.begin()
        room.open()
        stream = moments(ears.frames, partial_every=PARTIAL_SECONDS, now=ears.source.now)
        live = to_the_end(noted(stream, [notes], _keeper(room)), people, ears.source.now)
        room.run(watch.moments(live), until=lambda: case.dialogue.ledger.closed)
        return case.events()


def to_the_end(
    stream: Iterator[Moment], people: People, now: Callable[[], float]
) -> Iterator[Moment]:
    """Give a stream's moments until some seconds after the recording's end.

    By the stream's time, so that a room that is behind hears the last words, too. SystemExit when
    the recording does not end at all.
    """
    end: float | None = None
    limit = time.monotonic() + _LONGEST
    for moment in stream:
        yield moment
        if time.monotonic() > limit:
            raise SystemExit("the people of the recording hang; is the sound system still there?")
        if people.ended.is_set() and end is None:
            end = now() + _AFTER_END
        if end is not None and isinstance(moment, Quiet) and moment.until > end:
            return


def _keeper(room: Room) -> Callable[[Note], None]:
    def keep(note: Note) -> None:
        room.note(note.event, note.reply)

    return keep


def waits(recording: Path, replayed: Replayed) -> list[float]:
    """Give the times of the recording at which people wait for an answer, as they know by habit.

    One between two stretches of words where the replay answers between them, and one before all.
    """
    sound, rate = soundfile.read(recording, dtype="float32", always_2d=True)
    said = [(begin / rate, end / rate) for begin, end in words(sound, rate)]
    found = []
    last = -1.0
    for begin, end in said:
        if any(last - BEFORE <= at < begin for at, _ in replayed.replies):
            found.append(max(0.0, begin - BEFORE))
        last = end
    return found


def give_back(card: VirtualCard, level: float) -> None:
    """Let the loudspeaker be heard in the microphone, ``level`` dB louder (negative: weaker)."""
    pactl = ["pactl"]
    subprocess.run(
        [
            *(*pactl, "load-module", "module-loopback", f"source={LOUDSPEAKER}.monitor"),
            *(f"sink={MICROPHONE}", "latency_msec=60", "sink_input_properties=media.name=echo"),
        ],
        env=card.environment,
        check=True,
        capture_output=True,
    )
    listed = subprocess.run(
        [*pactl, "list", "sink-inputs"],
        env=card.environment,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    for block in listed.split("Sink Input #")[1:]:
        if 'media.name = "echo"' in block:
            number = block.split(None, 1)[0]
            subprocess.run(
                [*pactl, "set-sink-input-volume", number, f"{level}dB"],
                env=card.environment,
                check=True,
            )
            return
    raise RuntimeError("the sound system has no echo")


def as_heard(answers: Iterable[Answer], found: dict[str, Any], kind: str) -> list[float]:
    """Give the seconds from due to the first sound of each answer, both heard outside the room."""
    delays = []
    for answer in answers:
        if answer.kind != kind or answer.sound is None:
            continue
        first, last = (answer.clock + seconds for seconds in _ONSET)
        begins = [begin for begin, _ in found["assistant"] if first <= begin <= last]
        ends = [end for _, end in found["people"] if begins and end < begins[0]]
        if ends:
            delays.append(begins[0] - ends[-1] - (answer.due - answer.ended))
    return delays


def main() -> None:
    """Run in real time and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sheet", type=Path)
    parser.add_argument("recording", type=Path)
    parser.add_argument("--echo", type=float, metavar="DB")
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    materials = Materials.load(given.sheet, given.recording)
    replayed = replay(materials)
    with tempfile.TemporaryDirectory() as folder:
        card = VirtualCard(Path(folder), SINKS)
        try:
            card.start()
            run = OnCard(materials, Path(folder), card)
            events = run.run(replayed, echo=given.echo)
        finally:
            card.close()
    figures = Figures(f"{given.recording.name} through a virtual sound card")
    if run.watch is not None and run.ears is not None:
        figures.take(run.watch)
        if given.echo is None:
            for kind in (AFTER_WORDS, AFTER_TIME):
                name = f"{kind}, as heard"
                figures.delays[name] = as_heard(run.watch.answers, run.found, kind)
        account = run.ears.source.account
        figures.facts |= {
            "sound missing, seconds": round(account.missing, 3),
            "losses": str(getattr(account, "times", "")),
            "answers": len(run.watch.answers),
            "answers that were not spoken": sum(one.unspoken for one in run.watch.answers),
            "people interrupted": run.found["interrupted"],
            "people who got no answer": run.found["unanswered"],
            "room": str(run.ears.room),
        }
    figures.facts["echo, dB"] = given.echo
    figures.heard = run.found
    figures.facts["events live and in a replay"] = [len(events), len(replayed.events)]
    figures.facts["first difference"] = difference(events, replayed.events)
    figures.show()
    if given.json is not None:
        figures.write(given.json, run.watch)


if __name__ == "__main__":
    main()
