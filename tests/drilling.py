"""Drills in typed words: a student without a voice, and a clock that is only a number."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from voicecount.drill.attempt import Said
from voicecount.drill.lines import Speech
from voicecount.drill.model import Drill
from voicecount.drill.session import Limits, Session
from voicecount.drill.vocabulary import vocabulary
from voicecount.hear.heard import Heard, Outcome
from voicecount.hear.port import still_open
from voicecount.hear.typed import TypedRecogniser
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.sound.frame import Utterance
from voicecount.words.grammar import build_grammar

SHEET = Sheet.model_validate(
    {
        "title": "A small table",
        "items": [
            {"id": "gauze", "group": "sponges", "say": ["gauze"], "pack": 10},
            {"id": "lap_sponge", "group": "sponges", "say": ["lap sponge"]},
            {"id": "needle", "group": "sharps", "say": ["suture needle"], "stated": True},
            {"id": "clip", "group": "instruments", "say": ["towel clip"]},
        ],
    }
)
"""Invented for these tests."""

SPEAKING = 1.0
"""Seconds that the partner takes for whatever it says."""
A_WORD = 0.5


def drill(*table: tuple[Any, ...], task: str = "first_count", **more: Any) -> Drill:
    """Give a drill: lines as (item, number) or (item, number, place)."""
    names = ("item", "number", "place")
    return Drill.model_validate(
        {
            "title": "A drill",
            "level": 1,
            "task": task,
            "sheet": "small.sheet.yaml",
            "about": "A table.",
            "goal": "To try it.",
            "table": [dict(zip(names, line, strict=False)) for line in table],
            **more,
        }
    )


@dataclass
class Practice:
    """A session with a student who types; keeps what the partner says, and when."""

    drill: Drill
    limits: Limits = field(default_factory=Limits)
    now: float = 0.0
    spoken: list[Said] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.grammar = build_grammar(SHEET, vocabulary(self.drill, SHEET))
        self.session = Session(self.drill, SHEET, limits=self.limits, grammar=self.grammar)
        self._typed = TypedRecogniser()
        self._speak(self.session.begin())

    @property
    def words(self) -> list[str]:
        """Everything that the partner said after the scene."""
        return [said.words for said in self.spoken[1:]]

    @property
    def cues(self) -> list[str]:
        """The ids of that."""
        return [said.cue for said in self.spoken[1:]]

    def say(self, text: str) -> list[str]:
        """Say something without a pause; gives what the partner says to it at once."""
        begun = self.now
        self.now += A_WORD * len(text.split())
        heard = self._typed.understand(text, self.grammar, start=begun, end=self.now)
        return self._speak(self.session.heard(heard))

    def so_far(self, text: str) -> list[str]:
        """Be in the middle of an utterance; gives what the partner says into it."""
        at = self.now + A_WORD * len(text.split())
        open_ = Utterance(0, self.now, at, None, self.now)  # type: ignore[arg-type]
        before, self.now = self.now, at
        told = self._speak(self.session.partial(still_open(open_, text)))
        self.now = self.now if told else before
        return told

    def mumble(self, reason: Reason = Reason.WEAK_MATCH, seconds: float = 1.0) -> list[str]:
        """Say something that is not understood."""
        begun = self.now
        self.now += seconds
        return self._speak(
            self.session.heard(Heard(0, begun, self.now, Outcome.UNSURE, None, "", reason=reason))
        )

    def doubtful(self, text: str, reason: Reason) -> list[str]:
        """Say something that is understood, and that the recogniser is not sure of."""
        begun = self.now
        self.now += A_WORD
        heard = self._typed.understand(text, self.grammar, start=begun, end=self.now)
        return self._speak(
            self.session.heard(replace(heard, outcome=Outcome.UNSURE, reason=reason))
        )

    def wait(self, seconds: float) -> list[str]:
        """Say nothing; gives what the partner says meanwhile."""
        return [words for _, words in self._waited(seconds)]

    def _waited(self, seconds: float) -> Iterator[tuple[float, str]]:
        until = self.now + seconds
        while self.now < until:
            self.now = round(self.now + 0.1, 3)
            for words in self._speak(self.session.tick(self.now)):
                yield self.now, words

    def _speak(self, speeches: "tuple[Speech, ...]") -> list[str]:
        for speech in speeches:
            said = Said(speech.cue, speech.words, self.now, self.now + SPEAKING)
            self.now += SPEAKING
            self.spoken.append(said)
            self.session.said(said)
        return [speech.words for speech in speeches]
