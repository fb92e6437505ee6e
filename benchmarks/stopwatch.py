"""How late a live room answers: an observer that keeps the seconds, and how they are shown."""

import json
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from voicecount.count.events import Event
from voicecount.count.roles import Role
from voicecount.errors import VoiceError
from voicecount.hear.heard import Heard
from voicecount.sound.moments import Moment, Partial
from voicecount.speak.port import Clip, Speaker
from voicecount.talk.reply import Reply

AFTER_WORDS = "right after an utterance"
AFTER_TIME = "after a deadline"
OTHER = "before anybody spoke, or after the end"
_SAME = 1e-6
"""Seconds between two times that are one."""


@dataclass
class Answer:
    """One reply. Times are seconds of the stream; None where nothing came."""

    kind: str
    """What it followed: AFTER_WORDS, AFTER_TIME or OTHER."""
    reply: str
    """The kind of the reply."""
    due: float
    """The end of speech, or the end of the time that the line stayed open."""
    ended: float
    """The end of the speech before it."""
    text: str
    decided: float
    """When the room knew what to say."""
    sound: float | None = None
    """When its first sound was handed to the loudspeaker: the tone, where there is one."""
    words: float | None = None
    """When its words were."""
    clock: float = 0.0
    """The monotonic clock, in seconds, when the first sound was handed over."""
    unspoken: bool = False


@dataclass
class Stopwatch:
    """An observer, and a speaker before another one, that keep how late everything came.

    ``now`` gives the stream's time in seconds, ``clock`` that of a monotonic clock.
    """

    now: Callable[[], float]
    clock: Callable[[], float]
    answers: list[Answer] = field(default_factory=list)
    behind: list[float] = field(default_factory=list)
    """Seconds that shown words lag behind a voice that goes on."""
    whole: list[float] = field(default_factory=list)
    """Seconds from the end of speech to the words of an utterance that is taken to be whole."""
    load: list[float] = field(default_factory=list)
    """The machine's load, at every answer."""
    speaker: Speaker | None = None
    """Where clips go on to; None where they are passed over."""
    _whole: bool = False
    _ended: float = -1.0
    _over: bool = False
    _tone: float | None = None

    def moments(self, stream: Iterator[Moment]) -> Iterator[Moment]:
        """Give a stream's moments, and remember of which kind the one in hand is."""
        for moment in stream:
            self._whole = isinstance(moment, Partial) and moment.whole
            yield moment
        self._over = True

    def partial(self, heard: Heard, _role: Role | None) -> None:
        """Keep how far the words shown lag behind the voice they are of."""
        (self.whole if self._whole else self.behind).append(self.now() - heard.end)

    def heard(self, heard: Heard, _role: Role | None) -> None:
        """Keep when somebody's speech ended."""
        self._ended = heard.end

    def stored(self, event: Event) -> None:
        """Keep nothing."""

    def replied(self, at: float, reply: Reply) -> None:
        """Keep when an answer was due."""
        kind = AFTER_WORDS if abs(at - self._ended) < _SAME else AFTER_TIME
        if self._ended < 0.0 or self._over:
            kind = OTHER
        self.answers.append(Answer(kind, reply.kind.value, at, self._ended, reply.text, self.now()))
        self.load.append(os.getloadavg()[0])
        self._tone = None

    def unspoken(self, _at: float, _reply: Reply, _error: VoiceError) -> None:
        """Keep that people had to read it."""
        self.answers[-1].unspoken = True

    def play(self, clip: Clip) -> None:
        """Keep when an answer's sound begins, then its words; a tone that is not played counts."""
        answer = self.answers[-1]
        if answer.sound is None:
            answer.sound, answer.clock = self.now(), self.clock()
            self._tone = clip.seconds
            answer.words = answer.sound  # until words follow
        elif self.speaker is None and self._tone is not None:
            answer.words = self.now() + self._tone
        else:
            answer.words = self.now()
        if self.speaker is not None:
            self.speaker.play(clip)

    def late(self, kind: str, of: str) -> list[float]:
        """Give the seconds from due to ``decided``, ``sound`` or ``words`` of one kind."""
        chosen = [answer for answer in self.answers if answer.kind == kind]
        values = [(answer.due, getattr(answer, of)) for answer in chosen]
        return [then - due for due, then in values if then is not None]


@dataclass
class Figures:
    """What a run found: one line each for people, one object for a program."""

    name: str
    delays: dict[str, list[float]] = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)
    heard: dict[str, Any] = field(default_factory=dict)
    """What was heard outside the room, for the file only."""

    def take(self, watch: Stopwatch) -> None:
        """Take what a stopwatch kept."""
        for kind in (AFTER_WORDS, AFTER_TIME):
            self.delays[f"{kind}, until decided"] = watch.late(kind, "decided")
            self.delays[f"{kind}, until the first sound"] = watch.late(kind, "sound")
            self.delays[f"{kind}, until the words"] = watch.late(kind, "words")
        self.delays["partial answers behind a voice that goes on"] = watch.behind
        self.delays["whole utterance shown after its end"] = watch.whole
        self.facts["processors"] = os.cpu_count()
        self.facts["load, median and most"] = [
            round(float(value), 2)
            for value in ((np.median(watch.load), max(watch.load)) if watch.load else ())
        ]

    def show(self) -> None:
        """Print everything."""
        print(f"\n{self.name}\n")
        print("| seconds | median | 95th percentile | most | n |\n|---|---|---|---|---|")
        for name, values in self.delays.items():
            print(f"| {name} | {row(values)} |")
        print()
        for name, value in self.facts.items():
            print(f"{name}: {value}")

    def write(self, path: Path, watch: Stopwatch | None = None) -> None:
        """Write everything as JSON, each answer as well."""
        data: dict[str, Any] = asdict(self)
        data["summary"] = {name: summary(values) for name, values in self.delays.items()}
        if watch is not None:
            data["answers"] = [asdict(answer) for answer in watch.answers]
        path.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")


def summary(values: Sequence[float]) -> dict[str, float]:
    """Give median, 95th percentile, most and n."""
    if not values:
        return {"n": 0}
    return {
        "median": round(float(np.median(values)), 3),
        "p95": round(float(np.percentile(values, 95)), 3),
        "most": round(max(values), 3),
        "n": len(values),
    }


def row(values: Sequence[float]) -> str:
    """Give the same as cells of a table."""
    found = summary(values)
    if not values:
        return "- | - | - | 0"
    return f"{found['median']:.2f} | {found['p95']:.2f} | {found['most']:.2f} | {found['n']}"
