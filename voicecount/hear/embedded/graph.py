"""The grammar as a graph of phones: what the search walks.

The phone chains of all arcs that leave one grammar state share their beginnings, so each state of
the grammar is the root of a tree. A tree's ends say which arc has been spoken.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import islice, pairwise, product

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.head import INDEX
from voicecount.words.graph import Arc, Grammar, Phones
from voicecount.words.pronounce import Lexicon

_WAYS_A_TOKEN = 6
"""At most so many pronunciations of one token; the first of every word come first."""


@dataclass(frozen=True, eq=False)
class PhoneGraph:
    """Trees of phones. Index ``n`` of a parent from ``size`` on means grammar state n - size."""

    label: NDArray[np.int64]
    """(size,) phone of each place, 1 to 39."""
    parent: NDArray[np.int64]
    """(size,) the place before, or size + grammar state."""
    end_place: NDArray[np.int64]
    """(ends,) the last phone of each spoken arc, sorted by the grammar state it leads to."""
    end_arc: tuple[Arc, ...]
    end_phones: tuple[Phones, ...]
    """(ends,) the pronunciation that ends there."""
    arrivals: tuple[tuple[int, int, int], ...]
    """Grammar state, first and last + 1 of its ends; only states that can be reached."""
    states: int

    @property
    def size(self) -> int:
        """How many places there are."""
        return len(self.label)


def ways(words: tuple[str, ...], lexicon: Lexicon) -> tuple[Phones, ...]:
    """Give the pronunciations of several words said together, the likeliest first."""
    each = [lexicon.pronounce(word) for word in words]
    combined = (tuple(p for way in way_of_each for p in way) for way_of_each in product(*each))
    return tuple(dict.fromkeys(islice(combined, _WAYS_A_TOKEN)))


def build_graph(grammar: Grammar, lexicon: Lexicon) -> PhoneGraph:
    """Compile a grammar. The lexicon already holds the sheet's own pronunciations."""
    states = 1 + max(max(arc.source, arc.target) for arc in grammar.arcs)
    label: list[int] = []
    parent: list[int] = []
    known: dict[tuple[int, int], int] = {}
    spoken: Mapping[tuple[str, ...], tuple[Phones, ...]] = {
        words: ways(words, lexicon) for words in {arc.token.words for arc in grammar.arcs}
    }
    ends: list[tuple[int, int, Arc, Phones]] = []
    for arc in grammar.arcs:
        for phones in spoken[arc.token.words]:
            place = -1 - arc.source
            for phone in phones:
                step = (place, INDEX[phone])
                if step not in known:
                    known[step] = len(label)
                    label.append(step[1])
                    parent.append(place)
                place = known[step]
            ends.append((arc.target, place, arc, phones))
    ends.sort(key=lambda end: end[0])
    size = len(label)
    targets = np.array([end[0] for end in ends])
    firsts = np.flatnonzero(np.insert(targets[1:] != targets[:-1], 0, values=True))
    bounds = [*firsts.tolist(), len(ends)]
    above = np.array(parent)
    return PhoneGraph(
        np.array(label),
        np.where(above < 0, size - 1 - above, above),
        np.array([end[1] for end in ends]),
        tuple(end[2] for end in ends),
        tuple(end[3] for end in ends),
        tuple((int(targets[first]), first, last) for first, last in pairwise(bounds)),
        states,
    )
