"""Which names sound alike: phones counted apart, before anything was heard."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from voicecount.hear.embedded.graph import ways
from voicecount.hear.respell import distance
from voicecount.words.graph import Grammar, Phones, Tag
from voicecount.words.numbers import NUMBER_WORDS
from voicecount.words.pronounce import Lexicon

CLOSE = 0.34
"""Pairs of names with less than this are shown as sound-alikes."""


@dataclass(frozen=True)
class Pair:
    """The closest names of two lines."""

    first: str
    """The id of the line that comes first on the sheet."""
    second: str
    first_name: str
    second_name: str
    share: float
    """How far apart: phones that differ for each phone of the longer name; 0 is the same sound."""


class Names:
    """Every spoken name of a sheet with its pronunciations."""

    def __init__(self, grammar: Grammar) -> None:
        self.lexicon = Lexicon(dict(grammar.sounds))
        self.by_line: dict[str, dict[tuple[str, ...], tuple[Phones, ...]]] = {}
        self.counted: set[str] = set()
        for name in grammar.names:
            line = str(name.value)
            self.by_line.setdefault(line, {})[name.words] = ways(name.words, self.lexicon)
            if name.tag is Tag.ITEM:
                self.counted.add(line)
        self.numbers = frozenset(
            way for word in NUMBER_WORDS for way in self.lexicon.pronounce(word)
        )

    def others(self, line: str) -> Iterator[tuple[str, tuple[str, ...], tuple[Phones, ...]]]:
        """Give line, words and pronunciations of every name of the other lines."""
        for other, names in self.by_line.items():
            if other != line:
                for words, sounds in names.items():
                    yield other, words, sounds

    def nearest(self, phones: Phones, line: str, many: int = 1) -> list[tuple[float, str]]:
        """Give the nearest other lines of a pronunciation, with their distance in phones."""
        best: dict[str, float] = {}
        for other, _, sounds in self.others(line):
            apart = min(distance(phones, way) for way in sounds)
            best[other] = min(apart, best.get(other, apart))
        return sorted((apart, other) for other, apart in best.items())[:many]

    def why_nearer(self, phones: Phones, line: str, own: float) -> str | None:
        """Tell which other line is as near to a pronunciation as ``own`` or nearer, or None."""
        nearest = self.nearest(phones, line)
        return f"it sounds more like {nearest[0][1]}" if nearest and nearest[0][0] <= own else None

    def own_distance(self, phones: Phones, line: str, name: tuple[str, ...]) -> float:
        """Give how far a pronunciation is from those that a name has."""
        return min(distance(phones, way) for way in self.by_line[line][name])

    def like_a_number(self, phones: Phones, apart: float) -> bool:
        """Tell whether some number word is as near to a pronunciation as ``apart``."""
        return any(distance(phones, number) <= apart for number in self.numbers)


def pairs(names: Names) -> list[Pair]:
    """Give every pair of lines with its closest names, the closest pair first."""
    found = []
    for first, second in combinations(names.by_line, 2):
        share, one, other = min(
            (_share(mine, theirs), words, others)
            for words, mine in names.by_line[first].items()
            for others, theirs in names.by_line[second].items()
        )
        found.append(Pair(first, second, " ".join(one), " ".join(other), share))
    return sorted(found, key=lambda pair: (pair.share, pair.first, pair.second))


def _share(mine: Sequence[Phones], theirs: Sequence[Phones]) -> float:
    return min(distance(one, other) / max(len(one), len(other)) for one in mine for other in theirs)


def same_sound(found: Sequence[Pair]) -> Pair | None:
    """Give the first pair of lines with a name that sounds the same, or None."""
    return next((pair for pair in found if pair.share == 0.0), None)


def confused(heard: Mapping[str, Mapping[str, int]]) -> tuple[str, str] | None:
    """Give the first line that was heard as another one more often than as itself.

    ``heard`` counts, by the line that was said, the lines that were heard.
    """
    for said, counts in heard.items():
        for other, times in counts.items():
            if other != said and times > counts.get(said, 0):
                return said, other
    return None
