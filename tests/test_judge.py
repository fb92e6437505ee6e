"""The two judges together, with a decoder that gives made-up scores."""

from collections.abc import Mapping, Sequence
from typing import cast

import numpy as np
import pytest

from voicecount.hear.embedded import judge as judges
from voicecount.hear.embedded.candidates import Reading
from voicecount.hear.embedded.decoder import Decoder, Written
from voicecount.hear.embedded.ensemble import Hearing
from voicecount.hear.embedded.judge import Evidence, Verdict, judge, leaps
from voicecount.words.grammar import NUMBERS
from voicecount.words.graph import Tag, Token
from voicecount.words.meaning import Form, Meaning
from voicecount.words.pronounce import PHONES

GAUZE = Token(Tag.ITEM, ("gauze",), "gauze")
WAYS = {
    "gauze": ("G", "AO", "Z"),
    "one": ("W", "AH", "N"),
    "two": ("T", "UW"),
    "three": ("TH", "R", "IY"),
    "four": ("F", "AO", "R"),
    "five": ("F", "AY", "V"),
    "six": ("S", "IH", "K", "S"),
    "yes": ("Y", "EH", "S"),
}
FRAMES = np.zeros((4, 288), np.float32)
IMPOSSIBLE = -1e6


def reading(meaning: Meaning, tokens: Sequence[Token], head: float) -> Reading:
    """Make a reading."""
    ways = tuple(WAYS[token.words[0]] for token in tokens)
    return Reading(meaning, tuple(tokens), ways, head, (head,))


def both(decoder: float, head: float) -> float:
    """Give what both judges' scores make together."""
    return judges.DECODER_WEIGHT * decoder + head


def run(*numbers: int, head: float = -1.0, name: bool = True) -> Reading:
    """Make a reading of a run, with the name of its line or alone."""
    meaning = Meaning(Form.RUN, "gauze" if name else None, numbers)
    tokens = [NUMBERS[number] for number in numbers]
    return reading(meaning, [GAUZE, *tokens] if name else tokens, head)


class MadeUp:
    """A decoder that gives one text of each reading a score; the other texts cannot be."""

    def __init__(self, scores: Mapping[str, float]) -> None:
        self.scores = scores
        self.asked: list[str] = []

    def score(self, frames: np.ndarray, texts: Sequence[str]) -> np.ndarray:
        """Give the score of each text."""
        assert frames is FRAMES
        self.asked += texts
        return np.array([self.scores.get(text, IMPOSSIBLE) for text in texts])


def sound(*tokens: Token) -> np.ndarray:
    """Make log-probabilities that spell some tokens: each phone for a step, then a blank."""
    phones = [phone for token in tokens for phone in WAYS[token.words[0]]]
    scores = np.full((2 * len(phones), len(PHONES) + 1), -8.0, np.float32)
    scores[1::2, 0] = -0.1
    scores[np.arange(0, 2 * len(phones), 2), [PHONES.index(p) + 1 for p in phones]] = -0.1
    return scores


def judged(
    found: Sequence[Reading],
    decoder: MadeUp,
    *,
    own: frozenset[Meaning] = frozenset(),
    written: float = -2.0,
    heard: Sequence[Token] = (GAUZE, NUMBERS[1], NUMBERS[2]),
) -> Verdict:
    """Judge readings of a sound."""
    evidence = Evidence(
        Hearing((sound(*heard),), (1.0,)), FRAMES, Written("Whatever.", written), own
    )
    return judge(found, evidence, cast("Decoder", decoder))


LEAPS = [
    (Meaning(Form.RUN, None, (1, 2, 3)), False),
    (Meaning(Form.RUN, None, (7,)), False),
    (Meaning(Form.RUN, None, (1, 2, 4)), False),
    (Meaning(Form.RUN, None, (1, 2, 2, 3)), False),
    (Meaning(Form.RUN, None, (1, 2, 5)), True),
    (Meaning(Form.RUN, None, (1, 5)), False),
    (Meaning(Form.RUN, None, (15, 1, 5)), False),
    (Meaning(Form.RUN, None, (2, 5)), True),
    (Meaning(Form.RUN, None, (3, 2)), True),
    (Meaning(Form.RUN, None, (4, 1, 2, 3)), True),
    (Meaning(Form.RUN, "gauze", (4, 1, 2, 3)), False),
    (Meaning(Form.NOT_COUNTED, None, (9, 1)), False),
]


@pytest.mark.parametrize(("meaning", "leaping"), LEAPS)
def test_only_a_run_alone_can_leap(meaning: Meaning, leaping: bool) -> None:
    """A run alone leaps if it goes back, or on by more than a skipped number."""
    assert leaps(meaning) is leaping


def test_a_total_is_what_both_give() -> None:
    """A share of the decoder's score and the head's are added; each reading has its own texts."""
    yes = Meaning(Form.COMMAND, command="yes")
    found = [
        run(1, 2, head=-4.5),
        reading(yes, [Token(Tag.COMMAND, ("yes",), "yes")], -6.0),
        run(1, head=-8.0),
    ]
    given = judged(found, MadeUp({"Gauze 1 2.": -5.0, "Yes.": -3.0, "Gauze, one.": -11.0}))

    assert {score.meaning: score.decoder for score in given.scores} == pytest.approx(
        {found[0].meaning: -5.0, yes: -3.0, found[2].meaning: -11.0}
    )
    assert {score.meaning: score.total for score in given.scores} == pytest.approx(
        {
            found[0].meaning: both(-5.0, -4.5),
            yes: both(-3.0, -6.0),
            found[2].meaning: both(-11.0, -8.0),
        }
    )
    assert given.best is found[0]
    assert [score.head for score in given.scores] == [-4.5, -6.0, -8.0]


def test_spellings_are_summed() -> None:
    """Two texts of one reading, each as likely as the other, are twice as likely together."""
    given = judged([run(1, 2)], MadeUp({"Gauze 1 2.": -5.0, "Gauze, one, two.": -5.0}))

    assert given.scores[0].decoder == pytest.approx(-5.0 + np.log(2))


def test_a_leap_and_a_name_alone_cost_their_oddity() -> None:
    """Of readings that both judges like the same, a leap and a name come later by their costs."""
    name = reading(Meaning(Form.NAME, "gauze"), [GAUZE], -1.0)
    odd = [run(4, 1, name=False), name, run(4, 1), run(4, 5, name=False), run(4, 6, name=False)]
    texts = ("4 1.", "Gauze.", "Gauze 4 1.", "4 5.", "4 6.")
    given = judged(odd, MadeUp(dict.fromkeys(texts, -3.0)))
    total = {score.meaning: score.total for score in given.scores}
    plain = both(-3.0, -1.0)

    assert [total[one.meaning] - plain for one in odd] == pytest.approx(
        [-judges.LEAP_COST, -judges.NAME_COST, 0, 0, 0]
    )
    assert judges.LEAP_COST > judges.NAME_COST > 0
    assert given.scores[-1].meaning == odd[0].meaning


def test_below_its_floor_the_decoder_has_no_say() -> None:
    """Two texts below the floor count the same, so the head decides; above it they differ."""
    floor = judges.DECODER_FLOOR
    found = [run(1, 2, head=-3.0), run(1, head=-9.0)]
    below = judged(found, MadeUp({"Gauze 1 2.": floor - 90, "Gauze 1.": floor - 1}))
    above = judged(found, MadeUp({"Gauze 1 2.": floor - 90, "Gauze 1.": floor + 20}))

    assert below.best is found[0]
    assert below.margin == pytest.approx(6.0)
    assert below.ratio == pytest.approx(floor - 90 + 2.0), "what is strange stays strange"
    assert above.best is found[1]
    assert above.margin == pytest.approx(both(20, -6.0))


def test_what_the_decoder_wrote_is_judged_wherever_the_head_puts_it() -> None:
    """Beyond the first few, only a reading that the decoder wrote is judged, and it can win."""
    found = [run(*range(1, 1 + n), head=-float(n)) for n in range(1, 1 + judges.JUDGED)]
    found += [run(6, head=-7.0), run(5, head=-7.5)]
    texts = {"Gauze 5.": -1.0, "Gauze 6.": -1.0, "Gauze 1.": -20.0}
    without = judged(found, MadeUp(texts))
    decoder = MadeUp(texts)
    given = judged(found, decoder, own=frozenset({found[-1].meaning, found[0].meaning}))

    first = [one.meaning for one in found[: judges.JUDGED]]
    assert {score.meaning for score in without.scores} == set(first)
    assert without.best is found[0]
    assert given.best is found[-1]
    judged_now = [score.meaning for score in given.scores]
    assert sorted(judged_now, key=str) == sorted([*first, found[-1].meaning], key=str)
    assert "Gauze 6." not in decoder.asked
    assert len(decoder.asked) == len(set(decoder.asked)), "nothing is judged twice"


def test_the_margin_is_the_lead_over_the_second_best() -> None:
    """The margin is the distance to the second total, not to the last nor to the next found."""
    found = [run(1, 2), run(1), run(1, 2, 3)]
    given = judged(found, MadeUp({"Gauze 1 2.": -4.0, "Gauze 1.": -15.0, "Gauze 1 2 3.": -10.0}))

    assert given.margin == pytest.approx(both(6.0, 0.0))
    assert [score.total for score in given.scores] == sorted(
        (score.total for score in given.scores), reverse=True
    )


def test_a_reading_without_a_rival_leads_by_far() -> None:
    """With nothing to lead, the margin is the one for a reading alone, however poor it is."""
    given = judged([run(1, 2, head=-70.0)], MadeUp({"Gauze 1 2.": -80.0}))

    assert given.margin == judges.ALONE


def test_what_both_judges_miss_shows() -> None:
    """A poorer text shows in the ratio; sound that is not in the reading shows as strain."""
    decoder = MadeUp({"Gauze 1 2.": -9.0})
    fits = judged([run(1, 2)], decoder)
    long_ago = judged([run(1, 2)], decoder, written=-1.0)
    heard = (GAUZE, NUMBERS[1], NUMBERS[2], NUMBERS[6])
    misfits = judged([run(1, 2)], decoder, heard=heard)

    assert fits.ratio == pytest.approx(-9.0 + 2.0)
    assert fits.strain == 0
    assert (fits.stray, fits.strays) == (0, 0)
    assert long_ago.ratio == pytest.approx(-9.0 + 1.0)
    # Each of the four phones of "six" has 7.9 nats that the reading misses.
    assert misfits.strain == pytest.approx(4 * 7.9, abs=1e-3)
    assert misfits.strays == misfits.stray >= 3


def test_the_places_are_those_of_the_best_reading() -> None:
    """The alignment runs through every phone of the reading that won, in order."""
    found = [run(1, head=-1.0), run(1, 2, head=-2.0)]
    given = judged(found, MadeUp({"Gauze 1.": -20.0, "Gauze 1 2.": -1.0}))

    assert given.best is found[1]
    assert given.places.tolist() == list(range(1, 2 * len(found[1].phones) + 1))
