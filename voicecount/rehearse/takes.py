"""How it went: every saying with what was heard, and all that came of a rehearsal."""

from collections.abc import Callable
from dataclasses import dataclass, field

from voicecount.hear.heard import Outcome
from voicecount.rehearse.alike import Names, Pair
from voicecount.rehearse.ears import Answer
from voicecount.rehearse.learned import Learnt
from voicecount.rehearse.sayings import Saying
from voicecount.sheet.model import Sheet
from voicecount.sound.frame import Utterance
from voicecount.words.meaning import Meaning

Key = tuple[str, str]
"""A line and one of its names, singular, as the sheet writes it."""
Progress = Callable[[str, int, int], None]
"""What is being done, how many are done, how many there are in all."""


@dataclass
class Take:
    """One saying, and how it was heard before and after learning."""

    saying: Saying
    utterance: Utterance
    meaning: Meaning
    before: Answer
    after: Answer

    @property
    def right_before(self) -> bool:
        """Whether it was accepted and right before."""
        return is_right(self.before, self.meaning)

    @property
    def right_after(self) -> bool:
        """Whether it is accepted and right now."""
        return is_right(self.after, self.meaning)


def is_right(answer: Answer, meaning: Meaning) -> bool:
    """Tell whether an answer was accepted with the meaning that was said."""
    return answer.outcome is Outcome.ACCEPTED and answer.meaning == meaning


@dataclass
class Rehearsal:
    """What came of it."""

    sheet: Sheet
    names: Names
    pairs: list[Pair]
    takes: list[Take] = field(default_factory=list)
    learnt: tuple[Learnt, ...] = ()
    refused: dict[str, list[str]] = field(default_factory=dict)
    """By spoken name: candidates that were not kept, with the reason."""
    voices: tuple[str, ...] = ()
    seconds: float = 0.0

    def heard_as(self) -> dict[str, dict[str, int]]:
        """Count after learning, by the line that was said, the lines that were heard."""
        found: dict[str, dict[str, int]] = {}
        for take in self.takes:
            heard = take.after.meaning
            if heard is not None and heard.item is not None:
                row = found.setdefault(take.saying.item, {})
                row[heard.item] = row.get(heard.item, 0) + 1
        return found


def name_of(sheet: Sheet, take: Take) -> Key:
    """Give the line and the singular name of a take."""
    said = take.saying
    for spoken in sheet.item(said.item).say:
        if said.written in {spoken.one, spoken.many}:
            return said.item, spoken.one
    raise KeyError(said.written)
