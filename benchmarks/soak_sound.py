"""The sound of an operating room for hours: people talk, machines make noise, now and then a count.

    acts ──▶ clips on two channels ──▶ noise under them ──▶ blocks of a device that can be away

It is made while it is heard, so that nothing of the hours is kept; the same seed gives the same
room, apart from what people say again because they were not understood.
"""

import multiprocessing
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from benchmarks.hours_talk import HOURS_TALK
from benchmarks.phrases import talk
from benchmarks.room_talk import MORE_TALK
from benchmarks.rooms import MAKERS
from benchmarks.speakers import VOICES
from voicecount.sound.capture import BLOCK_SECONDS, Deliver
from voicecount.sound.frame import RATE
from voicecount.sound.portaudio import DeviceError

Sound = NDArray[np.float32]

NOISES = ("quiet", "pink 25 dB", "suction 20 dB", "music 20 dB", "pink 15 dB")
"""What lies under the voices, changed every few minutes: kind, and how far below them."""
VOICE_DB = -20.0
FAR_DB = (-6.0, -26.0)
"""Talk comes from all over the room, so much below the people at their microphones."""
_LEAK = 10 ** (-22 / 20)
_NOISE_SECONDS = 30
AHEAD_SECONDS = 4.0
"""So much sound is made ahead in real time; the team's answers are known so much later."""
_GAP = (0.6, 12.0)
_SILENCE = (300.0, 900.0)
"""Seconds without a word between two rounds: most of an operation is quiet."""


@dataclass(frozen=True)
class Said:
    """A stretch of speech, as it was really said."""

    start: float
    end: float
    """Seconds of the device's own time."""
    channel: int
    text: str
    scripted: bool
    """Whether it belongs to the count; else it is talk, meant for nobody."""
    inside: bool
    """Whether a count was open."""


@dataclass(frozen=True)
class Line:
    """Something that the team says, and the kind of event that has to come of it."""

    channel: int
    text: str
    event: str


OPENING = (
    *(
        (0, "Lap sponges, one, two, three, four, five.", "line_stored"),
        (1, "Five.", "line_confirmed"),
    ),
    *((0, "Suture needles, total four.", "line_stored"), (1, "Four.", "line_confirmed")),
    *((0, "Skin blades, one, two.", "line_stored"), (1, "Two.", "line_confirmed")),
    *((0, "Cautery tip, one.", "line_stored"), (1, "One.", "line_confirmed")),
    *((0, "Kelly clamps, one, two, three, four.", "line_stored"), (1, "Four.", "line_confirmed")),
    (0, "The count is finished.", "count_finished"),
)
ROUND = (
    (0, "Add to the count.", "count_opened"),
    *(
        (0, "Lap sponges, one, two, three, four, five.", "line_stored"),
        (1, "Five.", "line_confirmed"),
    ),
    *((0, "Suture needles, total two.", "line_stored"), (1, "Two.", "line_confirmed")),
    *((0, "Stand by please.", "stood_by"), (0, "Carry on counting.", "carried_on")),
    (0, "The count is finished.", "count_finished"),
)
TALK_BEFORE = {"suture needles, total two.", "carry on counting."}
"""Lines of a round before which there is talk, so that it is heard inside an open count."""
TRIES = 3
"""How often the team says a line until it gives up."""
ANSWER_SECONDS = 7.0
"""How long it waits for what has to come of it."""


class Room:
    """What is heard, second by second. ``happened`` tells how many events of a kind there are."""

    def __init__(self, seed: int, happened: Callable[[str], int]) -> None:
        self._rng = np.random.default_rng(seed)
        self._happened = happened
        self._people = ["pico en-US", "mbrola us2"]
        self._others = [name for name in VOICES["test"] if name not in self._people]
        # Elsewhere, so that what their models need is not taken for the assistant's.
        self._speakers = ProcessPoolExecutor(1, multiprocessing.get_context("spawn"))
        self._sentences = [one.text for one in talk("test")] + MORE_TALK["test"] + list(HOURS_TALK)
        self._noise = _noise("quiet", self._rng)
        self._noise_at = 0
        self._inside = False
        self.now = 0.0
        """Seconds of sound that were made."""
        self.said: deque[Said] = deque(maxlen=400)
        self.tried = 0
        self.given_up = 0
        self.talk_seconds = {False: 0.0, True: 0.0}
        """Of the stretches with talk, outside and inside a count."""

    def sound(self) -> Iterator[Sound]:
        """Give the sound piece by piece, each shape (n, 2), without end."""
        yield from self._silence(3.0)
        self._inside = True
        yield from self._team(OPENING)
        while True:
            self._change_noise()
            self._inside = False
            yield from self._talk(float(self._rng.uniform(60, 240)))
            yield from self._silence(float(self._rng.uniform(*_SILENCE)))
            yield from self._team(ROUND)

    def _team(self, lines: tuple[tuple[int, str, str], ...]) -> Iterator[Sound]:
        for line in (Line(*one) for one in lines):
            if line.text.lower() in TALK_BEFORE:
                yield from self._talk(float(self._rng.uniform(20, 90)))
            yield from self._insist(line)
            opened = self._inside or line.event == "count_opened"
            self._inside = opened and line.event != "count_finished"

    def _insist(self, line: Line) -> Iterator[Sound]:
        """Say a line until what has to come of it has come."""
        before = self._happened(line.event)
        for _ in range(TRIES):
            self.tried += 1
            yield from self._say(line.text, line.channel, self._people[line.channel], 0.0, True)
            waited = 0.0
            while waited < ANSWER_SECONDS and self._happened(line.event) == before:
                yield from self._silence(0.5)
                waited += 0.5
            yield from self._silence(1.0)
            if self._happened(line.event) > before:
                return
        self.given_up += 1

    def _talk(self, seconds: float) -> Iterator[Sound]:
        end = self.now + seconds
        while self.now < end:
            begun = self.now
            voice = self._others[int(self._rng.integers(len(self._others)))]
            text = self._sentences[int(self._rng.integers(len(self._sentences)))]
            near = self._rng.random() < 0.4
            gain = (
                float(self._rng.uniform(-4.0, 2.0))
                if near
                else float(self._rng.uniform(*FAR_DB[::-1]))
            )
            yield from self._say(text + ".", int(self._rng.integers(2)), voice, gain, False)
            yield from self._silence(float(self._rng.uniform(*_GAP)))
            self.talk_seconds[self._inside] += self.now - begun

    def _say(
        self,
        text: str,
        channel: int,
        voice: str,
        gain: float,
        scripted: bool,
    ) -> Iterator[Sound]:
        pace = round(float(self._rng.uniform(0.9, 1.15)), 2)
        spoken = self._speakers.submit(spoken_by, voice, text, pace).result()
        level = 10 ** ((VOICE_DB + gain) / 20) / max(_loud(spoken), 1e-4)
        both = np.zeros((len(spoken), 2), np.float32)
        # Far talk is about as loud on both; whoever wears a microphone leaks into the other one.
        other = _LEAK if scripted or gain > FAR_DB[0] else 0.8
        both[:, channel] = level * spoken
        both[:, 1 - channel] = other * level * spoken
        start = self.now
        self.said.append(
            Said(start, start + len(spoken) / RATE, channel, text, scripted, self._inside)
        )
        yield self._with_noise(both)

    def _silence(self, seconds: float) -> Iterator[Sound]:
        left = round(seconds * RATE)
        while left > 0:
            size = min(left, 2 * RATE)
            yield self._with_noise(np.zeros((size, 2), np.float32))
            left -= size

    def _with_noise(self, sound: Sound) -> Sound:
        self.now += len(sound) / RATE
        taken = np.arange(self._noise_at, self._noise_at + len(sound)) % len(self._noise)
        self._noise_at += len(sound)
        return np.clip(sound + self._noise[taken], -1.0, 1.0)

    def _change_noise(self) -> None:
        name = NOISES[int(self._rng.integers(len(NOISES)))]
        self._noise = _noise(name, self._rng)
        self._noise_at = 0


def spoken_by(voice: str, text: str, pace: float) -> Sound:
    """Give what one of the test part's voices says."""
    return VOICES["test"][voice](text, pace)


def _loud(sound: Sound) -> float:
    """Give the amplitude of the loud parts."""
    steps = sound[: len(sound) // 320 * 320].reshape(-1, 320)
    return float(np.sqrt(np.percentile(np.square(steps).mean(1), 95)))


def _noise(name: str, rng: Generator) -> Sound:
    size = _NOISE_SECONDS * RATE
    floor = rng.normal(0, 10 ** (-62 / 20), (size, 2))
    if name == "quiet":
        return floor.astype(np.float32)
    kind, level, _ = name.split()
    made = np.asarray(MAKERS["test"][kind](size, rng), np.float64)
    made *= 10 ** ((VOICE_DB - float(level)) / 20) / made.std()
    fade = np.minimum(1.0, np.minimum(np.arange(size), np.arange(size)[::-1]) / RATE)
    return np.asarray(floor + (made * fade)[:, np.newaxis], np.float32)


class SoakCapture:
    """A device of two channels that delivers a room's sound as a clock passes, and has faults.

    About every 20 minutes it is away for some seconds, and about every 10 it loses some sound and
    says so. What it gave and what it lost is counted here, independently of the reader.
    """

    def __init__(self, room: Room, hours: float, seed: int) -> None:
        self.rate = RATE
        self.channels = 2
        self.given = 0
        """Samples that were handed over."""
        self.lost = 0
        """Samples that were lost while it was open."""
        self.away = 0
        """Samples that passed while it was away."""
        self._room = room
        self._pieces = room.sound()
        self._ready: deque[Sound] = deque()
        self._by_another = False
        self._rest = np.zeros((0, 2), np.float32)
        self._rng = np.random.default_rng(seed + 1)
        self._total = round(hours * 3600 * RATE)
        self._done = 0
        self._born: float | None = None
        self._deliver: Deliver | None = None
        self._away_until = 0
        self._next_away = self._in_about(1200)
        self._next_loss = self._in_about(600)
        self._losing = 0
        self._overflow = False

    @property
    def ended(self) -> bool:
        """Whether the hours are over."""
        return self._done >= self._total

    @property
    def seconds(self) -> float:
        """Seconds of the device's own time that have passed."""
        return self._done / RATE

    def opener(self) -> "SoakCapture":
        """Open it; DeviceError while it is away."""
        if self._done < self._away_until:
            raise DeviceError("the device is away; wait")
        return self

    def start(self, deliver: Deliver) -> None:
        """Deliver from now on."""
        self._deliver = deliver

    def close(self) -> None:
        """Deliver nothing more."""
        self._deliver = None

    def make_ahead(self) -> None:
        """Make sound until some seconds are ready, from one thread that does nothing else.

        A voice that is made while it is due would come late, as from a device that fails.
        """
        self._by_another = True
        while sum(map(len, self._ready)) < AHEAD_SECONDS * RATE:
            self._ready.append(next(self._pieces))

    def deliver_until(self, now: float) -> None:
        """Let time pass up to a time of the clock."""
        if self._born is None:
            self._born = now
        size = round(BLOCK_SECONDS * RATE)
        while not self.ended and self._born + (self._done + size) / RATE <= now + 1e-9:
            block = self._take(size)
            if block is None:
                return
            self._give(block)

    def _give(self, block: Sound) -> None:
        self._done += len(block)
        at = (self._born or 0.0) + self._done / RATE
        if self._done >= self._next_away:
            self._away_until = self._done + round(float(self._rng.uniform(2, 5)) * RATE)
            self._next_away = self._in_about(1200)
            self._deliver = None
        if self._deliver is None:
            self.away += len(block)
            return
        if self._done >= self._next_loss:
            self._losing = self._done + round(float(self._rng.uniform(0.1, 0.5)) * RATE)
            self._next_loss = self._in_about(600)
        if self._done < self._losing:
            self.lost += len(block)
            self._overflow = True
            return
        self.given += len(block)
        overflow, self._overflow = self._overflow, False
        self._deliver(block, overflow, at)

    def _take(self, size: int) -> Sound | None:
        while len(self._rest) < size:
            if self._by_another and not self._ready:
                return None
            piece = self._ready.popleft() if self._by_another else next(self._pieces)
            self._rest = np.concatenate((self._rest, piece))
        block, self._rest = self._rest[:size], self._rest[size:]
        return np.ascontiguousarray(block)

    def _in_about(self, seconds: float) -> int:
        return self._done + round(float(self._rng.uniform(0.5, 1.5)) * seconds * RATE)
