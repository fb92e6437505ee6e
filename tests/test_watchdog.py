"""The watchdog: codes and times from blocks and levels alone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecount.sound.watchdog import NOTICE_SECONDS, Change, Code, Health, Watchdog

STEP = 0.02


def run(dog: Watchdog, begins: float, seconds: float, *alive: bool) -> list[Change]:
    """Feed blocks of 20 ms whose channels change or not."""
    changes = []
    for step in range(round(seconds / STEP)):
        changes += dog.block(begins + step * STEP, alive)
    return changes


def codes(changes: list[Change]) -> list[tuple[Code, int | None]]:
    return [(change.code, change.channel) for change in changes]


def test_a_microphone_that_works_is_no_news() -> None:
    """Blocks with sound on every channel change nothing."""
    dog = Watchdog(2, 0.0)

    assert run(dog, 0.0, 5.0, True, True) == []
    assert dog.health is Health.OK


def test_a_device_that_is_gone_is_noticed_once_and_within_a_second() -> None:
    """Without blocks one change says so, in less than a second, and not again."""
    dog = Watchdog(1, 0.0)
    run(dog, 0.0, 1.0, True)
    changes = [change for step in range(300) for change in dog.tick(1.0 + step * 0.01)]

    assert codes(changes) == [(Code.GONE, None)]
    assert changes[0].at - 0.98 <= 1.0
    assert dog.health is Health.GONE


def test_a_device_that_never_begins_is_gone() -> None:
    """Opened, and not one block: the same as gone."""
    assert codes(Watchdog(1, 5.0).tick(5.9)) == [(Code.GONE, None)]


def test_a_device_that_is_back_is_told_with_its_absence() -> None:
    """The first block after an absence says that it is back, and how long it was away."""
    dog = Watchdog(1, 0.0)
    run(dog, 0.0, 1.0, True)
    dog.tick(2.0)
    [back] = dog.block(7.98, [True])

    assert back == Change(Code.BACK, 7.98, None, pytest.approx(7.0))
    assert dog.health is Health.OK


def test_one_dead_channel_of_two_is_named() -> None:
    """A channel that gives nothing is silent; the other one is not."""
    dog = Watchdog(2, 0.0)
    run(dog, 0.0, 1.0, True, True)
    changes = run(dog, 1.0, 2.0, True, False)

    assert codes(changes) == [(Code.SILENT, 1)]
    assert changes[0].at - 0.98 <= 1.0
    assert (dog.silent(0), dog.silent(1)) == (False, True)
    assert dog.health is Health.SILENT
    assert codes(run(dog, 3.0, 1.0, True, True)) == [(Code.HEARD, 1)]
    assert dog.health is Health.OK


def test_a_short_silence_is_no_news() -> None:
    """Zeros for less than the limit change nothing."""
    dog = Watchdog(1, 0.0)
    changes = run(dog, 0.0, 0.7, False) + run(dog, 0.7, 0.1, True) + run(dog, 0.8, 0.7, False)

    assert changes == []


def test_a_device_that_comes_back_dead_is_told_again() -> None:
    """Back, and then silent: both are told, the silence counted from the return."""
    dog = Watchdog(1, 0.0)
    run(dog, 0.0, 1.0, True)
    dog.tick(3.0)
    changes = run(dog, 5.0, 2.0, False)

    assert codes(changes) == [(Code.BACK, None), (Code.SILENT, 0)]
    assert changes[1].at == pytest.approx(5.0 + NOTICE_SECONDS, abs=2 * STEP)


def test_a_late_block_tells_of_the_absence_before_it() -> None:
    """A reader that slept through an absence still learns of it, in order."""
    dog = Watchdog(1, 0.0)
    dog.block(0.0, [True])

    assert codes(dog.block(4.0, [True])) == [(Code.GONE, None), (Code.BACK, None)]


@given(st.lists(st.tuples(st.sampled_from(["alive", "dead", "none"]), st.integers(1, 200))))
def test_every_change_leads_to_another_state(script: list[tuple[str, int]]) -> None:
    """Whatever happens, gone and back alternate, silent and heard alternate, and times ascend."""
    dog, now, changes = Watchdog(1, 0.0), 0.0, []
    for kind, steps in script:
        for _ in range(steps):
            now += STEP
            changes += dog.tick(now) if kind == "none" else dog.block(now, [kind == "alive"])
    device = [change.code for change in changes if change.channel is None]
    channel = [change.code for change in changes if change.channel == 0]

    assert device == [Code.GONE, Code.BACK] * (len(device) // 2) + [Code.GONE] * (len(device) % 2)
    assert channel == [Code.SILENT, Code.HEARD] * (len(channel) // 2) + [Code.SILENT] * (
        len(channel) % 2
    )
    assert [change.at for change in changes] == sorted(change.at for change in changes)
    assert all(change.seconds >= 0 for change in changes)
