"""Frames to utterances: pauses, pre-roll, noise, two people, lost sound, and no cut words.

The voice is that of hibari-tts, the detector the real one; the rules themselves are tested on
chunks with given probabilities.
"""

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from recordings import DIGITS, MISSING, SPHINX, folder, read

from voicecount.sound.frame import RATE, Frame, Utterance
from voicecount.sound.level import own_stretch, rms_db
from voicecount.sound.segment import Segmenter, utterances
from voicecount.sound.speech import SegmentSettings, Speech
from voicecount.sound.voice import CHUNK, CHUNK_SECONDS, Voice

Sound = NDArray[np.float32]

ROOM = 10 ** (-60 / 20)
"""The noise of a quiet room, 60 dB under full scale."""


@cache
def voice() -> object:
    from hibari import Hibari  # noqa: PLC0415  (only the tests marked audio load the voice)

    return Hibari()


@cache
def say(text: str) -> Sound:
    """Give the text spoken, without the silence around it."""
    sound = soxr.resample(np.asarray(voice()(text, seed=0), np.float32), 24_000, RATE)  # type: ignore[operator]
    loud = np.flatnonzero(np.abs(sound) > 0.003)
    return np.asarray(sound[loud[0] : loud[-1] + 1], dtype=np.float32)


def silence(seconds: float) -> Sound:
    return np.zeros(round(seconds * RATE), dtype=np.float32)


def noise(kind: str, seconds: float, level: float) -> Sound:
    """Give noise at a level in dB under full scale."""
    rng = np.random.default_rng(5)
    count = round(seconds * RATE)
    white = rng.normal(0, 1, count)
    time = np.arange(count) / RATE
    if kind == "hum":  # mains at 50 Hz with its overtones
        sound = sum(np.sin(2 * np.pi * 50 * n * time) / n for n in range(1, 8)) + 0.01 * white
    else:
        spectrum = np.fft.rfft(white)
        hertz = np.fft.rfftfreq(count, 1 / RATE)
        if kind == "pink":
            spectrum /= np.sqrt(np.maximum(hertz, 1.0))
        if kind == "suction":
            spectrum[(hertz < 800) | (hertz > 4_000)] = 0
        sound = np.fft.irfft(spectrum, count)
        if kind == "suction":
            sound *= 1 + 0.8 * np.sin(2 * np.pi * 3 * time)
    return (sound / np.sqrt(np.mean(np.square(sound))) * 10 ** (level / 20)).astype(np.float32)


class Sounds:
    """A source of frames from arrays, one for each channel."""

    def __init__(self, *channels: Sound, frame: int = 512) -> None:
        longest = max(len(channel) for channel in channels)
        padded = [np.pad(channel, (0, longest - len(channel))) for channel in channels]
        self._sound = np.stack(padded, axis=1)
        self._frame = frame

    @property
    def channels(self) -> int:
        return self._sound.shape[1]

    def frames(self) -> Iterator[Frame]:
        for first in range(0, len(self._sound), self._frame):
            yield Frame(first / RATE, self._sound[first : first + self._frame])


def found(*channels: Sound, frame: int = 512) -> list[Utterance]:
    return list(utterances(Sounds(*channels, frame=frame)))


def in_room(*parts: Sound) -> Sound:
    sound = np.concatenate(parts)
    return sound + np.random.default_rng(9).normal(0, ROOM, len(sound)).astype(np.float32)


@pytest.mark.audio
def test_an_utterance_has_pre_roll_voice_and_tail() -> None:
    """The words lie whole inside, with at least half a second before and 0.3 s after them."""
    words = say("gauze, one, two, three, four, five")
    [utterance] = found(np.concatenate((silence(2), words, silence(2))))

    assert utterance.channel == 0
    assert utterance.start == pytest.approx(2.0, abs=0.15)
    assert utterance.end == pytest.approx(2.0 + len(words) / RATE, abs=0.15)
    assert utterance.start - utterance.offset >= 0.5
    stop = utterance.offset + len(utterance.samples) / RATE
    assert stop - (2.0 + len(words) / RATE) >= 0.3
    assert not utterance.lost
    assert not utterance.cut


@pytest.mark.audio
@pytest.mark.parametrize("word", ["six", "eight", "two", "no", "yes", "ten", "sixteen", "gauze"])
def test_a_single_short_word_is_one_utterance(word: str) -> None:
    """The shortest answers of a count are found, also soft ones, in a quiet room."""
    for gain in (1.0, 0.1):
        sound = in_room(silence(1.5), say(word) * np.float32(gain), silence(1.5))

        assert len(found(sound)) == 1


@pytest.mark.audio
@pytest.mark.parametrize("pause", [0.1, 0.3, 0.5, 0.7])
def test_a_pause_inside_sixteen_never_gives_six(pause: float) -> None:
    """However long someone hesitates below the end silence, the word stays in one utterance."""
    word = say("sixteen")
    middle = len(word) * 45 // 100
    halves = (word[:middle], silence(pause), word[middle:])
    [utterance] = found(np.concatenate((silence(1), *halves, silence(2))))

    assert utterance.end > 1.0 + middle / RATE + pause + 0.1


@pytest.mark.audio
def test_a_breath_between_two_numbers_stays_inside_and_a_silence_parts() -> None:
    """0.6 s between "three" and "four" is one utterance; 1.2 s makes two."""
    first, second = say("one, two, three"), say("four, five")

    together = found(np.concatenate((silence(1), first, silence(0.6), second, silence(2))))
    apart = found(np.concatenate((silence(1), first, silence(1.2), second, silence(2))))

    assert len(together) == 1
    assert len(apart) == 2


@pytest.mark.audio
@pytest.mark.parametrize("level", [-10.0, -30.0, -60.0])
@pytest.mark.parametrize("kind", ["white", "pink", "suction", "hum"])
def test_noise_alone_gives_no_utterance(kind: str, level: float) -> None:
    """Twenty seconds of noise at any level hold no words."""
    assert found(noise(kind, 20, level)) == []


@pytest.mark.audio
def test_silence_gives_no_utterance() -> None:
    """Neither digital silence nor no sound at all."""
    assert found(silence(20)) == []
    assert list(utterances(Sounds(silence(0)))) == []


@pytest.mark.audio
@pytest.mark.parametrize("kind", ["white", "pink"])
def test_words_in_noise_are_found_whole(kind: str) -> None:
    """At 10 dB the utterance still holds all words, and there is only one."""
    words = say("gauze, one, two, three, four, five")
    sound = np.concatenate((silence(4), words, silence(3)))
    active = 10 * np.log10(np.mean(np.square(words)))
    [utterance] = found(sound + noise(kind, len(sound) / RATE, active - 10))

    assert utterance.offset < 4.0 - 0.2
    assert utterance.offset + len(utterance.samples) / RATE > 4.0 + len(words) / RATE


@pytest.mark.audio
@pytest.mark.parametrize("leak", [-14.0, -20.0, -26.0])
@pytest.mark.parametrize("echo", [False, True])
def test_the_other_persons_voice_in_a_channel_is_no_utterance(leak: float, echo: bool) -> None:
    """Each person's words come once, from their own channel, also with the room's echo."""
    words, answer = say("gauze, one, two, three, four, five"), say("five")
    scrub = np.concatenate((silence(1), words, silence(4)))
    circulator = np.pad(np.concatenate((silence(len(words) / RATE + 2.5), answer)), (0, RATE))
    circulator = np.pad(circulator, (0, max(0, len(scrub) - len(circulator))))[: len(scrub)]
    rng = np.random.default_rng(2)
    way = np.zeros(5_000)
    way[80] = 1.0
    if echo:
        way[80:] += rng.normal(0, 0.03, 4_920) * np.exp(-np.arange(4_920) / 800)
    gain = 10 ** (leak / 20)

    def leaked(sound: Sound) -> Sound:
        return (gain * np.convolve(sound, way)[: len(sound)]).astype(np.float32)

    heard = found(
        in_room(scrub + leaked(circulator)),
        in_room(circulator + leaked(scrub)),
    )

    assert [utterance.channel for utterance in heard] == [0, 1]


@pytest.mark.audio
def test_two_people_who_speak_at_once_are_both_heard() -> None:
    """With both voices near their own microphones, nobody's words are dropped."""
    first = np.concatenate((silence(1), say("gauze, one, two, three, four, five"), silence(2)))
    second = np.concatenate((silence(2), say("can you call the ward please"), silence(2)))
    length = max(len(first), len(second))
    first, second = (np.pad(sound, (0, length - len(sound))) for sound in (first, second))
    tenth = np.float32(0.1)

    heard = found(in_room(first + tenth * second), in_room(second + tenth * first))

    assert sorted(utterance.channel for utterance in heard) == [0, 1]


@pytest.mark.audio
@pytest.mark.parametrize("gain", [1.0, 0.5])
def test_one_sound_in_both_channels_is_one_person(gain: float) -> None:
    """A mono recording saved as two channels never confirms itself."""
    words = np.concatenate((silence(1), say("gauze, one, two, three"), silence(2)))

    heard = found(words, words * np.float32(gain))

    assert [utterance.channel for utterance in heard] == [0]


@pytest.mark.audio
def test_softer_words_after_a_pause_are_cut_nowhere() -> None:
    """Words 20 dB softer that begin within the end silence become an utterance of their own."""
    name, run = say("gauze"), say("sixteen, seventeen") * np.float32(0.1)
    gap = 0.5
    sound = np.concatenate((silence(1), name, silence(gap), run, silence(2)))
    run_starts = 1.0 + len(name) / RATE + gap

    first, second = found(sound)

    assert first.offset + len(first.samples) / RATE <= run_starts + 0.1
    assert second.offset <= run_starts
    assert second.end == pytest.approx(run_starts + len(run) / RATE, abs=0.2)


@pytest.mark.audio
def test_lost_sound_marks_only_its_own_utterance() -> None:
    """A frame that says that sound was lost before it marks the utterance around it."""
    words = say("one, two, three")
    sound = np.concatenate((silence(1), words, silence(2), words, silence(2)))
    segmenter = Segmenter(1)
    heard = []
    for first in range(0, len(sound), 512):
        lost = first == 512 * 50
        frame = Frame(first / RATE, sound[first : first + 512, np.newaxis], lost)
        heard += segmenter.feed(frame)
    heard += segmenter.flush()

    assert [utterance.lost for utterance in heard] == [True, False]


@pytest.mark.audio
@pytest.mark.parametrize("gap", [0.2, 3.0])
def test_a_gap_in_the_time_line_marks_what_is_open_and_keeps_the_time(gap: float) -> None:
    """Words after a gap have the time at which they were said; words cut by it are marked."""
    words = say("gauze, one, two, three, four, five")
    half = len(words) // 2
    segmenter = Segmenter(1)
    before = np.concatenate((silence(1), words[:half]))
    after = np.concatenate((words[half:], silence(2)))
    resumed = len(before) / RATE + gap

    heard = segmenter.feed(Frame(0.0, before[:, np.newaxis]))
    heard += segmenter.feed(Frame(resumed, after[:, np.newaxis]))
    heard += segmenter.flush()

    assert all(utterance.lost for utterance in heard)
    assert len(heard) == (1 if gap < 0.8 else 2)
    assert heard[-1].end == pytest.approx(resumed + (len(words) - half) / RATE, abs=0.2)


@pytest.mark.audio
@pytest.mark.parametrize("frame", [100, 512, 1_600, 16_000])
def test_the_length_of_frames_changes_nothing(frame: int) -> None:
    """Any device's block size gives the same utterances."""
    sound = in_room(silence(1), say("gauze, one, two, three"), silence(1.5), say("ten"), silence(1))

    expected = [(u.start, u.end, len(u.samples)) for u in found(sound)]

    assert [(u.start, u.end, len(u.samples)) for u in found(sound, frame=frame)] == expected


@pytest.mark.audio
def test_what_is_being_said_can_be_looked_at() -> None:
    """While someone speaks, the utterance so far is there for partial results."""
    segmenter = Segmenter(2)
    sound = np.concatenate((silence(1), say("gauze, one, two, three")))
    frame = np.stack((sound, silence(len(sound) / RATE)), axis=1)

    assert segmenter.partial(0) is None
    segmenter.feed(Frame(0.0, frame))
    partial = segmenter.partial(0)

    assert segmenter.speaking(0)
    assert not segmenter.speaking(1)
    assert partial is not None
    assert partial.offset + len(partial.samples) / RATE > len(sound) / RATE - 0.2


@pytest.mark.audio
def test_the_detector_rests_in_silence_and_wakes_in_time() -> None:
    """After a long rest the first chunk of a vowel is found as soon as without one."""
    vowel = say("oh")
    chunks = [vowel[first : first + CHUNK] for first in range(0, len(vowel) - CHUNK, CHUNK)]

    def first_voiced(before: int) -> int:
        detector = Voice(-60.0, 4.0)
        for chunk in [np.zeros(CHUNK, dtype=np.float32)] * before:
            detector.measure(chunk)
            assert detector.probability(chunk) == 0.0
        for place, chunk in enumerate(chunks):
            detector.measure(chunk)
            if detector.probability(chunk) >= 0.5:
                return place
        raise AssertionError("no voice was found")

    assert first_voiced(1_000) <= first_voiced(7) + 1


def recorded(inside: str, pattern: str) -> list[Path]:
    place = folder(inside)
    if place is None:
        pytest.skip(MISSING)
    return sorted(place.glob(pattern))


@pytest.mark.audio
def test_recorded_people_are_found_whole() -> None:
    """Outside check: each card clip of Debian's pocketsphinx-testdata (BSD-2) is one utterance,
    and holds all that is near its speaker's level."""
    for path in recorded(f"{SPHINX}/cards", "*.wav"):
        sound = soundfile.read(path, dtype="float32")[0]
        first, stop = own_stretch(sound, pad=0.0)

        [utterance] = found(np.concatenate((silence(1), sound, silence(1))))

        assert utterance.offset <= 1.0 + first / RATE
        assert utterance.offset + len(utterance.samples) / RATE >= 1.0 + stop / RATE


@pytest.mark.audio
def test_each_recorded_number_is_one_utterance_in_quiet_and_in_noise() -> None:
    """Outside check: one professional speaker's 0 to 20 and the tens, of Debian's
    asterisk-core-sounds-en-g722 (CC BY-SA 3.0), at two levels, in quiet and at 12 dB."""
    paths = recorded(DIGITS, "[0-9]*.g722")
    numbers = [path for path in paths if path.stem.isdigit()]
    assert len(numbers) >= 28
    for path in numbers:
        word = read(path)
        for gain in (1.0, 0.1):
            sound = np.concatenate((silence(1), word, silence(1.5))) * np.float32(gain)
            level = rms_db(word * np.float32(gain))
            noisy = sound + noise("white", len(sound) / RATE, level - 12)

            assert len(found(sound)) == 1, path.stem
            assert len(found(noisy[: len(sound)])) == 1, path.stem


Given = tuple[float, float]
VOICE: Given = (0.9, -20.0)
QUIET: Given = (0.0, -70.0)


def cut(steps: list[Given], settings: SegmentSettings | None = None) -> list[Utterance]:
    """Run chunks with given probability and level through one channel; each holds its number."""
    speech = Speech(0, settings or SegmentSettings())
    heard = []
    for number, (probability, level) in enumerate(steps):
        chunk = np.full(CHUNK, number, dtype=np.float32)
        heard.append(speech.feed(chunk, probability, level, ()))
    heard += list(speech.close_all(()))
    return [utterance for utterance in heard if utterance is not None]


def chunk_numbers(utterance: Utterance) -> list[int]:
    return [int(number) for number in utterance.samples[::CHUNK]]


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(4, 30), st.integers(1, 60)), min_size=1, max_size=8))
def test_every_voiced_chunk_is_in_exactly_one_utterance(runs: list[tuple[int, int]]) -> None:
    """Utterances come in order, hold every voiced chunk, and part exactly at long silences."""
    steps = [step for voiced, quiet in runs for step in [VOICE] * voiced + [QUIET] * quiet]
    end_silence = round(0.8 / CHUNK_SECONDS)

    heard = cut(steps)

    pauses = [quiet for _, quiet in runs[:-1] if quiet >= end_silence]
    assert len(heard) == len(pauses) + 1
    assert [u.end for u in heard] == sorted(u.end for u in heard)
    voiced = [number for number, step in enumerate(steps) if step == VOICE]
    times = [(u.start - 1e-6, u.end + 1e-6) for u in heard]
    for number in voiced:
        holding = [
            start <= number * CHUNK_SECONDS and (number + 1) * CHUNK_SECONDS <= end
            for start, end in times
        ]
        assert holding.count(True) == 1
    assert set(voiced) <= {number for u in heard for number in chunk_numbers(u)}


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0, 1), st.floats(-80, 0)),
        min_size=1,
        max_size=400,
    )
)
def test_samples_lie_where_the_utterance_says(steps: list[Given]) -> None:
    """Whatever the detector gives, the samples are one stretch that begins at the offset."""
    for utterance in cut(steps):
        numbers = chunk_numbers(utterance)
        assert numbers == list(range(numbers[0], numbers[0] + len(numbers)))
        assert utterance.offset == pytest.approx(numbers[0] * CHUNK_SECONDS)
        assert utterance.offset <= utterance.start < utterance.end


def test_a_click_is_no_utterance() -> None:
    """Two voiced chunks (64 ms) are no word."""
    assert cut([QUIET] * 30 + [VOICE] * 2 + [QUIET] * 40) == []


def test_overlong_speech_is_handed_on_in_marked_pieces() -> None:
    """No piece of speech without a pause for 70 s passes for a whole utterance."""
    heard = cut([VOICE] * round(70 / CHUNK_SECONDS) + [QUIET] * 40 + [VOICE] * 20)

    assert [utterance.cut for utterance in heard] == [True, True, True, False]
    assert heard[0].end - heard[0].start == pytest.approx(30, abs=0.1)


def test_a_fading_last_sound_belongs_to_the_word() -> None:
    """The soft "n" of "thirteen" is inside; it is all that parts it from "thirty"."""
    fading = [(0.9, -36.0)] * 5
    [utterance] = cut([QUIET] * 30 + [VOICE] * 10 + fading + [QUIET] * 40)

    assert utterance.end == pytest.approx((30 + 10 + 5) * CHUNK_SECONDS)


def test_far_talk_does_not_keep_an_utterance_open() -> None:
    """Talk 20 dB weaker right behind a count does not delay its answer by more than 0.5 s."""
    heard = cut([VOICE] * 30 + [(0.9, -40.0)] * 200)

    assert heard[0].end <= 30 * CHUNK_SECONDS + 0.52


@pytest.mark.parametrize("wrong", [{"end_silence": 0.2, "tail": 0.1}, {"tail": 0.9}])
def test_settings_that_could_cut_a_number_are_refused(wrong: dict[str, float]) -> None:
    """An end silence below 0.3 s, or a tail longer than it, cannot be set."""
    with pytest.raises(ValueError, match="must"):
        SegmentSettings(**wrong)
