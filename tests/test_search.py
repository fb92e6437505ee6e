"""The search through the phone graph, against every short walk and alignment written out.

Source: Graves, Fernandez, Gomez and Schmidhuber, "Connectionist Temporal Classification", ICML
2006, section 3: a path gives each step one phone or the blank, and equal phones with no blank
between them are one. Our own rule: each token is a string by itself, so only inside a token must
there be a blank between equal phones.
"""

from collections.abc import Iterator
from functools import cache
from itertools import combinations, pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicecount.hear.embedded.candidates import Reading, readings
from voicecount.hear.embedded.ctc import forward
from voicecount.hear.embedded.ensemble import Hearing
from voicecount.hear.embedded.graph import build_graph, ways
from voicecount.hear.embedded.search import ENTRY_COST, Search, Step
from voicecount.sheet.model import Sheet
from voicecount.words.grammar import build_grammar, parse
from voicecount.words.graph import Phones, Token
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import words_of
from voicecount.words.pronounce import PHONES, Lexicon

SHEET = Sheet.model_validate(
    {
        "title": "two lines",
        "items": [
            {"id": "gauze", "group": "sponges", "say": ["gauze"]},
            {"id": "lap", "group": "sponges", "say": ["lap"], "sounds": {"lap": "P P"}},
        ],
    }
)
GRAMMAR = build_grammar(SHEET)
LEXICON = Lexicon(dict(GRAMMAR.sounds))
GRAPH = build_graph(GRAMMAR, LEXICON)
STEPS = 6
"""Enough for two short words, and few enough to write everything out."""

Said = tuple[tuple[Token, Phones], ...]


def spoken(token: Token) -> list[Phones]:
    """Give every way to say a token, word by word."""
    each = (LEXICON.pronounce(word) for word in token.words)
    return [tuple(phone for word in way for phone in word) for way in product(*each)]


@cache
def sayings() -> tuple[tuple[int, Said], ...]:
    """Write out every path of the grammar with at most STEPS phones, and where it ends."""
    found: list[tuple[int, Said]] = []
    open_paths: list[tuple[int, int, Said]] = [(GRAMMAR.start, STEPS, ())]
    while open_paths:
        state, left, said = open_paths.pop()
        if said and state in GRAMMAR.finals:
            found.append((state, said))
        for arc in GRAMMAR.out.get(state, ()):
            if len(arc.token.words) > left:
                continue
            open_paths.extend(
                (arc.target, left - len(way), (*said, (arc.token, way)))
                for way in spoken(arc.token)
                if len(way) <= left
            )
    return tuple(found)


@cache
def alignments(phones: int, blanks: frozenset[int], steps: int) -> np.ndarray:
    """Write out every alignment: for each step 0 for a blank, or the number of a phone.

    A phone has a first step and a step after its last one. ``blanks`` are the phones that need a
    blank before them.
    """
    rows = []
    for cut in combinations(range(steps + phones), 2 * phones):
        # Moving each next phone back by one lets it begin right where the one before ended.
        bounds = [at - place // 2 for place, at in enumerate(cut)]
        spans = list(zip(bounds[::2], bounds[1::2], strict=True))
        if any(spans[at - 1][1] == spans[at][0] for at in blanks):
            continue
        row = np.zeros(steps, int)
        for number, (first, after) in enumerate(spans, 1):
            row[first:after] = number
        rows.append(row)
    return np.array(rows, int).reshape(len(rows), steps)


def best_of(scores: np.ndarray, said: Said, *, at_end: bool = False) -> float:
    """Give the best of all alignments of some tokens; ``at_end``: the last step is a phone."""
    phones = [phone for _, way in said for phone in way]
    starts, at = set(), 0
    for _, way in said:
        starts.add(at)
        at += len(way)
    same = {at for at in range(1, len(phones)) if phones[at] == phones[at - 1]}
    rows = alignments(len(phones), frozenset(same - starts), len(scores))
    if at_end:
        rows = rows[rows[:, -1] == len(phones)]
    if not len(rows):
        return -np.inf
    kinds = np.array([0, *(PHONES.index(phone) + 1 for phone in phones)])
    each = scores.astype(float)[np.arange(len(scores)), kinds[rows]].sum(1)
    return float(each.max()) - ENTRY_COST * len(said)


def random_scores(seed: int, planted: Said = (), steps: int = STEPS) -> np.ndarray:
    """Make random log-probabilities, in which some phones are more likely, step after step."""
    rng = np.random.default_rng(seed)
    logits = rng.normal(0, 2, (steps, len(PHONES) + 1))
    for step, phone in enumerate(phone for _, way in planted for phone in way):
        logits[step, PHONES.index(phone) + 1] += 6
    return np.asarray(logits - np.log(np.exp(logits).sum(1, keepdims=True)), np.float32)


def searched(scores: np.ndarray) -> Search:
    """Search."""
    search = Search(GRAPH, GRAMMAR.finals, GRAMMAR.start)
    search.run(scores)
    return search


def said_of(steps: tuple[Step, ...]) -> Said:
    """Give a walk's tokens and how each was said."""
    return tuple((step.token, step.phones) for step in steps)


SEEDS = st.integers(0, 10_000)
PLANTED = st.integers(0, len(sayings()) - 1).map(lambda at: sayings()[at][1])


def test_the_tree_says_every_arc_in_every_way_and_nothing_else() -> None:
    """From each end back to its root, the graph spells one way to say one arc of the grammar."""
    found = set()
    for place, arc, phones in zip(
        GRAPH.end_place.tolist(), GRAPH.end_arc, GRAPH.end_phones, strict=True
    ):
        back, at = [], place
        while at < GRAPH.size:
            back.append(PHONES[GRAPH.label[at] - 1])
            at = int(GRAPH.parent[at])
        assert (at - GRAPH.size, tuple(reversed(back))) == (arc.source, phones)
        found.add((arc, phones))

    assert found == {(arc, way) for arc in GRAMMAR.arcs for way in spoken(arc.token)[:6]}
    shared = list(zip(GRAPH.parent.tolist(), GRAPH.label.tolist(), strict=True))
    assert len(shared) == len(set(shared)), "beginnings are shared"


def test_the_ends_are_sorted_by_the_state_they_lead_to() -> None:
    """Each end lies within the bounds of its own target, once."""
    led = [(at, state) for state, first, last in GRAPH.arrivals for at in range(first, last)]

    assert led == [(at, arc.target) for at, arc in enumerate(GRAPH.end_arc)]


def test_of_many_ways_the_first_words_first_ways_are_kept() -> None:
    """A phrase of words with many ways has six, and the first has each word's first."""
    words = ("twenty", "eleven", "hundred")
    each = [LEXICON.pronounce(word) for word in words]
    given = ways(words, LEXICON)

    assert len(given) == len(set(given)) == 6
    assert given[0] == tuple(phone for word in each for phone in word[0])
    assert set(given) <= {tuple(phone for word in way for phone in word) for way in product(*each)}


@settings(max_examples=60, deadline=None)
@given(seed=SEEDS, planted=PLANTED)
def test_the_best_walks_are_the_best_of_all(seed: int, planted: Said) -> None:
    """Into each final state, the search finds the best path and alignment of all."""
    scores = random_scores(seed, planted)
    best: dict[int, float] = {}
    known: dict[Said, float] = {}
    for state, said in sayings():
        if said not in known:
            known[said] = best_of(scores, said)
        best[state] = max(best.get(state, -np.inf), known[said])
    every = sorted((score for score in best.values() if score > -np.inf), reverse=True)
    walks = searched(scores).walks()

    assert [walk.score for walk in walks] == pytest.approx(every, abs=1e-3)
    for walk in walks:
        assert walk.score == pytest.approx(known[said_of(walk.steps)], abs=1e-3)


EQUAL = [
    ("eight two", ("EY", "T", "T", "UW"), True),
    ("lap", ("P", "P"), False),
]


@pytest.mark.parametrize(("text", "phones", "fits"), EQUAL)
def test_a_blank_between_equal_phones_is_needed_only_inside_a_token(
    text: str, phones: Phones, fits: bool
) -> None:
    """Two tokens may touch in one phone; the same phone twice inside a token may not."""
    scores = np.full((len(phones), len(PHONES) + 1), -9.0, np.float32)
    scores[np.arange(len(phones)), [PHONES.index(phone) + 1 for phone in phones]] = 0
    found = {tuple(step.token.words[0] for step in w.steps) for w in searched(scores).walks()}

    assert (tuple(text.split()) in found) == fits


@settings(max_examples=60, deadline=None)
@given(seed=SEEDS, planted=PLANTED, steps=st.integers(STEPS, 30))
def test_a_walk_is_a_path_of_the_grammar_in_time(seed: int, planted: Said, steps: int) -> None:
    """A walk's tokens lead to a final state, one after the other in time, and fit their phones."""
    scores = random_scores(seed, planted, steps)
    walks = searched(scores).walks()

    assert walks
    assert [walk.score for walk in walks] == sorted((w.score for w in walks), reverse=True)
    for walk in walks:
        states = {GRAMMAR.start}
        for step in walk.steps:
            states = {
                arc.target
                for state in states
                for arc in GRAMMAR.out.get(state, ())
                if arc.token == step.token
            }
            assert step.phones in spoken(step.token)
            assert 0 <= step.first <= step.last - len(step.phones) + 1 < steps
        assert states & GRAMMAR.finals
        assert all(before.last < after.first for before, after in pairwise(walk.steps))


@settings(max_examples=60, deadline=None)
@given(seed=SEEDS, planted=PLANTED)
def test_a_rival_costs_what_its_alignment_is_worse(seed: int, planted: Said) -> None:
    """For a first token, each rival's cost is how much less its best alignment nearby scores."""
    scores, slack = random_scores(seed, planted), 2
    search = searched(scores)
    walk = search.walks()[0]
    own = walk.steps[0]
    ends = range(max(0, own.last - slack), min(STEPS, own.last + slack + 1))
    base = best_of(scores[: own.last + 1], said_of((own,)), at_end=True)
    rivals = [(c, other) for c, place, other in search.rivals(walk, slack) if place == 0]

    assert {other.token for _, other in rivals} == {
        arc.token for arc in GRAMMAR.out[GRAMMAR.start] if arc.token != own.token
    }
    for cost, other in rivals:
        if len(other.phones) > ends[-1] + 1:
            assert cost > 1e6, "it does not fit"
            continue
        each = [best_of(scores[: end + 1], said_of((other,)), at_end=True) for end in ends]
        if max(each) == -np.inf:
            continue
        assert cost == pytest.approx(base - max(each), abs=1e-3)
        assert each[other.last - ends[0]] == pytest.approx(max(each), abs=1e-3)
        assert other.first <= other.last - len(other.phones) + 1


def phones_of(text: str) -> Phones:
    """Give the phones of a text, each word said in its first way."""
    return tuple(p for word in words_of(text) for p in LEXICON.pronounce(word)[0])


def clearly(phones: Phones) -> np.ndarray:
    """Make log-probabilities that spell phones: each for two steps, then a blank."""
    kinds = [0, 0]
    for phone in phones:
        kinds += [PHONES.index(phone) + 1] * 2 + [0]
    scores = np.full((len(kinds), len(PHONES) + 1), np.log(0.1 / len(PHONES)), np.float32)
    scores[np.arange(len(kinds)), kinds] = np.log(0.9)
    return scores


def read(text: str, written: str = "") -> list[Reading]:
    """Give the readings of what is spelled clearly."""
    scores = clearly(phones_of(text))
    own = parse(words_of(written), GRAMMAR)
    return readings([searched(scores)], Hearing((scores,), (1.0,)), LEXICON, own)


def run(*numbers: int, item: str | None = "gauze") -> Meaning:
    """Make a run."""
    return Meaning(Form.RUN, item, numbers)


SPELLED = [
    ("gauze one two three", run(1, 2, 3)),
    ("gauze one two three three", run(1, 2, 3, 3)),
    ("gauze one one", run(1, 1)),
    ("lap one three four", run(1, 3, 4, item="lap")),
    ("four five", run(4, 5, item=None)),
    ("twenty one twenty two", run(21, 22, item=None)),
    ("gauze one hundred and twelve", run(112)),
    ("two laps", Meaning(Form.NUMBER_FIRST, "lap", (2,))),
    ("gauze total twelve", Meaning(Form.TOTAL, "gauze", (12,))),
    ("no gauze", Meaning(Form.NONE, "gauze", (0,))),
    ("gauze", Meaning(Form.NAME, "gauze")),
    ("stand by for a moment", Meaning(Form.COMMAND, command="stand_by")),
]


@pytest.mark.parametrize(("text", "meaning"), SPELLED)
def test_what_is_spelled_clearly_comes_first(text: str, meaning: Meaning) -> None:
    """The meaning that the sound spells is the likeliest, and its phones fit what was spelled."""
    found = read(text)

    assert found[0].meaning == meaning
    assert tuple(word for token in found[0].tokens for word in token.words) == words_of(text)
    heads = [reading.head for reading in found]
    assert heads == sorted(heads, reverse=True)
    assert len({reading.meaning for reading in found}) == len(found), "each meaning once"


def faults(numbers: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    """Give a run with one number fewer or doubled anywhere, and with one more at its end."""
    for at in range(len(numbers)):
        yield numbers[:at] + numbers[at + 1 :]
        yield numbers[: at + 1] + numbers[at:]
    yield (*numbers, numbers[-1] + 1)
    yield (*numbers, 1)


@pytest.mark.parametrize("numbers", [(1, 2, 3), (1, 2, 3, 3), (1, 3, 4)])
def test_a_run_is_judged_against_its_faults(numbers: tuple[int, ...]) -> None:
    """One number fewer, more or doubled is always among the readings of a run, and less likely."""
    found = read("gauze " + " ".join(map(str, numbers)))

    assert found[0].meaning == run(*numbers)
    assert {run(*fault) for fault in faults(numbers)} <= {one.meaning for one in found[1:]}


def test_a_skipped_number_is_judged_against_the_filled_run() -> None:
    """Whoever skips a number is heard so, though the run in order was looked at too."""
    found = [reading.meaning for reading in read("gauze one two four")]

    assert found[0] == run(1, 2, 4)
    assert run(1, 2, 3, 4) in found
    wider = [reading.meaning for reading in read("gauze one five")]
    assert run(1, 2, 5) not in wider, "only one number that was skipped is filled in"


def test_a_name_is_judged_against_a_near_one() -> None:
    """A run whose name may be another one is held against the same run of that line."""
    numbers = phones_of("one two")
    gauze, lap = (clearly((*name, *numbers)) for name in (("G", "AO", "Z"), ("L", "AE", "P")))
    scores = np.asarray(np.log(0.9 * np.exp(gauze) + 0.1 * np.exp(lap)), np.float32)
    found = [
        reading.meaning
        for reading in readings([searched(scores)], Hearing((scores,), (1.0,)), LEXICON)
    ]

    assert found[0] == run(1, 2)
    assert run(1, 2, item="lap") in found


@pytest.mark.parametrize(
    ("text", "other"),
    [
        ("gauze thirteen", run(30)),
        ("gauze fifty", run(15)),
        ("gauze five", run(9)),
        ("gauze one hundred thirteen", run(130)),
    ],
)
def test_a_number_is_judged_against_what_it_sounds_like(text: str, other: Meaning) -> None:
    """A number is held against one that sounds like it (common practice, no source)."""
    assert other in {reading.meaning for reading in read(text)}


def test_what_the_decoder_wrote_is_judged_too() -> None:
    """A reading that no walk comes near is there because the decoder wrote it, and only then."""
    far = run(9, 80, 7, item="lap")
    without = {reading.meaning for reading in read("gauze one")}
    found = read("gauze one", "lap nine eighty seven")
    nine = run(9, 87, item="lap")

    assert not {far, nine} & without
    assert {reading.meaning for reading in found} == without | {nine}
    assert found[0].meaning == run(1)


def test_a_readings_score_sums_the_ways_to_say_it() -> None:
    """No reading scores less than its own best way, and that way is the best of its meaning."""
    scores = clearly(phones_of("gauze seven"))
    found = readings([searched(scores)], Hearing((scores,), (1.0,)), LEXICON)
    own = forward(scores, [reading.phones for reading in found])

    assert all(
        reading.head >= score - 1e-6 for reading, score in zip(found, own.tolist(), strict=True)
    )
    assert found[0].phones == phones_of("gauze seven")


@given(SEEDS, st.lists(st.integers(0, STEPS), max_size=3))
def test_a_search_in_parts_is_the_search_of_the_whole(seed: int, cuts: list[int]) -> None:
    """Sound that comes in parts gives the same walks; a fork leaves the first as it was."""
    scores = random_scores(seed)
    search = Search(GRAPH, GRAMMAR.finals, GRAMMAR.start)
    bounds = [0, *sorted(cuts), STEPS]
    for first, last in pairwise(bounds):
        ahead = search.fork()
        ahead.run(scores[first:][::-1])
        search.run(scores[first:last])

    assert search.walks() == searched(scores).walks()


@given(SEEDS, PLANTED)
def test_what_was_said_so_far_is_the_best_into_any_state(seed: int, planted: Said) -> None:
    """The walk of something that may go on is never worse than one that may end."""
    search = searched(random_scores(seed, planted))
    so_far = search.so_far()
    whole = search.walks()

    assert so_far is not None
    assert not whole or so_far.score >= whole[0].score
