"""Names matched exactly or nearly, with the margin to the runner-up; numbers only exactly.

A score is the mean of how alike two names are spelled and how alike they sound (rapidfuzz, both
0 to 100). Without pronunciations it is the spelling alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from rapidfuzz import fuzz
from rapidfuzz.distance import Levenshtein

from voicecount.words.graph import Grammar, Phones, Token
from voicecount.words.numbers import NUMBER_WORDS

NEAR = 82.0
"""The least score of a name that is taken for one on the sheet; lower takes more, and more wrongly.
Of 8,000 dictionary words against the long sheet 15 pass at 80 and one at 82, by spelling alone."""
MARGIN = 10.0
"""The least lead over the best name of any other line. Higher asks more often."""


class Pronounces(Protocol):
    """Whatever knows how words sound."""

    def pronounce(self, word: str) -> tuple[Phones, ...]:
        """Give at least one pronunciation of a word."""
        ...


@dataclass(frozen=True)
class NameMatch:
    """The best name for some words, and the best name of any other line."""

    name: Token
    score: float
    """0 to 100; 100 is the name itself."""
    runner_up: Token | None
    margin: float
    """How far the score is above the runner-up's; the whole score where there is none."""

    @property
    def near(self) -> bool:
        """Whether the words are near this name at all."""
        return self.score >= NEAR

    @property
    def clear(self) -> bool:
        """Whether they are near this name and far enough from all other lines."""
        return self.near and self.margin >= MARGIN


def match_name(
    words: Sequence[str], grammar: Grammar, lexicon: Pronounces | None = None
) -> NameMatch | None:
    """Find the name that some words are nearest to; None if their number words fit none."""
    said = tuple(words)
    best: dict[str | int | None, tuple[float, Token]] = {}
    for name in grammar.names:
        if _numbers(name.words) != _numbers(said):
            continue
        score = 100.0 if name.words == said else _score(said, name.words, lexicon)
        if name.value not in best or score > best[name.value][0]:
            best[name.value] = (score, name)
    if not best:
        return None
    ranked = sorted(best.values(), key=lambda found: -found[0])
    score, name = ranked[0]
    if len(ranked) == 1:
        return NameMatch(name, score, None, score)
    return NameMatch(name, score, ranked[1][1], score - ranked[1][0])


def _numbers(words: Sequence[str]) -> tuple[str, ...]:
    """Give the number words; names that differ in one are never near."""
    return tuple(word for word in words if word in NUMBER_WORDS)


def _score(one: tuple[str, ...], two: tuple[str, ...], lexicon: Pronounces | None) -> float:
    """Tell how alike two names are, 0 to 100; below 100 unless they are the same."""
    spelled = fuzz.ratio(" ".join(one), " ".join(two))
    if lexicon is None:
        return spelled
    sounds = Levenshtein.normalized_similarity(_phones(one, lexicon), _phones(two, lexicon))
    return (spelled + 100 * sounds) / 2


def _phones(words: tuple[str, ...], lexicon: Pronounces) -> list[str]:
    """Give the phones of a name, each word in its first pronunciation."""
    return [phone for word in words for phone in lexicon.pronounce(word)[0]]
