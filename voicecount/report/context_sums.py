"""What a published figure is, and how it is computed from what was printed of it.

Where the numerator and the denominator were printed or could be worked back, a figure is computed
from them; ``note`` says where that and the printed figure do not agree. The figures themselves are
in ``context.py``.
"""

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType


class Checked(StrEnum):
    """How far a figure was checked against its source."""

    READ = "read"
    SECONDARY = "secondary"
    DERIVED = "derived"


CHECKED = MappingProxyType(
    {
        Checked.READ: "read in the source or its abstract",
        Checked.SECONDARY: "read in a text that cites the source",
        Checked.DERIVED: "worked out here from figures that were read in the source",
    }
)


class Topic(StrEnum):
    """Beside which figures of many records a published one stands."""

    HOW_OFTEN = "how_often"
    WHAT_DIFFERS = "what_differs"
    BEHIND = "behind"
    TIME = "time"
    INTERRUPTIONS = "interruptions"
    READ_BACK = "read_back"
    AGREEING = "agreeing"


@dataclass(frozen=True)
class Source:
    """Where figures were published."""

    authors: str
    where: str
    """Journal, volume and pages."""
    year: int
    doi: str | None = None

    @property
    def short(self) -> str:
        """Authors and year, as beside a figure; the sources stand in full elsewhere."""
        return f"{self.authors} {self.year}"

    def __str__(self) -> str:
        doi = f", doi {self.doi}" if self.doi else ""
        return f"{self.authors}, {self.where} ({self.year}){doi}"


@dataclass(frozen=True)
class Published:
    """One published figure: ``k`` of ``n`` times ``per``, or as printed where those are unknown."""

    topic: Topic
    source: Source
    says: str
    """What was counted, and of what."""
    k: float | None = None
    n: float | None = None
    per: int = 100
    """100 for percent, 1000 for per thousand, 1 for a mean or a rate."""
    unit: str = "%"
    printed: str | None = None
    """The figure as it was printed."""
    checked: Checked = Checked.READ
    note: str = ""

    @property
    def value(self) -> float | None:
        """The figure computed anew; None where only the printed one is known."""
        return None if self.k is None or self.n is None else self.per * self.k / self.n

    @property
    def figure(self) -> str:
        """The figure with what it was computed from, as a person reads it."""
        if self.k is None or self.n is None or self.value is None:
            return self.printed or "no figure"
        digits = {100: 1, 1000: 3}.get(self.per, 2)
        between = "over" if self.per == 1 else "of"
        rests_on = f"{_number(self.k)} {between} {_number(self.n)}"
        return f"{self.value:.{digits}f} {self.unit} ({rests_on})"


@dataclass(frozen=True)
class TwoByTwo:
    """What counts said, against what was left behind."""

    left_and_differed: int
    left_and_agreed: int
    nothing_left_and_differed: int
    nothing_left_and_agreed: int

    @property
    def all(self) -> int:
        """All operations."""
        return self.left + self.nothing_left_and_differed + self.nothing_left_and_agreed

    @property
    def left(self) -> int:
        """Operations in which something was left, or would have been."""
        return self.left_and_differed + self.left_and_agreed

    @property
    def differed(self) -> int:
        """Operations whose count differed."""
        return self.left_and_differed + self.nothing_left_and_differed

    @property
    def sensitivity(self) -> float:
        """Of those with something left, the share whose count differed."""
        return self.left_and_differed / self.left

    @property
    def specificity(self) -> float:
        """Of those with nothing left, the share whose count agreed."""
        nothing = self.nothing_left_and_differed + self.nothing_left_and_agreed
        return self.nothing_left_and_agreed / nothing

    @property
    def predictive(self) -> float:
        """Of those whose count differed, the share with something left."""
        return self.left_and_differed / self.differed


@dataclass(frozen=True)
class Parts:
    """A whole that was published with its parts, which have to add up to it."""

    source: Source
    says: str
    whole: int
    parts: tuple[tuple[str, int], ...]

    def percent(self, part: int) -> float:
        """Give a part's share of the whole; ``part`` counts from 0."""
        return 100 * self.parts[part][1] / self.whole


def _number(n: float) -> str:
    return f"{n:,.2f}".rstrip("0").rstrip(".")
