"""Proof that nothing that can be said has two meanings.

Two walkers go through the graph of a grammar together, saying the same words by different
tokens; one may be some words ahead of the other. If both can end, their words have two readings.
There are finitely many places for two walkers, so the whole language is covered, loops included.
"""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

from voicecount.words.grammar import read_tokens
from voicecount.words.graph import Arc, Grammar, Token


@dataclass(frozen=True)
class Ambiguity:
    """Words that can be read in two ways."""

    first: tuple[Token, ...]
    second: tuple[Token, ...]

    @property
    def text(self) -> str:
        """The words."""
        return " ".join(word for token in self.first for word in token.words)


@dataclass(frozen=True)
class _Pair:
    """Two walkers that have said the same words, but for those that the first is ahead."""

    ahead: int
    behind: int
    over: tuple[str, ...] = ()
    """What the one ahead has said and the other has not."""
    parted: bool = False
    """Whether their tokens differ."""


_Paths = tuple[tuple[Token, ...], tuple[Token, ...]]
"""What the one ahead and the one behind have said."""


def find_ambiguity(grammar: Grammar) -> Ambiguity | None:
    """Give an utterance with two meanings, of as few tokens as there is one, or None."""
    start = _Pair(grammar.start, grammar.start)
    queue: deque[tuple[_Pair, _Paths]] = deque([(start, ((), ()))])
    seen = {start}
    while queue:
        pair, paths = queue.popleft()
        for after, said in _steps(pair, paths, grammar):
            if _two_meanings(after, said, grammar):
                return Ambiguity(*said)
            if after not in seen:
                seen.add(after)
                queue.append((after, said))
    return None


def _steps(pair: _Pair, paths: _Paths, grammar: Grammar) -> Iterator[tuple[_Pair, _Paths]]:
    """Let the one behind catch up by a token; level walkers both take one."""
    first, second = paths
    if pair.over:
        for arc in grammar.by_first_word.get((pair.behind, pair.over[0]), ()):
            yield from _place(pair.ahead, pair.over, first, arc, (*second, arc.token), parted=True)
        return
    for one in grammar.out.get(pair.ahead, ()):
        for two in grammar.by_first_word.get((pair.behind, one.token.words[0]), ()):
            parted = pair.parted or one.token != two.token
            said = (*first, one.token)
            yield from _place(
                one.target, one.token.words, said, two, (*second, two.token), parted=parted
            )


def _place(
    ahead: int,
    words: tuple[str, ...],
    first: tuple[Token, ...],
    arc: Arc,
    second: tuple[Token, ...],
    *,
    parted: bool,
) -> Iterator[tuple[_Pair, _Paths]]:
    """Give the place after one walker said some words and the other an arc's, if they agree."""
    over = _rest(words, arc.token.words)
    if over is None:
        return
    if len(arc.token.words) > len(words):
        yield _Pair(arc.target, ahead, over, parted), (second, first)
    else:
        yield _Pair(ahead, arc.target, over, parted), (first, second)


def _rest(one: tuple[str, ...], two: tuple[str, ...]) -> tuple[str, ...] | None:
    """Give what the longer has beyond the shorter, or None where they disagree."""
    both = min(len(one), len(two))
    if one[:both] != two[:both]:
        return None
    return one[both:] or two[both:]


def _two_meanings(pair: _Pair, paths: _Paths, grammar: Grammar) -> bool:
    """Tell whether both walkers may end here, having meant different things."""
    if not pair.parted or pair.over or not {pair.ahead, pair.behind} <= grammar.finals:
        return False
    first, second = (read_tokens(path) for path in paths)
    return first is not None and second is not None and first != second
