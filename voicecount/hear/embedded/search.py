"""The search: the likeliest walk through the phone graph, with the time of every word.

Viterbi over connectionist temporal classification: between two phones there may be blanks, and
between two equal phones inside a word there must be one.
"""

from collections.abc import Iterable, Iterator
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from voicecount.hear.embedded.graph import PhoneGraph
from voicecount.hear.embedded.head import BLANK
from voicecount.words.graph import Phones, Token

_NEVER = np.float32(-1e9)
ENTRY_COST = 1.0
"""Natural-log cost of each further token: more makes the search hear fewer, longer words."""


@dataclass(frozen=True)
class Step:
    """One token of a walk."""

    token: Token
    phones: Phones
    first: int
    """Head step of its first phone."""
    last: int
    """Head step of its last phone."""


@dataclass(frozen=True)
class Walk:
    """A way through the grammar."""

    steps: tuple[Step, ...]
    score: float
    """Natural-log probability of its likeliest alignment, less the entry costs."""
    ends: tuple[int, ...]
    """Where in the graph each step ended; the same words can lead to several states."""


class Search:
    """One search over one utterance; ask it for walks afterwards."""

    def __init__(self, graph: PhoneGraph, finals: frozenset[int], start: int) -> None:
        self._graph = graph
        self._finals = finals
        self._start = start
        size, states = graph.size, graph.states
        above = np.where(graph.parent < size, graph.label[np.minimum(graph.parent, size - 1)], 0)
        self._roots = graph.parent >= size
        cost = np.where(above == graph.label, _NEVER, np.float32(0))
        self._cost = np.where(self._roots, np.float32(-ENTRY_COST), cost)
        self._at = np.full(size + states, _NEVER, np.float32)
        self._rest = np.full(size + states, _NEVER, np.float32)
        self._born_at = np.zeros(size + states, np.int32)
        self._rest_born = np.zeros(size + states, np.int32)
        self._at[size + start] = 0
        arrived = np.full(states, _NEVER, np.float32)
        arrived[start] = 0
        self._arrived = [arrived]
        self._since = [np.zeros(states, np.int32)]
        self._ends: list[NDArray[np.float32]] = []
        self._born: list[NDArray[np.int32]] = []

    def fork(self) -> "Search":
        """Give a search that goes on from here and leaves this one as it is."""
        other = copy(self)
        grows = ("_at", "_rest", "_born_at", "_rest_born", "_arrived", "_since", "_ends", "_born")
        for name in grows:
            setattr(other, name, getattr(self, name).copy())
        return other

    def run(self, log_probabilities: NDArray[np.float32]) -> None:
        """Search on; ``log_probabilities`` has the shape (steps, 40)."""
        graph = self._graph
        size, parent, label = graph.size, graph.parent, graph.label
        roots, cost = self._roots, self._cost
        at, rest = self._at, self._rest
        born, rest_born = self._born_at, self._rest_born
        for step, sound in enumerate(log_probabilities, len(self._ends)):
            stay, over, gap = at[:size], at[parent] + cost, rest[parent]
            enter = np.where(roots, np.int32(step), born[parent])
            moved, moved_born = stay, born[:size]
            better = over > moved
            moved = np.where(better, over, moved)
            moved_born = np.where(better, enter, moved_born)
            better = gap > moved
            moved = np.where(better, gap, moved)
            moved_born = np.where(better, rest_born[parent], moved_born)
            better = stay > rest[:size]
            blank = sound[BLANK]
            rested = np.where(better, stay, rest[:size]) + blank
            rest_born[:size] = np.where(better, born[:size], rest_born[:size])
            at[:size] = moved + sound[label]
            born[:size] = moved_born
            rest[:size] = rested
            ended = at[graph.end_place]
            self._ends.append(ended)
            self._born.append(born[graph.end_place])
            now = at[size:] + blank
            since = self._since[step].copy()
            for state, first, last in graph.arrivals:
                best = ended[first:last].max()
                if best > now[state]:
                    now[state] = best
                    since[state] = step + 1
            at[size:] = now
            self._arrived.append(now)
            self._since.append(since)

    def walks(self) -> list[Walk]:
        """Give the best walk into each final state, best first."""
        return self._walks_into(self._finals)

    def so_far(self) -> Walk | None:
        """Give the best walk into any state: what has been said of something that may go on."""
        return next(iter(self._walks_into(range(self._graph.states))), None)

    def _walks_into(self, states: Iterable[int]) -> list[Walk]:
        steps = len(self._arrived) - 1
        found = []
        for state in states:
            score = float(self._arrived[steps][state])
            if score > _NEVER / 2 and state != self._start:
                traced, ends = self._trace(state, steps)
                found.append(Walk(traced, score, ends))
        return sorted((walk for walk in found if walk.steps), key=lambda walk: -walk.score)

    def rivals(self, walk: Walk, slack: int = 15) -> Iterator[tuple[float, int, Step]]:
        """Give other tokens that could stand in the place of one, with what they cost.

        Yields (natural-log cost, which step, the other token), for tokens that start from the
        same grammar state and end within ``slack`` head steps of the walk's own.
        """
        for place, (step, own) in enumerate(zip(walk.steps, walk.ends, strict=True)):
            state = self._graph.end_arc[own].source
            window = slice(max(0, step.last - slack), step.last + slack + 1)
            values, born = np.stack(self._ends[window]), np.stack(self._born[window])
            base = float(self._ends[step.last][own])
            for end, arc in enumerate(self._graph.end_arc):
                if arc.source != state or arc.token == step.token:
                    continue
                at = int(values[:, end].argmax())
                other = Step(
                    arc.token,
                    self._graph.end_phones[end],
                    int(born[at, end]),
                    window.start + at,
                )
                yield base - float(values[at, end]), place, other

    def _trace(self, state: int, at: int) -> tuple[tuple[Step, ...], tuple[int, ...]]:
        """Walk back from a state."""
        back: list[Step] = []
        ends: list[int] = []
        bounds = {reached: (first, last) for reached, first, last in self._graph.arrivals}
        while True:
            arrived = int(self._since[at][state])
            if arrived == 0:
                break
            first, last = bounds[state]
            step = arrived - 1
            end = first + int(self._ends[step][first:last].argmax())
            begun = int(self._born[step][end])
            arc = self._graph.end_arc[end]
            ends.append(end)
            back.append(Step(arc.token, self._graph.end_phones[end], begun, step))
            state, at = arc.source, begun
        return tuple(back[::-1]), tuple(ends[::-1])
