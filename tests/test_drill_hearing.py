"""Attempts from real sound: what was said in a drill, when, how loud, and in which room."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import soxr
from hibari import Hibari

from voicecount.drill.attempt import Attempt, Said
from voicecount.drill.hearing import Hearing, hear_recording
from voicecount.drill.judge import judge
from voicecount.drill.judgement import Fault
from voicecount.drill.load import Loaded, load_drill
from voicecount.drill.model import Criterion
from voicecount.drill.vocabulary import vocabulary
from voicecount.errors import RecordingError
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.heard import Heard, Outcome, Word
from voicecount.reasons import Reason
from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.testing.recogniser import FakeRecogniser
from voicecount.words.grammar import Grammar, build_grammar
from voicecount.words.meaning import Form, Meaning

DRILL = "skin_alone"
Hear = Callable[..., Attempt]


@pytest.fixture(scope="module")
def loaded() -> Loaded:
    """Load a shipped drill: ten X-ray gauze, two hypodermic needles, three mosquito clamps."""
    return load_drill(DRILL)


@pytest.fixture(scope="module")
def grammar(loaded: Loaded) -> Grammar:
    """Build its grammar."""
    return build_grammar(loaded.sheet, vocabulary(loaded.drill, loaded.sheet))


@pytest.fixture(scope="module")
def recogniser() -> EmbeddedRecogniser:
    """Load the recogniser once."""
    return EmbeddedRecogniser.load()


@pytest.fixture(scope="module")
def say() -> Callable[[str], Samples]:
    """Load the voice once; it says something at a usual loudness, with no silence around it."""
    voice = Hibari()

    def say(text: str) -> Samples:
        sound = soxr.resample(np.asarray(voice(text, seed=0), np.float32), 24_000, RATE)
        loud = np.flatnonzero(np.abs(sound) > 0.02 * np.abs(sound).max())
        cut = sound[loud[0] : loud[-1]]
        return np.asarray(0.4 * cut / np.abs(cut).max(), np.float32)

    return say


@pytest.fixture
def hear(recogniser: EmbeddedRecogniser, grammar: Grammar, loaded: Loaded, tmp_path: Path) -> Hear:
    """Write sound to a file and hear it as a recording of the drill."""

    def hear(sound: Samples, rate: int = RATE, **more: Any) -> Attempt:
        path = tmp_path / "attempt.wav"
        soundfile.write(path, sound, rate)
        more = {"cues_known": True} | more
        return hear_recording(path, loaded, recogniser, grammar, **more)

    return hear


def in_room(*parts: Samples | float) -> Samples:
    """Join sounds and seconds of quiet; the room is a soft hiss at -65 dB."""
    quiet = [np.zeros(round(part * RATE), np.float32) for part in parts if isinstance(part, float)]
    whole = np.concatenate([quiet.pop(0) if isinstance(part, float) else part for part in parts])
    hiss = np.random.default_rng(1).normal(0, 10 ** (-65 / 20), len(whole))
    return np.asarray(whole + hiss, np.float32)


def values(attempt: Attempt) -> list[tuple[str | None, tuple[int, ...]]]:
    """Give the items and numbers that were understood."""
    meanings = [saying.heard.meaning for saying in attempt.sayings]
    return [(meaning.item, meaning.numbers) for meaning in meanings if meaning is not None]


@pytest.mark.audio
def test_planted_faults_are_found_in_real_sound(
    hear: Hear, say: Callable[[str], Samples], loaded: Loaded
) -> None:
    """A skip, a number said twice and groups out of order are found, and no other fault."""
    sound = in_room(
        1.0,
        say("X-ray gauze, one, two, three, five, six, seven, eight, nine, ten."),
        1.5,
        say("Mosquito clamps, one, two, three."),
        1.5,
        say("Hypodermic needles, one, one, two."),
        1.0,
    )
    attempt = hear(sound)
    judgement = judge(attempt, loaded.drill, loaded.sheet)
    counted = (Criterion.COMPLETE, Criterion.ORDER, Criterion.CADENCE, Criterion.NUMBERS)
    found = [one for one in judgement.findings if one.criterion in counted]
    by_fault = {one.fault: one for one in found}

    assert set(by_fault) == {Fault.SKIPPED, Fault.REPEATED, Fault.WRONG_GROUP}
    assert (by_fault[Fault.SKIPPED].step, by_fault[Fault.SKIPPED].heard) == ("gauze", (4,))
    assert (by_fault[Fault.REPEATED].step, by_fault[Fault.REPEATED].heard[0]) == (
        "hypodermic_needle",
        1,
    )
    assert by_fault[Fault.SKIPPED].start == pytest.approx(3.0, abs=1.5)


@pytest.mark.audio
def test_words_have_times_levels_and_a_room(hear: Hear, say: Callable[[str], Samples]) -> None:
    """Words come in order inside the sound; a line 12 dB softer is told as that; so is the room."""
    line = say("Mosquito clamps, one, two, three.")
    told: list[float] = []
    attempt = hear(in_room(1.0, line, 2.0, 0.25 * line, 1.0), tell=told.append)
    loud, soft = attempt.sayings

    assert values(attempt) == [("mosquito", (1, 2, 3))] * 2
    for saying in attempt.sayings:
        words = saying.heard.words
        assert words is not None
        assert len(words) == len(saying.levels) == 5
        assert [word.start for word in words] == sorted(word.start for word in words)
    assert loud.loud_db - soft.loud_db == pytest.approx(12, abs=1)
    assert np.subtract(loud.levels, soft.levels) == pytest.approx([12] * 5, abs=3)
    assert attempt.room_db == pytest.approx(-65, abs=2)
    assert loud.above_room == pytest.approx(loud.loud_db + 65, abs=4)
    assert attempt.seconds == pytest.approx(4.0 + 2 * len(line) / RATE, abs=0.01)
    assert told[-1] == pytest.approx(attempt.seconds, abs=0.01)
    assert told == sorted(told)


@pytest.mark.audio
def test_the_louder_of_two_channels_is_heard(hear: Hear, say: Callable[[str], Samples]) -> None:
    """A voice on the right and noise on the left, at 44.1 kHz, give what one channel would."""
    sound = in_room(1.0, say("Mosquito clamps, one, two, three."), 1.0)
    noise = np.random.default_rng(2).normal(0, 10 ** (-50 / 20), len(sound))
    stereo = np.stack([noise, sound], axis=1)

    assert values(hear(soxr.resample(stereo, RATE, 44_100), 44_100)) == [("mosquito", (1, 2, 3))]


@pytest.mark.audio
def test_a_telephones_rate_is_heard(hear: Hear, say: Callable[[str], Samples]) -> None:
    """At 8 kHz the line is found; what of it is unsure is no more than asked about."""
    sound = in_room(1.0, say("Mosquito clamps, one, two, three."), 1.0)
    attempt = hear(soxr.resample(sound, RATE, 8_000), 8_000)

    assert len(attempt.sayings) == 1
    assert values(attempt) in ([("mosquito", (1, 2, 3))], [])


@pytest.mark.audio
@pytest.mark.parametrize("room", [0.0, 10 ** (-50 / 20)])
def test_nobody_speaks(hear: Hear, room: float) -> None:
    """Digital silence and a room's noise hold no words, and no level of a room between words."""
    noise = np.random.default_rng(3).normal(0, 1, 5 * RATE) * room
    attempt = hear(noise.astype(np.float32))

    assert attempt.sayings == ()
    assert attempt.room_db is None
    assert attempt.seconds == pytest.approx(5.0)


@pytest.mark.audio
def test_clipped_words_are_not_understood(hear: Hear, say: Callable[[str], Samples]) -> None:
    """Sound that was cut at its loudest is shown as not heard, with its reason, and no words."""
    sound = in_room(1.0, 20 * say("Mosquito clamps, one, two, three."), 1.0)
    attempt = hear(np.clip(sound, -1.0, 1.0))

    assert {saying.heard.reason for saying in attempt.sayings} == {Reason.CLIPPED}
    assert all(saying.levels == () for saying in attempt.sayings)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "empty file"),
        (b"no sound at all, only words", "no sound that can be read"),
        (None, "no such file"),
    ],
)
def test_broken_files_are_told_in_one_line(
    loaded: Loaded, grammar: Grammar, tmp_path: Path, content: bytes | None, why: str
) -> None:
    """A file that is empty, no sound or not there is an error of one line that names it."""
    path = tmp_path / "attempt.wav"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(RecordingError, match=why) as caught:
        hear_recording(path, loaded, FakeRecogniser([]), grammar, cues_known=False)

    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_file_cut_short_is_told_in_one_line(
    loaded: Loaded, grammar: Grammar, tmp_path: Path
) -> None:
    """Half of a FLAC file is an error of one line, after what could be read of it."""
    path = tmp_path / "attempt.flac"
    noise = np.random.default_rng(4).normal(0, 0.001, 20 * RATE)
    soundfile.write(path, noise, RATE)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(RecordingError, match="cut short or damaged") as caught:
        hear_recording(path, loaded, FakeRecogniser([]), grammar, cues_known=False)

    assert "\n" not in str(caught.value)


def spoken(start: float, end: float) -> Utterance:
    """Give an utterance of a tone with its silence around it, at 0.5 s before and 0.4 s after."""
    time = np.arange(round((end - start + 0.9) * RATE)) / RATE
    inside = (time >= 0.5) & (time < time[-1] - 0.4)
    tone = np.where(inside, 0.1 * np.sin(2 * np.pi * 300 * time), 0.0)
    hiss = np.random.default_rng(5).normal(0, 0.0001, len(time))
    return Utterance(0, start, end, (tone + hiss).astype(np.float32), start - 0.5)


def answer(
    given: Utterance,
    numbers: tuple[int, ...],
    item: str | None = None,
    words: tuple[Word, ...] | None = None,
    reason: Reason | None = None,
) -> Heard:
    """Give an answer to an utterance: accepted without a reason."""
    outcome = Outcome.ACCEPTED if reason is None else Outcome.UNSURE
    meaning = Meaning(Form.RUN, item, numbers) if numbers else None
    return Heard(0, given.start, given.end, outcome, meaning, "", words, reason=reason)


def test_a_slow_line_is_heard_again_as_one(loaded: Loaded, grammar: Grammar) -> None:
    """Where a piece was unclear, all are heard as one, and the words stay where they were said."""
    parts = [spoken(1.0, 2.0), spoken(3.5, 4.0), spoken(5.5, 6.0)]
    words = (Word("gauze", 0.5, 1.0), Word("one", 1.1, 1.5), Word("two", 1.95, 2.4))
    words += (Word("three", 2.9, 3.3),)
    whole = answer(spoken(1.0, 6.0), (1, 2, 3), "gauze", words)
    fake = FakeRecogniser(
        [
            answer(parts[0], (1,), "gauze"),
            answer(parts[1], (), reason=Reason.CLOSE_CALL),
            answer(parts[2], (3,)),
            whole,
        ]
    )
    hearing = Hearing(loaded, fake, grammar)
    for part in parts:
        hearing.add(part)
    attempt = hearing.attempt(8.0)

    (saying,) = attempt.sayings
    assert values(attempt) == [("gauze", (1, 2, 3))]
    # The pauses are shortened to 0.45 s: 0.25 s after one piece and 0.2 s before the next.
    assert len(fake.utterances[3].samples) == pytest.approx((0.9 + 2.0 + 0.9) * RATE, abs=10)
    assert saying.heard.words is not None
    assert [word.start for word in saying.heard.words] == pytest.approx(
        [1.0, 1.51, 3.5, 5.5], abs=0.01
    )
    assert all(word.end > word.start for word in saying.heard.words)


def test_what_was_understood_is_not_heard_again(loaded: Loaded, grammar: Grammar) -> None:
    """A slow line whose pieces are all clear stays in pieces."""
    parts = [spoken(1.0, 2.0), spoken(3.5, 4.0)]
    fake = FakeRecogniser([answer(parts[0], (1,), "gauze"), answer(parts[1], (2,))])
    hearing = Hearing(loaded, fake, grammar)
    for part in parts:
        hearing.add(part)

    assert values(hearing.attempt(8.0)) == [("gauze", (1,)), (None, (2,))]
    assert len(fake.utterances) == 2


def test_a_line_does_not_reach_over_the_partners_words(loaded: Loaded, grammar: Grammar) -> None:
    """Pieces with words of the partner between them are not put together."""
    parts = [spoken(1.0, 2.0), spoken(3.5, 4.0)]
    fake = FakeRecogniser(
        [answer(parts[0], (1,), "gauze"), answer(parts[1], (), reason=Reason.CLOSE_CALL)]
    )
    hearing = Hearing(loaded, fake, grammar)
    for part in parts:
        hearing.add(part)
    attempt = hearing.attempt(8.0, (Said("gauze.read_back", "one gauze", 2.5, 3.2),))

    assert [saying.heard.outcome for saying in attempt.sayings] == ["accepted", "unsure"]
    assert len(fake.utterances) == 2


def test_the_partners_own_voice_is_left_out(loaded: Loaded, grammar: Grammar) -> None:
    """What lies wholly inside the partner's words is no saying; what goes on after them is."""
    parts = [spoken(1.2, 2.0), spoken(2.8, 4.0)]
    fake = FakeRecogniser([answer(part, (5,), "gauze") for part in parts])
    hearing = Hearing(loaded, fake, grammar)
    for part in parts:
        hearing.add(part)
    attempt = hearing.attempt(8.0, (Said("cue", "five gauze", 1.0, 3.0),), cues_known=False)

    assert [saying.heard.start for saying in attempt.sayings] == [2.8]
    assert not attempt.cues_known


@pytest.mark.audio
def test_lines_without_a_pause_are_parted(
    loaded: Loaded, grammar: Grammar, say: Callable[[str], Samples]
) -> None:
    """An utterance that was not understood is cut at its pauses, and holds two lines."""
    gauze, mosquito = say("gauze, one, two"), say("mosquito clamps, one, two, three")
    sound = in_room(0.5, gauze, 0.5, mosquito, 0.4)
    whole = Utterance(0, 10.5, 10.0 + len(sound) / RATE - 0.4, sound, 10.0)
    fake = FakeRecogniser(
        [
            answer(whole, (), reason=Reason.WEAK_MATCH),
            answer(whole, (1, 2), "gauze"),
            answer(whole, (1, 2, 3), "mosquito"),
        ]
    )
    hearing = Hearing(loaded, fake, grammar)
    hearing.add(whole)

    assert values(hearing.attempt(20.0)) == [("gauze", (1, 2)), ("mosquito", (1, 2, 3))]
    first, second = fake.utterances[1:]
    assert first.start == pytest.approx(10.5, abs=0.1)
    assert second.start == pytest.approx(11.0 + len(gauze) / RATE, abs=0.1)
    assert second.end == pytest.approx(whole.end, abs=0.2)


def heard_in(
    loaded: Loaded, grammar: Grammar, parts: list[Utterance], answers: list[Heard]
) -> tuple[Attempt, list[Utterance]]:
    """Hear utterances by scripted answers; gives the attempt, and what was heard after them."""
    fake = FakeRecogniser(answers)
    hearing = Hearing(loaded, fake, grammar)
    for part in parts:
        hearing.add(part)
    return hearing.attempt(60.0), fake.utterances[len(parts) :]


def slow(count: int, every: float = 1.5) -> list[Utterance]:
    """Give utterances of half a second in a slow row."""
    return [spoken(1.0 + every * at, 1.5 + every * at) for at in range(count)]


def ignored(given: Utterance) -> Heard:
    """Give the answer to what was taken for talk."""
    return Heard(0, given.start, given.end, Outcome.IGNORED, None, "", reason=Reason.NOT_FOR_US)


def test_an_unclear_piece_is_heard_with_its_neighbours(loaded: Loaded, grammar: Grammar) -> None:
    """Where the whole line is not clear, two pieces on each side are; the others stay."""
    parts = slow(6)
    clear = [answer(parts[0], (1,), "gauze"), *(answer(parts[at], (at + 1,)) for at in range(1, 6))]
    answers = [*clear[:3], ignored(parts[3]), *clear[4:]]
    answers += [answer(parts[0], (), reason=Reason.WEAK_MATCH), answer(parts[1], (2, 3, 4, 5, 6))]
    attempt, again = heard_in(loaded, grammar, parts, answers)

    assert values(attempt) == [("gauze", (1,)), (None, (2, 3, 4, 5, 6))]
    assert [(one.start, one.end) for one in again] == [(1.0, 9.0), (2.5, 9.0)]


def test_numbers_that_fall_back_show_that_a_name_was_not_understood(
    loaded: Loaded, grammar: Grammar
) -> None:
    """One, two, something, two, three: the something began another line, which is heard as one."""
    parts = slow(5)
    answers = [answer(parts[0], (1,), "gauze"), answer(parts[1], (2,)), ignored(parts[2])]
    answers += [answer(parts[3], (2,)), answer(parts[4], (3,))]
    answers += [answer(parts[2], (1, 2, 3), "mosquito")]
    attempt, again = heard_in(loaded, grammar, parts, answers)

    assert values(attempt) == [("gauze", (1,)), (None, (2,)), ("mosquito", (1, 2, 3))]
    assert [(one.start, one.end) for one in again] == [(4.0, 7.5)]


def test_what_is_taken_for_talk_inside_a_line_is_unsure(loaded: Loaded, grammar: Grammar) -> None:
    """A sound in the middle of a run that stays unclear is shown as not heard, and no silence."""
    parts = slow(3)
    unclear = answer(parts[0], (), reason=Reason.WEAK_MATCH)
    answers = [answer(parts[0], (1,), "gauze"), ignored(parts[1]), answer(parts[2], (3,)), unclear]
    attempt, _ = heard_in(loaded, grammar, parts, answers)

    assert [one.heard.outcome for one in attempt.sayings] == ["accepted", "unsure", "accepted"]
    assert attempt.sayings[1].heard.reason is Reason.NOT_FOR_US


@pytest.mark.parametrize(
    ("seconds", "gain", "outcome"),
    [(3.0, 1.0, "unsure"), (0.5, 1.0, "ignored"), (3.0, 0.2, "ignored")],
)
def test_talk_that_may_have_been_a_line_is_unsure(
    loaded: Loaded, grammar: Grammar, seconds: float, gain: float, outcome: str
) -> None:
    """Long speech of the student's own loudness may have been a line; short or weak one is none."""
    line, talk = spoken(1.0, 4.0), spoken(20.0, 20.0 + seconds)
    weaker = replace(talk, samples=np.asarray(gain * talk.samples, np.float32))
    answers = [answer(line, (1, 2), "gauze"), ignored(talk)]
    attempt, again = heard_in(loaded, grammar, [line, weaker], answers)

    assert [one.heard.outcome for one in attempt.sayings] == ["accepted", outcome]
    assert again == []


def test_a_very_long_line_is_not_heard_as_one(loaded: Loaded, grammar: Grammar) -> None:
    """Pieces that together would be longer than what can be heard at once stay as they are."""
    parts = [spoken(1.0, 14.0), spoken(15.0, 28.0)]
    answers = [answer(parts[0], (1,), "gauze"), answer(parts[1], (), reason=Reason.CLOSE_CALL)]
    attempt, again = heard_in(loaded, grammar, parts, answers)

    assert len(attempt.sayings) == 2
    assert all(len(one.samples) < 14 * RATE for one in again)


@pytest.fixture
def two_lines(say: Callable[[str], Samples]) -> Utterance:
    """Give two lines in one utterance, with half a second between them."""
    sound = in_room(0.5, say("gauze, one, two"), 0.5, say("mosquito clamps, one"), 0.4)
    return Utterance(0, 10.5, 10.0 + len(sound) / RATE - 0.4, sound, 10.0)


@pytest.mark.audio
def test_a_clear_line_stands_beside_one_that_is_not(
    loaded: Loaded, grammar: Grammar, two_lines: Utterance
) -> None:
    """Where the whole is of no use, what is clear of it is taken, and the rest is not heard."""
    unclear = answer(two_lines, (), reason=Reason.WEAK_MATCH)
    second = answer(two_lines, (1,), "mosquito", reason=Reason.CLOSE_CALL)
    answers = [unclear, answer(two_lines, (1, 2), "gauze"), second]
    attempt, again = heard_in(loaded, grammar, [two_lines], answers)

    assert len(again) == 2
    assert [one.heard.reason for one in attempt.sayings] == [None, Reason.CLOSE_CALL]


@pytest.mark.audio
def test_parts_are_not_taken_for_a_whole_that_is_of_use(
    loaded: Loaded, grammar: Grammar, two_lines: Utterance
) -> None:
    """A count in order that may well be right stays whole; so does one without a clear line."""
    close = answer(two_lines, (1, 2, 3), "gauze", reason=Reason.CLOSE_CALL)
    names = [answer(two_lines, (1, 2), "gauze"), answer(two_lines, (1,), "mosquito")]
    second = replace(names[1], outcome=Outcome.UNSURE, reason=Reason.CLOSE_CALL)
    first = replace(names[0], outcome=Outcome.UNSURE, reason=Reason.CLOSE_CALL)

    for wrong, parts, kept in (
        (0.3, [names[0], second], [Reason.CLOSE_CALL]),
        (0.7, [names[0], second], [None, Reason.CLOSE_CALL]),
        (0.7, [first, second], [Reason.CLOSE_CALL]),
    ):
        answers = [replace(close, wrong=wrong), *parts]
        attempt, _ = heard_in(loaded, grammar, [two_lines], answers)
        assert [one.heard.reason for one in attempt.sayings] == kept


def beeps(*pauses: float) -> Utterance:
    """Give an utterance of short sounds with pauses of so many seconds between them."""
    tone = np.sin(np.arange(round(0.3 * RATE)) * 0.3).astype(np.float32)
    hush = np.full(round(0.5 * RATE), 1e-4, np.float32)
    parts = [hush, tone]
    for pause in pauses:
        parts += [np.full(round(pause * RATE), 1e-4, np.float32), tone]
    sound = np.concatenate([*parts, hush])
    return Utterance(0, 10.5, 9.5 + len(sound) / RATE, sound, 10.0)


def test_lines_that_noise_has_joined_are_heard_each_whole(loaded: Loaded, grammar: Grammar) -> None:
    """An utterance out of order is cut where the pause is long beside the others."""
    whole = beeps(0.4, 0.4, 0.5, 1.2, 0.4, 0.4)
    answers = [answer(whole, (1, 2, 3, 8, 1, 2), "gauze")]
    answers += [answer(whole, (1, 2, 3), "gauze"), answer(whole, (1, 2), "mosquito")]
    attempt, again = heard_in(loaded, grammar, [whole], answers)

    assert values(attempt) == [("gauze", (1, 2, 3)), ("mosquito", (1, 2))]
    first, second = again
    assert (first.start, first.end) == pytest.approx((10.5, 13.0), abs=0.05)
    assert (second.start, second.end) == pytest.approx((14.2, 15.9), abs=0.05)


def test_a_whole_out_of_order_and_unsure_gives_way_to_a_clear_line(
    loaded: Loaded, grammar: Grammar
) -> None:
    """It would be doubted by itself; where the recogniser was very sure of it, it stays."""
    whole = beeps(0.4, 0.4, 0.5, 1.2, 0.4, 0.4)
    odd = answer(whole, (1, 2, 3, 5, 1, 2), "gauze")
    clear = answer(whole, (1, 2, 3), "gauze")
    rest = answer(whole, (1, 2), "mosquito", reason=Reason.CLOSE_CALL)

    for wrong, kept in ((0.2, [(1, 2, 3), (1, 2)]), (0.01, [(1, 2, 3, 5, 1, 2)])):
        answers = [replace(odd, wrong=wrong), clear, rest, *[ignored(whole)] * 7]
        attempt, _ = heard_in(loaded, grammar, [whole], answers)
        found = [one.heard.meaning.numbers for one in attempt.sayings if one.heard.meaning]
        assert found == kept


def test_pieces_close_together_share_the_pause(loaded: Loaded, grammar: Grammar) -> None:
    """Where the pause is shorter than what is kept around two pieces, none of it comes twice."""
    parts = [spoken(1.0, 2.0), spoken(2.3, 3.0)]
    answers = [answer(parts[0], (1,), "gauze"), answer(parts[1], (), reason=Reason.CLOSE_CALL)]
    answers.append(answer(parts[0], (1, 2), "gauze"))
    attempt, again = heard_in(loaded, grammar, parts, answers)

    assert values(attempt) == [("gauze", (1, 2))]
    assert len(again[0].samples) == pytest.approx((0.5 + 2.0 + 0.4) * RATE, abs=10)


def test_pieces_that_do_not_follow_are_heard_as_one(loaded: Loaded, grammar: Grammar) -> None:
    """One, ten, three is heard again whole; the whole line is believed."""
    parts = slow(3)
    answers = [answer(parts[0], (1,), "gauze"), answer(parts[1], (10,)), answer(parts[2], (3,))]
    attempt, _ = heard_in(loaded, grammar, parts, [*answers, answer(parts[0], (1, 2, 3), "gauze")])

    assert values(attempt) == [("gauze", (1, 2, 3))]


def test_pieces_that_do_not_follow_and_stay_unclear_are_doubted(
    loaded: Loaded, grammar: Grammar
) -> None:
    """Where the whole is no clearer, the number that does not follow is shown as not heard."""
    parts = slow(3)
    answers = [answer(parts[0], (1,), "gauze"), answer(parts[1], (10,)), answer(parts[2], (3,))]
    unclear = answer(parts[0], (), reason=Reason.WEAK_MATCH)
    attempt, _ = heard_in(loaded, grammar, parts, [*answers, unclear])

    assert [one.heard.outcome for one in attempt.sayings] == ["accepted", "unsure", "accepted"]


def test_numbers_heard_twice_out_of_order_were_said_so(loaded: Loaded, grammar: Grammar) -> None:
    """One, three, two: both hearings agree, so the student is told."""
    parts = slow(3)
    answers = [answer(parts[0], (1,), "gauze"), answer(parts[1], (3,)), answer(parts[2], (2,))]
    again = answer(parts[0], (1, 3, 2), "gauze")
    attempt, _ = heard_in(loaded, grammar, parts, [*answers, again])

    assert values(attempt) == [("gauze", (1,)), (None, (3,)), (None, (2,))]
    assert {one.heard.outcome for one in attempt.sayings} == {"accepted"}
