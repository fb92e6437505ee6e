"""The run that a student has in hand: its parts are joined as they come, right or wrong. Pure."""

from dataclasses import dataclass, replace

from voicecount.drill.model import There
from voicecount.drill.steps import step_id
from voicecount.hear.heard import Heard
from voicecount.words.grammar import parse
from voicecount.words.graph import Grammar
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import words_of

COUNTS = frozenset({Form.RUN, Form.NUMBER_FIRST, Form.TOTAL, Form.NONE})
"""Forms that tell a number."""


@dataclass(frozen=True)
class Call:
    """A run as far as it was called. What is wrong with it is the judge's business."""

    item: str
    place: str | None
    numbers: tuple[int, ...]
    """Empty where only the name was said."""
    end: float
    """Seconds from the start of the stream to its last word."""
    broken: bool = False
    """Whether something came between: it is not read back before it has gone on."""
    extends: bool = False
    """Whether it goes on with a run that was taken for whole before."""

    @property
    def line(self) -> str:
        """The id of the line that it belongs to, as in ``steps.py``."""
        return step_id(There(item=self.item, number=0, place=self.place))

    @property
    def number(self) -> int:
        """What the student came to: the last number that was said."""
        return self.numbers[-1]

    def broken_off(self) -> "Call":
        """Give the same run, with something in between."""
        return replace(self, broken=True)

    def goes_on_with(self, numbers: tuple[int, ...]) -> bool:
        """Tell whether numbers go on where it stands."""
        return bool(self.numbers) and numbers[:1] == (self.number + 1,)

    def joined(self, numbers: tuple[int, ...], end: float, *, named: bool) -> "Call":
        """Add numbers: they go on with it, or begin it again.

        They begin it again where they start with one, or where the name was said once more and
        they do not go on.
        """
        again = numbers[:1] == (1,) or (named and not self.goes_on_with(numbers))
        whole = numbers if again else self.numbers + numbers
        return replace(self, numbers=whole, end=end, broken=False)


def numbers_of(meaning: Meaning) -> tuple[int, ...]:
    """Give the numbers of a count; one, where only the pieces of a single thing were told."""
    if not meaning.numbers and meaning.pieces is not None:
        return (1,)
    return meaning.numbers


def runs(numbers: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Part numbers where they begin again with one."""
    starts = [at for at, number in enumerate(numbers) if number == 1 or at == 0]
    return [numbers[at:end] for at, end in zip(starts, [*starts[1:], len(numbers)], strict=True)]


def so_far(heard: Heard, grammar: Grammar) -> Meaning | None:
    """Give what an open utterance says as far as it has come; None where it is no count yet."""
    meaning = heard.meaning
    if meaning is None:
        readings = parse(words_of(heard.text), grammar)
        meaning = readings[0][0] if readings else None
    return meaning if meaning is not None and meaning.form in COUNTS else None
