"""Two devices as one source: absence, stalls, changes and accounts, all on fake cards."""

from functools import partial
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from pair_rig import PairRig, apart, laid_out

from voicecount.keep.clock import SystemClock
from voicecount.sound.choose import Device
from voicecount.sound.device import PATIENCE_SECONDS, DeviceSource
from voicecount.sound.frame import RATE, Frame
from voicecount.sound.pair import WAIT_SECONDS, PairSource, choose_two
from voicecount.sound.playback import FileCapture
from voicecount.sound.portaudio import DeviceError
from voicecount.sound.segment import Segmenter
from voicecount.sound.watchdog import Code, Health

RATES = [(16_000, 16_000), (44_100, 48_000), (48_000, 44_100), (8_000, 96_000)]


def lost_at(frames: list[Frame]) -> list[float]:
    return [round(frame.start, 1) for frame in frames if frame.lost]


@pytest.mark.parametrize("rates", RATES)
def test_two_devices_are_two_channels_of_one_time(rates: tuple[int, int]) -> None:
    """Whatever their rates, a click that both hear is in both channels at one time, and whole."""
    rig = PairRig(8.0, rates)
    frames = rig.read(7.5)

    assert rig.source.channels == 2
    assert len(apart(frames)) >= 6
    assert max(map(abs, apart(frames))) < 1.0
    assert not lost_at(frames)
    assert rig.changes == []
    assert rig.source.health is Health.OK
    assert rig.source.account.missing == 0.0
    assert rig.source.account.delivered == pytest.approx(15.0, abs=0.5)
    rig.check_accounts()


def test_the_first_device_is_channel_zero() -> None:
    """Each device is heard on its own channel, and on no other one."""
    time = np.arange(3 * RATE) / RATE
    tones = [(0.3 * np.sin(2 * np.pi * hertz * time)).astype(np.float32) for hertz in (300, 800)]
    sound = laid_out(PairRig(3.0, sounds=(tones[0], tones[1])).read(2.9))[RATE : 2 * RATE]

    assert np.argmax(np.abs(np.fft.rfft(sound, axis=0)), axis=0).tolist() == [300, 800]


@pytest.mark.parametrize("rates", RATES)
def test_what_a_pair_adds_to_the_wait_is_small(rates: tuple[int, int]) -> None:
    """Where nothing stalls, frames come no later than the slower device and one more frame."""
    rig = PairRig(8.0, rates)
    rig.read(7.5)
    usual = []
    for card in PairRig(8.0, rates).cards:
        clock = card._clock
        alone = DeviceSource(card.opener, 1, clock)
        while clock.monotonic() < 7.5:
            frame = alone.read(0.1)
            if frame is not None and frame.start > 1.0:
                usual.append(alone.now() - frame.start - len(frame.samples) / RATE)

    assert max(rig.late[31:]) <= max(usual) + 0.032 + 0.011


@pytest.mark.parametrize("away", [0, 1])
def test_one_device_goes_and_comes_back(away: int) -> None:
    """Its channel is silent meanwhile, both ends of that are marked, the other one is whole."""
    rig = PairRig(16.0, (44_100, 48_000))
    rig.cards[away].unplug(4.0, 9.0)
    frames = rig.read(15.0)
    sound = laid_out(frames)
    there = 1 - away

    assert rig.codes() == [(Code.GONE, away), (Code.BACK, away)]
    assert not sound[round(4.2 * RATE) : 9 * RATE, away].any()
    assert all(
        np.abs(sound[round((at - 0.1) * RATE) : round((at + 0.1) * RATE), there]).max() > 0.3
        for at in range(1, 14)
    )
    assert [at for at in lost_at(frames) if not 3.8 <= at <= 4.1 and not 9.0 <= at <= 10.1] == []
    assert {min(lost_at(frames)) < 4.2, max(lost_at(frames)) > 8.9} == {True}
    assert rig.source.account.lanes[there].filled == 0
    assert rig.source.account.lanes[away].filled / RATE == pytest.approx(5.5, abs=0.6)
    assert max(map(abs, apart(frames))) < 2.5
    assert all(
        after.start == pytest.approx(before.start + len(before.samples) / RATE)
        for before, after in pairwise(frames)
    )
    rig.check_accounts()


def test_the_pair_is_gone_only_when_both_are() -> None:
    """One gone is one channel silent; both gone is no frame at all, then a gap that is marked."""
    rig = PairRig(20.0)
    rig.cards[0].unplug(3.0, 10.0)
    rig.cards[1].unplug(6.0, 12.0)
    rig.read(5.0)
    assert rig.source.health is Health.SILENT
    rig.read(9.5)
    assert rig.source.health is Health.GONE
    assert rig.frames[-1].start + len(rig.frames[-1].samples) / RATE < 6.1
    rig.read(19.0)

    assert rig.source.health is Health.OK
    gaps = [
        (before, after)
        for before, after in pairwise(rig.frames)
        if after.start - before.start - len(before.samples) / RATE > 0.001
    ]
    assert [(before.start < 6.1, after.start > 9.9, after.lost) for before, after in gaps] == [
        (True, True, True)
    ]
    assert max(map(abs, apart(rig.frames))) < 2.5
    assert rig.source.now() == pytest.approx(rig.clock.monotonic(), abs=0.05)
    rig.check_accounts()


def test_whoever_reads_has_a_turn_when_a_device_changes() -> None:
    """With no sound at all an empty frame comes with the news, so that it can be said."""
    rig = PairRig(20.0)
    for card in rig.cards:
        card.unplug(3.0, 99.0)
    rig.read(2.5)
    while not rig.changes:
        frame = rig.source.read(1.0)
    assert frame is not None
    assert len(frame.samples) == 0
    assert not frame.lost
    assert rig.clock.monotonic() < 4.0
    assert [Segmenter(2).feed(frame)] == [[]]


@pytest.mark.parametrize("never", [0, 1])
def test_a_device_that_never_gives_sound_holds_nothing_up(never: int) -> None:
    """After the time a device may take to begin, the other one goes on alone, all its sound."""
    rig = PairRig(10.0)
    rig.cards[never].stall(0.0, 99.0)
    frames = rig.read(9.0)
    there = laid_out(frames)[:, 1 - never]

    assert frames[0].start == pytest.approx(0.0, abs=0.01)
    assert min(rig.late) < 0.1
    assert rig.codes() == [(Code.GONE, never)]
    assert np.count_nonzero(np.abs(there) > 0.2) >= 8
    assert not laid_out(frames)[:, never].any()
    rig.check_accounts()


def test_a_first_device_that_comes_late_becomes_the_master() -> None:
    """Sound goes on without a gap, the two fit, and time does not go back."""
    rig = PairRig(20.0, slow=(0.0001, -0.0001))
    rig.cards[0].stall(0.0, 7.0)
    frames = rig.read(19.0)

    assert len(apart(frames)) >= 10
    assert max(map(abs, apart(frames))) < 4.0
    assert [at for at in lost_at(frames) if at > 8.5] == []
    assert all(after.start >= before.start for before, after in pairwise(frames))
    rig.check_accounts()


def test_a_device_that_begins_later_waits_for_nobody_twice() -> None:
    """What the first one gave before both were there is dropped and told; nothing is lost then."""
    rig = PairRig(10.0)
    rig.cards[1].stall(0.0, 1.0)
    rig.cards[1].lose(0.0, 1.0, reported=False)
    frames = rig.read(9.0)

    assert frames[0].start > 0.5
    assert not lost_at(frames)
    assert rig.source.account.lanes[0].early / RATE == pytest.approx(frames[0].start, abs=0.001)
    assert rig.source.account.missing == 0.0
    rig.check_accounts()


@pytest.mark.parametrize("stalled", [0, 1])
def test_a_stalled_device_holds_the_other_back_for_a_bounded_time(stalled: int) -> None:
    """The other one's sound comes after WAIT_SECONDS at most, and soon again without delay."""
    rig = PairRig(20.0)
    rig.cards[stalled].stall(5.0, 7.0)
    rig.read(19.0)
    held = [late for late in rig.late[31:] if late > 0.06]

    assert max(rig.late[31:]) < WAIT_SECONDS + 0.032 + 0.02
    assert len(held) * 0.032 < 2 * WAIT_SECONDS + 0.3
    assert rig.source.account.lanes[1 - stalled].filled == 0
    rig.check_accounts()


def test_a_short_stall_loses_nothing() -> None:
    """Sound that comes a fifth of a second late, all at once, is all handed on, unmarked."""
    rig = PairRig(10.0)
    rig.cards[1].stall(5.0, 5.2)
    frames = rig.read(9.0)

    assert not lost_at(frames)
    assert rig.source.account.missing == 0.0
    assert [account.late for account in rig.source.account.lanes] == [0, 0]


def test_a_busy_reader_loses_nothing() -> None:
    """Sound of both that waited for ten seconds is handed on whole: it did not come late."""
    rig = PairRig(30.0, (48_000, 44_100))
    rig.read(5.0)
    rig.clock.advance(10.0)
    frames = rig.read(29.0)

    assert not lost_at(frames)
    assert rig.source.account.missing == 0.0
    assert len(apart(frames)) >= 27


def test_a_dead_microphone_is_told_with_its_channel() -> None:
    """Exact zeros of one device are told for its own channel, as is their end."""
    rig = PairRig(
        9.0,
        sounds=tuple(np.random.default_rng(2).normal(0, 0.01, (2, 9 * RATE)).astype(np.float32)),
    )
    rig.cards[1].mute(2.0, 5.0)
    rig.read(8.5)

    assert rig.codes() == [(Code.SILENT, 1), (Code.HEARD, 1)]


@pytest.mark.parametrize("refusing", [0, 1])
def test_a_device_that_cannot_be_opened_at_first_is_an_error(refusing: int) -> None:
    """Before anything was heard the error is raised, and the other device is let go."""
    rig = PairRig(5.0)
    rig.cards[refusing].refuse(0.0, 99.0)
    with pytest.raises(DeviceError):
        next(rig.source.frames())

    assert [card._capture for card in rig.cards] == [None, None]


@pytest.mark.parametrize("longer", [0, 1])
def test_recordings_take_the_place_of_both(tmp_path: Path, longer: int) -> None:
    """The pair ends with the longer one, and the rest of the shorter one is silence."""
    clock, lengths = SystemClock(), [0.5, 0.5]
    lengths[longer] = 0.8
    makers = []
    for number, seconds in enumerate(lengths):
        path = tmp_path / f"{number}.wav"
        soundfile.write(path, np.full(round(seconds * 8000), 0.1, np.float32), 8000)
        capture = FileCapture(path, clock)
        makers.append(partial(DeviceSource, lambda capture=capture: capture, 1, clock))
    pair = PairSource(makers, clock)
    sound = laid_out(list(pair.frames()))

    assert pair.ended
    assert pair.read(0.0) is None
    assert np.count_nonzero(sound[:, longer] > 0.05) / RATE == pytest.approx(0.8, abs=0.06)
    assert np.count_nonzero(sound[:, 1 - longer] > 0.05) / RATE == pytest.approx(0.5, abs=0.06)


def test_time_stands_still_before_anything_was_heard() -> None:
    """Until the pair begins its time is 0 and nothing comes; then it runs with the clock."""
    rig = PairRig(9.0)
    assert rig.source.now() == 0.0
    rig.read(0.1)
    assert (rig.source.now(), rig.frames) == (0.0, [])
    rig.read(PATIENCE_SECONDS)
    assert rig.source.now() == pytest.approx(rig.clock.monotonic(), abs=0.05)


LEFT, RIGHT = Device(0, "Left", "ALSA", 1, 48_000, default=True), Device(1, "Right", "ALSA", 2, 1)


def test_two_microphones_are_two_devices() -> None:
    """One device under two names, or twice the system's own, is one line with what to do."""
    assert choose_two((LEFT, RIGHT), None, "right") == (LEFT, RIGHT)
    for names in (("left", "LEFT"), (None, "left"), (None, None)):
        with pytest.raises(DeviceError, match=r"Left \(ALSA\).* for both people; name") as caught:
            choose_two((LEFT, RIGHT), *names)
        assert "\n" not in str(caught.value)


EVENTS = st.lists(
    st.tuples(
        st.sampled_from(["lose", "lose unreported", "unplug", "stall"]),
        st.floats(0.05, 2.5),
        st.floats(0.5, 2.0),
    ),
    max_size=4,
)


@settings(max_examples=60, deadline=None)
@given(
    st.tuples(EVENTS, EVENTS),
    st.tuples(*[st.sampled_from([8_000, 11_025, 16_000])] * 2),
    st.tuples(*[st.floats(-0.0002, 0.0002)] * 2),
)
def test_all_sound_of_both_is_accounted_for(
    scripts: tuple[list[tuple[str, float, float]], list[tuple[str, float, float]]],
    rates: tuple[int, int],
    slow: tuple[float, float],
) -> None:
    """Whatever two devices do, every sample was handed on, dropped or added, and told.

    No frame goes back in time, every gap and every beginning or end of silence is marked, and the
    time of the stream is that of the clock.
    """
    ends = [1.0 + sum(length + pause for _, length, pause in script) for script in scripts]
    end = max(ends) + 2.0
    rig = PairRig(end + 1.0, rates, slow)
    for card, script in zip(rig.cards, scripts, strict=True):
        now = 1.0
        for kind, length, pause in script:
            if kind == "unplug":
                card.unplug(now, now + length)
            elif kind == "stall":
                card.stall(now, now + length)
            else:
                card.lose(now, length, reported=kind == "lose")
            now += length + pause
    frames = [frame for frame in rig.read(end) if len(frame.samples)]

    rig.check_accounts()
    for account, device in zip(rig.source.account.lanes, rig.source.account.devices, strict=True):
        assert account.came / RATE == pytest.approx(device.delivered, abs=0.17)
    for before, after in pairwise(frames):
        gap = after.start - (before.start + len(before.samples) / RATE)
        assert gap > -1e-6
        assert after.lost or gap < 1e-6
    for before, after in pairwise(frames):
        for channel in (0, 1):
            nothing = [not frame.samples[:, channel].any() for frame in (before, after)]
            assert nothing[0] == nothing[1] or before.lost or after.lost
    assert frames[-1].start == pytest.approx(rig.source.now(), abs=0.6)
