"""What is said: every spoken name in a few voices and noises, as counts a person would call."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from voicecount.sheet.model import Sheet, Spoken
from voicecount.words.numbers import words_of

QUIET = "quiet"
_RUN = ("one", "two")
_FEW_NAMES = 60
_MANY_NAMES = 90


@dataclass(frozen=True)
class Manner:
    """Who says it, in which noise, and in which shape."""

    voice: str
    noise: str = QUIET
    above: float = 45.0
    """How many dB the voice's loud parts lie above the noise."""
    many: bool = False
    """True for "two loops", False for "loop, one, two"."""
    number: str = "two"
    """What is said before the plural."""
    teaches: bool = False
    """Whether it is learned from; otherwise it proves what was learned. Noise never teaches."""


@dataclass(frozen=True)
class Saying:
    """One utterance of the rehearsal."""

    item: str
    name: tuple[str, ...]
    """The words of the name as it is said, singular or plural."""
    written: str
    """The same, as the sheet writes it."""
    before: tuple[str, ...]
    after: tuple[str, ...]
    manner: Manner
    part: int
    """Its place among the sayings of a name."""

    @property
    def words(self) -> tuple[str, ...]:
        """All its words."""
        return (*self.before, *self.name, *self.after)

    @property
    def text(self) -> str:
        """The text for a voice."""
        if self.before:
            return f"{' '.join(self.before)} {self.written}."
        return ", ".join((self.written, *self.after)) + "."


def first_manners(voices: Sequence[str], names: int) -> tuple[Manner, ...]:
    """Give the manners in which every name is said; fewer where a sheet has very many names."""
    voice = _cycle(voices)
    manners = (
        Manner(voice(2), teaches=True),
        Manner(voice(1), "pink", 20.0, many=True),
        Manner(voice(0)),
        Manner(voice(3), "suction", 14.0, many=True),
    )
    if names <= _FEW_NAMES:
        return manners
    return manners[:3] if names <= _MANY_NAMES else manners[:2]


def further_manners(voices: Sequence[str]) -> tuple[Manner, ...]:
    """Give the manners in which a name is said that was not always heard right."""
    voice = _cycle(voices)
    return (
        Manner(voice(4), teaches=True),
        Manner(voice(5), "pink", 12.0),
        Manner(voice(3), many=True, teaches=True),
        Manner(voice(2), "pink", 18.0, many=True, number="three"),
        Manner(voice(1), teaches=True),
    )


def sayings(
    sheet: Sheet,
    manners: Sequence[Manner],
    only: frozenset[tuple[str, str]] | None = None,
    first: int = 0,
) -> Iterator[Saying]:
    """Give the sayings of every spoken name, or of ``only`` some: line and singular name.

    ``first`` is the part of the first manner.
    """
    for item in sheet.items:
        for spoken in item.say:
            if only is not None and (item.id, spoken.one) not in only:
                continue
            for part, manner in enumerate(manners, first):
                yield _saying(item.id, spoken, manner, part)


def names_in(sheet: Sheet) -> int:
    """Count the spoken names of all items."""
    return sum(len(item.say) for item in sheet.items)


def _saying(item: str, spoken: Spoken, manner: Manner, part: int) -> Saying:
    written = spoken.many if manner.many else spoken.one
    before, after = ((manner.number,), ()) if manner.many else ((), _RUN)
    return Saying(item, words_of(written), written, before, after, manner, part)


def _cycle(voices: Sequence[str]) -> Callable[[int], str]:
    return lambda place: voices[place % len(voices)]
