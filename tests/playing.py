"""Typed scripts for the dialogue: "scrub: gauze, one, two", "circ: two".

A line waits until the call in hand is over, except after "+": then it follows at once. "scrub?:" is
not understood for sure, and "scrub??:" not at all. "one: …" comes from a single channel. "(wait)"
lets time pass, "(finish)" ends the sound.
"""

from dataclasses import dataclass, field, replace
from typing import Any, Self

from voicecount.count.events import Event
from voicecount.count.ledger import Ledger, fold
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.count.tally import State
from voicecount.hear.heard import Heard, Outcome
from voicecount.hear.typed import TypedRecogniser
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply, Step
from voicecount.words.grammar import Grammar, build_grammar
from voicecount.words.vocabulary import Vocabulary

WHO = {"scrub": (0, Role.SCRUB), "circ": (1, Role.CIRCULATOR), "one": (0, None)}


def sheet_of(*items: dict[str, Any], **more: Any) -> Sheet:
    """Make a sheet of items; a say and a group are filled in."""
    lines = [{"say": [item["id"].replace("-", " ")], "group": "sponges", **item} for item in items]
    return Sheet.model_validate({"title": "A test", "items": lines, **more})


@dataclass
class Play:
    """A dialogue being played; its replies and events so far."""

    sheet: Sheet
    told_apart: bool = True
    ledger_before: Ledger | None = None
    now: float = 0.0
    events: list[Event] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.grammars: dict[Vocabulary, Grammar] = {}
        self.dialogue = Dialogue(self.sheet, told_apart=self.told_apart, ledger=self.ledger_before)
        self.spoken: list[Reply] = []
        if self.ledger_before is None:
            opened = open_case(
                self.sheet,
                at=0.0,
                software="test",
                recogniser="typed",
                voice="none",
                told_apart=self.told_apart,
            )
            self.take(Step((opened,)))
        else:
            self.spoken.append(self.dialogue.opening())

    def take(self, step: Step) -> None:
        """Store a step's events and say what is to be said."""
        assert not (step.events and step.reply)
        reply = self.dialogue.commit(step.events) if step.events else step.reply
        self.events += step.events
        if reply is not None:
            self.spoken.append(reply)

    def go(self, *script: str) -> Self:
        """Play some lines."""
        for line in script:
            self.line(line)
        return self

    def line(self, line: str) -> None:
        """Play one line."""
        if not line.startswith("+"):
            self.wait()
        if line == "(finish)":
            self.take(self.dialogue.finish(self.now))
        elif line != "(wait)":
            self.say(line.removeprefix("+"))

    def say(self, line: str) -> None:
        """Hear one utterance."""
        who, _, text = line.partition(":")
        channel, role = WHO[who.rstrip("?~")]
        start = self.now + 0.4
        self.now = start + 0.3 * len(text.split())
        vocabulary = self.dialogue.vocabulary
        grammar = self.grammars.setdefault(vocabulary, build_grammar(self.sheet, vocabulary))
        heard = TypedRecogniser().understand(
            text, grammar, channel=channel, start=start, end=self.now
        )
        if who.endswith("?"):
            meaning = None if who.endswith("??") else heard.meaning
            heard = Heard(
                channel, start, self.now, Outcome.UNSURE, meaning, text, reason=Reason.WEAK_MATCH
            )
        if who.endswith("~"):
            heard = replace(heard, outcome=Outcome.UNSURE, reason=Reason.SOUND_ALIKE)
        self.take(self.dialogue.hear(heard, role))

    def wait(self) -> None:
        """Let the call in hand be over."""
        deadline = self.dialogue.next_deadline
        if deadline is not None:
            self.now = max(self.now, deadline)
            self.take(self.dialogue.settle(self.now))

    @property
    def ledger(self) -> Ledger:
        """What stands; always the fold of the events."""
        if self.ledger_before is None:
            assert fold(self.events) == self.dialogue.ledger
        return self.dialogue.ledger

    @property
    def said(self) -> str:
        """The last words of the assistant."""
        return self.spoken[-1].text if self.spoken else ""

    @property
    def last(self) -> Reply:
        """The last reply of the assistant."""
        return self.spoken[-1]

    @property
    def texts(self) -> list[str]:
        """All words of the assistant."""
        return [reply.text for reply in self.spoken]

    @property
    def kinds(self) -> list[str]:
        """The kinds of all events after the opening."""
        return [event.kind for event in self.events[1:]]

    def counted(self, item: str) -> int | None:
        """What stands of an item."""
        return self.ledger.tally(item).counted

    def state(self, item: str) -> State:
        """How far an item has come."""
        return self.ledger.tally(item).state

    def flags(self, item: str) -> set[str]:
        """The flags of an item, as codes."""
        return {flag.value for flag in self.ledger.flags(item)}


def play(sheet: Sheet, *script: str, told_apart: bool = True) -> Play:
    """Play a script on a new case, and let the last call be over."""
    return Play(sheet, told_apart).go(*script, "(wait)")
