"""The rooms of the hearing benchmark: as loud as they say, the same each time, two of each kind."""

import numpy as np
import pytest

from benchmarks import rooms

RATE = rooms.RATE


def voice() -> np.ndarray:
    """Make two seconds that are as loud all along."""
    return np.sin(np.arange(2 * RATE) * 0.3).astype(np.float32)


def heard(condition: str, part: str, seed: int = 1) -> np.ndarray:
    """Put the voice into a room."""
    rng = np.random.default_rng(seed)
    others = [np.random.default_rng(k).normal(0, 1, RATE).astype(np.float32) for k in range(3)]
    return np.asarray(rooms.in_room(voice(), condition, part, rng, others))


@pytest.mark.parametrize("part", ["tune", "test"])
@pytest.mark.parametrize(
    "condition", [*rooms.CONDITIONS, *(c for c in rooms.WIDE if not c.startswith(rooms.BOTH))]
)
def test_noise_is_as_loud_as_it_says(condition: str, part: str) -> None:
    """The noise lies as far under the voice as the condition's name tells, in dB."""
    sound = heard(condition, part)
    clean = np.concatenate([np.zeros(RATE // 2), 0.25 * voice(), np.zeros(RATE // 2)])
    level = 10 * np.log10(((0.25 * voice()) ** 2).mean())
    noise = 10 * np.log10(((sound - clean) ** 2).mean())
    wanted = float(condition.split()[1]) if " " in condition else 45.0

    assert level - noise == pytest.approx(wanted, abs=0.1)


@pytest.mark.parametrize("condition", rooms.CONDITIONS)
def test_a_seed_gives_the_same_room_and_another_seed_another(condition: str) -> None:
    """Clips can be made again."""
    assert np.array_equal(heard(condition, "test"), heard(condition, "test"))
    assert not np.array_equal(heard(condition, "test"), heard(condition, "test", seed=2))


def test_each_voice_leaks_into_the_other_microphone_as_much_weaker_as_it_says() -> None:
    """Two channels: the other person stands 20 dB under their own microphone in the first one."""
    rng = np.random.default_rng(3)
    spoken = rng.normal(0, 1, 2 * RATE).astype(np.float32)
    other = rng.normal(0, 1, 3 * RATE).astype(np.float32)
    sound = rooms.both_channels(spoken, "crosstalk 20 dB", rng, [other])
    scrub, circulator = sound.T
    alone = scrub[RATE : RATE + len(spoken)]

    assert sound.ndim == 2
    assert np.corrcoef(alone, spoken)[0, 1] > 0.98
    at = int(np.argmax(np.correlate(circulator, other, "valid")))
    own = circulator[at : at + len(other)]
    share = np.dot(scrub[at : at + len(other)], other) / np.dot(own, other)
    assert 20 * np.log10(abs(share)) == pytest.approx(-20, abs=2)


def test_conditions_are_read_by_name_and_by_list() -> None:
    """Any kind at any level is taken, lists stand for their members, each once."""
    assert rooms.conditions("quiet, pink 7.5 dB,quiet") == ["quiet", "pink 7.5 dB"]
    assert rooms.conditions("all") == list(rooms.CONDITIONS)
    assert len(rooms.conditions("all,wide")) == len(rooms.CONDITIONS) + len(rooms.WIDE)


@pytest.mark.parametrize("name", ["loud", "pink", "pink 10", "thunder 10 dB", ""])
def test_a_condition_that_is_none_is_refused_in_one_line(name: str) -> None:
    """The message names what was given and what could be."""
    with pytest.raises(SystemExit, match="is none; write 'quiet'"):
        rooms.conditions(name)


def test_the_parts_make_noise_in_ways_of_their_own() -> None:
    """No kind of noise is made in one way for tuning and for testing."""
    for kind, maker in rooms.MAKERS["tune"].items():
        assert maker is not rooms.MAKERS["test"][kind]
        one, other = heard(f"{kind} 10 dB", "tune"), heard(f"{kind} 10 dB", "test")
        assert not np.allclose(one, other, atol=1e-3)
