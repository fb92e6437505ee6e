"""What was unclear is asked about only where somebody may have meant it."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from playing import Play, sheet_of

from voicecount.count.events import LineStored
from voicecount.count.roles import Role
from voicecount.hear.heard import Heard, Outcome, Word
from voicecount.hear.meant import FAINT_DB, Attentive, MeantRecogniser, Voices
from voicecount.hear.port import still_open
from voicecount.reasons import Reason
from voicecount.sound.findings import ChannelSound, SoundCheck
from voicecount.sound.frame import RATE, Utterance
from voicecount.testing.recogniser import FakeRecogniser
from voicecount.words.grammar import Grammar, build_grammar
from voicecount.words.meaning import Form, Meaning

SHEET = sheet_of({"id": "gauze", "say": ["gauze"]})
GRAMMAR = build_grammar(SHEET)
FIVE = Meaning(Form.RUN, None, (5,))
FINISH = Meaning(Form.COMMAND, command="finish")
VOICE_DB = -20.0


def sound(db: float, channel: int = 0) -> Utterance:
    """Give a second of sound of a level."""
    samples = np.full(RATE, 10 ** (db / 20), np.float32)
    return Utterance(channel, 0.0, 1.0, samples, 0.0)


def answer(outcome: Outcome, meaning: Meaning | None = FIVE, reason: Reason | None = None) -> Heard:
    """Make an answer that still holds what was heard."""
    return Heard(0, 0.0, 1.0, outcome, meaning, "five", (Word("five", 0.0, 1.0),), reason=reason)


ACCEPTED = answer(Outcome.ACCEPTED)
UNSURE = answer(Outcome.UNSURE, reason=Reason.CLOSE_CALL)
COMMAND = answer(Outcome.UNSURE, FINISH, Reason.CLOSE_CALL)


@dataclass
class Talk:
    """Where a talk stands."""

    awaits_more: bool = False
    awaits_words: bool = True


def checked(*levels: float, channel: int = 0) -> Voices:
    """Give voices known by a sound check."""
    rows = [ChannelSound(channel, None, db - 6.0, -60.0, 0.0, None, loud=db) for db in levels]
    voices = Voices()
    voices.checked(SoundCheck(tuple(rows), (), {}))
    return voices


def hear(heard: Heard, utterance: Utterance, talk: Attentive, voices: Voices) -> Heard:
    """Hear one utterance with a recogniser that gives a fixed answer."""
    return MeantRecogniser(FakeRecogniser([heard]), talk, voices).hear(utterance, GRAMMAR)


def test_a_faint_unclear_sound_is_let_go_and_not_written_down() -> None:
    """It was nobody at that microphone: no question, and no words of it are kept."""
    heard = hear(UNSURE, sound(VOICE_DB - FAINT_DB - 1), Talk(), checked(VOICE_DB))

    assert (heard.outcome, heard.reason) == (Outcome.IGNORED, Reason.FAINT)
    assert (heard.text, heard.words) == ("", None)


@pytest.mark.parametrize("fault", [Reason.SOUND_LOST, Reason.CLIPPED])
def test_a_voice_as_loud_as_its_person_is_asked(fault: Reason) -> None:
    """Also at rest, where the sound itself had a fault; a command, whatever was unclear of it."""
    unfit = answer(Outcome.UNSURE, None, fault)
    near = sound(VOICE_DB - FAINT_DB + 1)

    assert hear(UNSURE, near, Talk(), checked(VOICE_DB)) == UNSURE
    assert hear(unfit, near, Talk(awaits_words=False), checked(VOICE_DB)) == unfit
    assert hear(COMMAND, near, Talk(awaits_words=False), checked(VOICE_DB)) == COMMAND


@pytest.mark.parametrize("fault", [Reason.SOUND_LOST, Reason.CLIPPED])
def test_of_sound_with_a_fault_not_even_the_loudness_is_known(fault: Reason) -> None:
    """A hole in the sound makes the rest look faint."""
    unfit = answer(Outcome.UNSURE, None, fault)

    assert hear(unfit, sound(-70.0), Talk(), checked(VOICE_DB)) == unfit


def test_who_goes_on_being_too_faint_is_told_so_now_and_then() -> None:
    """The second within 20 s, and then for a minute nothing; in noise that is one question."""
    voices = checked(VOICE_DB)
    meant = MeantRecogniser(FakeRecogniser([UNSURE] * 8), Talk(), voices)
    ends = [10.0, 40.0, 55.0, 57.0, 70.0, 90.0, 109.0, 127.0]
    heard = [meant.hear(replace(sound(-70.0), end=end), GRAMMAR) for end in ends]
    asked = [end for end, one in zip(ends, heard, strict=True) if one.outcome is Outcome.UNSURE]

    assert asked == [55.0, 127.0]
    assert {one.reason for one in heard} == {Reason.FAINT}


def test_between_counts_nobody_is_told_that_it_was_too_faint() -> None:
    """Nothing is waited for then."""
    meant = MeantRecogniser(
        FakeRecogniser([UNSURE] * 2), Talk(awaits_words=False), checked(VOICE_DB)
    )
    heard = [meant.hear(replace(sound(-70.0), end=end), GRAMMAR) for end in (1.0, 2.0)]

    assert {one.outcome for one in heard} == {Outcome.IGNORED}


def test_a_line_of_the_sheet_is_asked_about_between_counts_too() -> None:
    """After the initial count it can still be stored."""
    named = answer(Outcome.UNSURE, Meaning(Form.RUN, "gauze", (1, 2)), Reason.CLOSE_CALL)

    assert hear(named, sound(VOICE_DB), Talk(awaits_words=False), checked(VOICE_DB)) == named


def test_a_faint_sound_that_may_have_named_another_item_lets_no_bare_run_follow() -> None:
    """Sponges are to be called again; something faint; five: of what, has to be said."""
    sheet = sheet_of({"id": "gauze", "say": ["gauze"]}, {"id": "clamp", "say": ["clamp"]})
    other = Meaning(Form.RUN, "clamp", (1,))
    stored = []
    for meaning in (other, Meaning(Form.RUN, None, (86,))):
        play = Play(sheet).go("scrub: gauze, one, two, four", "(wait)")
        said = answer(Outcome.UNSURE, meaning, Reason.CLOSE_CALL)
        at = {"start": 9.0, "end": 9.5}
        faint = hear(replace(said, **at), sound(-70.0), play.dialogue, checked(VOICE_DB))
        assert faint.outcome is Outcome.IGNORED
        play.dialogue.hear(faint, Role.SCRUB)
        play.go("scrub: one, two, three", "(wait)")
        stored.append([event.item for event in play.events if isinstance(event, LineStored)])

    assert stored == [[], ["gauze"]]


def test_a_question_or_an_incident_in_hand_is_waited_for() -> None:
    """As a call is: how many pieces, which site, the digits of a number."""
    sheet = sheet_of({"id": "tip", "say": ["tip"], "pieces": 2}, {"id": "gauze", "say": ["gauze"]})
    play = Play(sheet).go("scrub: tip, one", "(wait)")

    assert play.dialogue.awaits_more


def test_nothing_is_let_go_while_a_call_is_in_hand() -> None:
    """A missed word would count: "four" after "three" in a run."""
    talk = Talk(awaits_more=True)

    assert hear(UNSURE, sound(-70.0), talk, checked(VOICE_DB)) == UNSURE


@pytest.mark.parametrize("talk", [Talk(), Talk(awaits_words=False)])
@pytest.mark.parametrize(
    "heard", [ACCEPTED, answer(Outcome.IGNORED, None, Reason.NOT_FOR_US)], ids=str
)
def test_what_was_understood_or_ignored_stays(heard: Heard, talk: Talk) -> None:
    """However faint it is."""
    assert hear(heard, sound(-70.0), talk, checked(VOICE_DB)) == heard


def test_where_nothing_is_waited_for_only_commands_are_asked_about() -> None:
    """Between two counts talk that was unclear is talk."""
    heard = hear(UNSURE, sound(VOICE_DB), Talk(awaits_words=False), checked(VOICE_DB))

    assert (heard.outcome, heard.reason) == (Outcome.IGNORED, Reason.NOT_FOR_US)


def test_typed_words_are_always_meant() -> None:
    """They have no sound; between two counts, too."""
    typed = replace(sound(0.0), samples=np.zeros(0, np.float32))

    assert hear(UNSURE, typed, Talk(awaits_words=False), checked(VOICE_DB)) == UNSURE


def test_without_a_sound_check_voices_are_learned_from_what_was_understood() -> None:
    """Three accepted utterances; until then nothing is called faint. Each channel by itself."""
    voices, faint = Voices(), sound(VOICE_DB - FAINT_DB - 1)
    for known in range(4):
        assert voices.is_faint(faint) == (known >= 3)
        hear(ACCEPTED, sound(VOICE_DB), Talk(), voices)
    assert not voices.is_faint(replace(faint, channel=1))


def test_who_is_understood_further_off_is_waited_for_there() -> None:
    """The weakest of the last eight tells; after eight louder ones it no longer does."""
    voices, faint = checked(VOICE_DB), sound(VOICE_DB - FAINT_DB - 1)
    voices.accepted(sound(VOICE_DB - 10))
    assert not voices.is_faint(faint)
    for _ in range(8):
        voices.accepted(sound(VOICE_DB))
    assert voices.is_faint(faint)


def test_of_two_people_at_one_microphone_the_weaker_one_tells() -> None:
    """One channel for both."""
    faint = sound(VOICE_DB - FAINT_DB - 1)

    assert checked(VOICE_DB).is_faint(faint)
    assert not checked(VOICE_DB, VOICE_DB - 8).is_faint(faint)


class Following(FakeRecogniser):
    """Follows what is open, and can be made stricter."""

    factor = 1.0

    def follow(self, so_far: Utterance, grammar: Grammar) -> Heard:  # noqa: ARG002 - the port's
        """Hear a number in anything."""
        return still_open(so_far, "five")

    def be_stricter(self, factor: float) -> None:
        """Keep how strict."""
        self.factor = factor


def test_faint_sound_is_not_shown_while_it_lasts() -> None:
    """The board would else show numbers that a machine made."""
    meant = MeantRecogniser(Following([]), Talk(), checked(VOICE_DB))
    texts = [meant.follow(sound(db), GRAMMAR).text for db in (-70.0, VOICE_DB)]

    assert texts == ["", "five"]
    assert (
        MeantRecogniser(FakeRecogniser([]), Talk(), Voices()).follow(sound(0), GRAMMAR).text == ""
    )


def test_the_other_one_asks_more_often_in_noise() -> None:
    """And keeps its name for the record."""
    inner = Following([])
    meant = MeantRecogniser(inner, Talk(), Voices())
    meant.be_stricter(0.5)
    MeantRecogniser(FakeRecogniser([]), Talk(), Voices()).be_stricter(0.5)

    assert (inner.factor, meant.name) == (0.5, inner.name)


def test_a_dialogue_tells_where_it_stands() -> None:
    """A count waits for words, a call in hand for more of it; between counts nothing is awaited."""
    play = Play(SHEET)
    stands = [(play.dialogue.awaits_words, play.dialogue.awaits_more)]
    for line in ("scrub: gauze, one, two", "(wait)", "circ: two", "scrub: the count is finished"):
        play.line(line)
        stands.append((play.dialogue.awaits_words, play.dialogue.awaits_more))

    assert stands == [(True, False), (True, True), (True, False), (True, False), (False, False)]
