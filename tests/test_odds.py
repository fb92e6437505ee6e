"""The committed odds, and the signs that they are made of."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from tests.test_decide import GAUZE, run, verdict
from voicecount.errors import ModelError
from voicecount.hear.embedded.odds import Line, Odds
from voicecount.hear.embedded.signs import FAR, signs
from voicecount.words.meaning import Form, Meaning

ODDS = Odds.load()


def test_the_committed_odds_know_the_signs_of_a_verdict() -> None:
    """Every weight belongs to a sign that exists, and every sign has its weight."""
    seen = signs(verdict(GAUZE, run(1, 2, item="gauze")))

    assert list(ODDS.wrong.weights) == list(seen)
    assert list(ODDS.talk.weights) == list(seen)


def test_the_limits_rise() -> None:
    """A higher rate of wrong numbers never accepts less."""
    rates, limits = zip(*ODDS.limits, strict=True)

    assert list(rates) == sorted(set(rates))
    assert list(limits) == sorted(limits)
    assert 0 < ODDS.limit(1.0) < 1


def test_a_probability_is_the_logistic_of_the_sum() -> None:
    """Odds of one to three are a probability of a quarter (from the definition of odds)."""
    line = Line({"a": 1.0, "b": -2.0}, 0.5)

    assert line.probability({"a": 0.4013877, "b": 1.0}) == pytest.approx(0.25)
    assert line.probability({"a": 1e9, "b": 0.0}) == pytest.approx(1.0)
    assert line.probability({"a": -1e9, "b": 0.0}) < 1e-20


WORSE = [
    {"lead": 1.0},
    {"strain": 30.0},
    {"ratio": -25.0},
    {"strays": 5},
]


@pytest.mark.parametrize("change", WORSE)
def test_what_speaks_against_a_reading_makes_it_likelier_to_be_wrong(
    change: dict[str, float],
) -> None:
    """A near rival, a poor fit, a poor text and stray sounds each raise the probability."""
    rival = run(1, 2, item="gauze")
    good = signs(verdict(GAUZE, rival))
    bad = signs(verdict(GAUZE, rival, **change))  # type: ignore[arg-type]

    assert ODDS.wrong.probability(bad) > 1.5 * ODDS.wrong.probability(good)


def test_signs_have_bounds() -> None:
    """One absurd score cannot outweigh all other signs."""
    far = signs(verdict(GAUZE, run(1, item="gauze"), 1e6, ratio=-1e6, strain=1e6, strays=10**6))

    assert far["lead"] == FAR
    assert far["ratio"] == -40.0
    assert far["strain"] == 40.0
    assert far["strays"] == 8.0
    assert far["over_any_0"] == 15.0
    assert far["decoder_over_any"] == 0.0


def test_a_reading_without_a_rival_leads_by_far() -> None:
    """With nothing beside it, every lead is as good as any."""
    alone = signs(verdict(Meaning(Form.COMMAND, command="yes")))

    assert (alone["lead"], alone["lead_other_name"], alone["lone"]) == (FAR, FAR, 0.0)
    assert alone["over_next_2"] == 15.0
    assert alone["decoder_over_next"] == 12.0


def test_signs_do_not_know_what_is_expected() -> None:
    """No sign is named for a sheet, an expected total or a package."""
    names = " ".join(signs(verdict(GAUZE)))

    assert not any(word in names for word in ("expect", "pack", "sheet", "total"))


@pytest.mark.parametrize("text", ["", "{", "{}", '{"wrong": 1}', "[]"])
def test_damaged_odds_are_told_in_one_line(tmp_path: Path, text: str) -> None:
    """A file that cannot be read says so, and what to do."""
    path = tmp_path / "odds.json"
    path.write_text(text)

    with pytest.raises(ModelError, match=r"odds: .*odds\.json cannot be read .*reinstall"):
        Odds.load(path)


def test_the_file_says_what_it_was_fitted_on() -> None:
    """The record names the fit, and the file how many counts it saw."""
    path = Path(__file__).parent.parent / "voicecount/hear/embedded/weights/odds.json"
    kept = json.loads(path.read_text())

    assert kept["version"] == ODDS.version
    assert kept["fitted_on"]["counts"] > 500
    assert replace(ODDS, version="x").limit(1.0) == ODDS.limit(1.0)
