"""The whole rehearsal with voices and ears that make no sound, and the page that comes of it."""

import gc
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from tests.rehearsing import FakeEars, FakeExamined, sheet
from voicecount.hear.heard import Outcome
from voicecount.rehearse import school
from voicecount.rehearse.alike import Names, pairs
from voicecount.rehearse.course import rehearse
from voicecount.rehearse.ears import Answer, best_path
from voicecount.rehearse.learned import Learnt
from voicecount.rehearse.noise import in_room
from voicecount.rehearse.page import page
from voicecount.rehearse.proposals import inseparable, propose, refusal
from voicecount.rehearse.sayings import first_manners, further_manners, sayings
from voicecount.rehearse.takes import Rehearsal, name_of
from voicecount.rehearse.workers import at_once
from voicecount.sheet.model import Sheet
from voicecount.words.grammar import build_grammar, parse
from voicecount.words.graph import Grammar, Phones
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import words_of

SHEET = sheet("Deaver", "Kelly clamp")


def quiet(*_: object) -> None:
    """Show nothing."""


def phones(*words: str) -> Phones:
    lexicon = Names(build_grammar(SHEET)).lexicon
    return tuple(phone for word in words for phone in lexicon.pronounce(word)[0])


NEW = ("D", "EH", "V", "ER")
TEACHER = FakeExamined({phones("deaver", "one", "two"): -20.0}, heard=[NEW, phones("one", "two")])
PROOF = FakeExamined({(*phones("two"), *NEW, "Z"): -5.0, phones("two", "deavers"): -9.0})


KELLY = FakeExamined({phones("kelly", "clamp", "one", "two"): -9.0})
EXAMINED = {"Deaver, one, two.": TEACHER, "two Deavers.": PROOF, "Kelly clamp, one, two.": KELLY}


def hears_after(text: str, grammar: Grammar) -> Answer | None:
    """Mishear the Deaver until its other way is known."""
    if text == "Deaver, one, two." and not grammar.sounds:
        return Answer(Outcome.UNSURE, None, "What one, two.")
    return None


def test_every_name_is_said_in_every_manner() -> None:
    """Each spoken name, singular and plural, with numbers around, in several voices."""
    found = list(sayings(SHEET, first_manners(("a", "b"), 10)))

    assert [one.text for one in found[:4]] == [
        "Deaver, one, two.",
        "two Deavers.",
        "Deaver, one, two.",
        "two Deavers.",
    ]
    assert {one.manner.voice for one in found} == {"a", "b"}
    assert len(found) == 8
    assert len(first_manners("ab", 80)) == 3
    assert len(first_manners("ab", 500)) == 2
    more = list(sayings(SHEET, further_manners("ab"), frozenset({("deaver", "Deaver")}), 4))
    assert {one.item for one in more} == {"deaver"}
    assert [one.part for one in more] == [4, 5, 6, 7, 8]
    assert [one.manner.teaches for one in more] == [True, False, True, False, True]
    assert all(one.manner.noise == "quiet" for one in found + more if one.manner.teaches)
    assert {parse(one.words, build_grammar(SHEET))[0][0].item for one in found} == {
        "deaver",
        "kelly_clamp",
    }


def test_a_name_that_is_always_heard_is_left_alone() -> None:
    """Where everything is heard right, nothing is said again and nothing is learned."""
    ears = FakeEars()
    result = rehearse(SHEET, ears.voices(), ears, quiet)

    assert result.learnt == ()
    assert len(result.takes) == 8
    assert all(take.right_before and take.right_after for take in result.takes)


def test_a_misheard_name_is_learned() -> None:
    """It is said again, learned from, proved, and heard right after that."""
    ears = FakeEars(hears_after, EXAMINED)
    shown: list[str] = []
    result = rehearse(SHEET, ears.voices(), ears, lambda what, *_: shown.append(what))

    assert [entry.sounds for entry in result.learnt] == [{"deavers": ("D EH V ER Z",)}]
    assert sum(take.right_before for take in result.takes) == 13 - 5
    assert all(take.right_after for take in result.takes if take.saying.item == "deaver")
    assert list(dict.fromkeys(shown)) == [
        "listening",
        "listening again",
        "learning",
        "listening after learning",
    ]
    assert "D EH V ER Z" in page(result, result.learnt, None)


@pytest.mark.parametrize("harmed", ["two Deavers.", "Kelly clamp, one, two."])
def test_a_lesson_that_does_harm_is_dropped(harmed: str) -> None:
    """If its own sayings or a neighbour's are heard worse after it, nothing of it is kept."""

    def worse(text: str, grammar: Grammar) -> Answer | None:
        if grammar.sounds and text == harmed:
            return Answer(Outcome.UNSURE, None)
        return hears_after(text, grammar) if harmed.startswith("Kelly") else _once(text, grammar)

    ears = FakeEars(worse, EXAMINED)
    result = rehearse(SHEET, ears.voices(), ears, quiet)

    assert result.learnt == ()
    assert school.HARMED in result.refused["Deaver"]
    assert [take.before for take in result.takes] == [take.after for take in result.takes]


def _once(text: str, _: Grammar) -> Answer | None:
    return Answer(Outcome.UNSURE, None, "What one, two.") if text.startswith("Deaver,") else None


def test_a_lesson_that_makes_a_wrong_number_is_dropped() -> None:
    """A saying that was asked about and would now be accepted wrong costs the whole lesson."""

    def wrong(text: str, grammar: Grammar) -> Answer | None:
        if grammar.sounds and text == "Deaver, one, two.":
            return Answer(Outcome.ACCEPTED, Meaning(Form.RUN, "kelly_clamp", (1, 2)))
        return hears_after(text, grammar)

    ears = FakeEars(wrong, EXAMINED)

    assert rehearse(SHEET, ears.voices(), ears, quiet).learnt == ()


def test_a_persons_own_way_is_in_use_during_the_rehearsal() -> None:
    """What own sayings taught is in the grammar from the start."""
    own = Learnt(item="deaver", name="Deaver", sounds={"deaver": ("D EH V ER",)})
    ears = FakeEars(hears_after)
    result = rehearse(SHEET, ears.voices(), ears, quiet, (own,))

    assert len(result.takes) == 8
    assert all(take.right_before for take in result.takes)


def confusing(text: str, _: Grammar) -> Answer | None:
    """Take every Deaver for a Kelly clamp."""
    if "Deaver" in text:
        return Answer(Outcome.UNSURE, Meaning(Form.RUN, "kelly_clamp", (1, 2)))
    return None


def test_lines_taken_for_each_other_cannot_be_told_apart() -> None:
    """A line heard as another more often than as itself is named, with what else to call it."""
    ears = FakeEars(confusing)
    result = rehearse(SHEET, ears.voices(), ears, quiet)
    pair = inseparable(result)

    assert pair is not None
    line = refusal(SHEET, result.names, pair)
    assert "(deaver)" in line
    assert "(kelly_clamp)" in line
    assert "'Deaver instrument'" in line
    assert "'Deaver' instead" not in line
    assert "were taken for each other in the rehearsal" in line
    shown = page(result, (), line)
    assert "taken for each other" in shown
    assert "deaver heard as kelly_clamp" in shown


def test_a_sheet_whose_lines_are_heard_apart_is_not_refused() -> None:
    """Nothing is refused where every line is heard as itself."""
    ears = FakeEars()

    assert inseparable(rehearse(SHEET, ears.voices(), ears, quiet)) is None


def twins() -> Sheet:
    return Sheet.model_validate(
        {
            "title": "Twins <b>",
            "items": [
                {
                    "id": "long_kelly",
                    "group": "instruments",
                    "say": ["Kelly", "bent holder"],
                    "note": "the longer 10",
                },
                {"id": "kelley", "group": "sharps", "say": ["Kelley"]},
                {"id": "babcock", "group": "sponges", "say": ["Babcock", "stick four clamp"]},
            ],
            "not_counted": [{"id": "tie", "say": ["tie"]}],
        }
    )


def test_another_name_is_proposed() -> None:
    """Its own other name first, then words of its id and note; never one that sounds like any."""
    given = twins()
    names = Names(build_grammar(given))
    result = Rehearsal(given, names, pairs(names))
    pair = inseparable(result)

    assert pair is not None
    assert pair.share == 0.0
    assert propose(given, names, "long_kelly")[0] == "bent holder"
    assert propose(given, names, "tie")
    odd = {"id": "x2", "group": "sponges", "say": ["odd one out", "dull"], "note": "three"}
    more = Sheet.model_validate({"title": "Odd", "items": [odd, *given.model_dump()["items"]]})
    assert all(
        name.replace(" ", "").isalpha() for name in propose(more, Names(build_grammar(more)), "x2")
    )
    line = refusal(given, names, pair)
    assert "sound the same; call long_kelly 'bent holder'" in line
    assert "\n" not in line


def test_without_a_proposal_people_are_asked_for_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing sounds unlike enough, the line says so plainly."""
    monkeypatch.setattr("voicecount.rehearse.proposals.FAR_ENOUGH", 9.0)
    given = twins()
    names = Names(build_grammar(given))

    assert "give one of them another spoken name" in refusal(given, names, pairs(names)[0])
    assert "call" not in page(Rehearsal(given, names, pairs(names)), (), "no").split("<h2>")[1]


def test_the_page_stands_alone() -> None:
    """No script, nothing from outside, and every text of the sheet escaped."""
    given = twins()
    names = Names(build_grammar(given))
    shown = page(Rehearsal(given, names, pairs(names)), (), "refused & told")

    assert "<script" not in shown
    assert "src=" not in shown
    assert "href=" not in shown
    assert "Twins &lt;b&gt;" in shown
    assert "refused &amp; told" in shown
    assert "<svg" in shown
    assert "Nothing was listened to" in shown


def test_many_sound_alikes_are_cut_short_on_the_page() -> None:
    """The page lists the closest pairs and says how many more there are."""
    given = sheet(*(f"clamp {letter}ick" for letter in "bdfgklmnprstvwz"))
    names = Names(build_grammar(given))

    assert "pairs more" in page(Rehearsal(given, names, pairs(names)), (), None)


def test_a_page_without_sound_alikes_says_so() -> None:
    """One line alone sounds like nothing else."""
    given = sheet("Deaver")
    ears = FakeEars()
    result = rehearse(given, ears.voices(), ears, quiet)

    assert "No two lines" in page(result, (), None)


def test_noise_is_the_same_each_time_and_as_loud_as_asked() -> None:
    """One seed, one sound; more noise where less distance is asked for."""
    voice = np.sin(np.arange(16_000) / 5).astype(np.float32)
    one, same = (in_room(voice, "pink", 10.0, "seed").samples for _ in range(2))
    edge = slice(0, 6000)

    assert np.array_equal(one, same)
    for kind in ("pink", "suction"):
        loud = in_room(voice, kind, 10.0, "seed").samples[edge].std()
        soft = in_room(voice, kind, 20.0, "seed").samples[edge].std()
        assert loud / soft == pytest.approx(10**0.5, rel=0.01)
    assert in_room(voice, "quiet", 0.0, "seed").samples[edge].std() < 0.01


def test_the_likeliest_labels_are_read_as_phones() -> None:
    """Repeats are one phone, blanks are none and part two equal ones."""
    assert best_path(np.array([0, 1, 1, 0, 1, 2, 2, 0])) == ("AA", "AA", "AE")


def test_a_take_of_another_sheet_has_no_name() -> None:
    """A saying that is in no line of the sheet is no one's."""
    ears = FakeEars()
    take = rehearse(SHEET, ears.voices(), ears, quiet).takes[0]
    take.saying = replace(take.saying, written="Babcock", name=words_of("Babcock"))

    with pytest.raises(KeyError):
        name_of(SHEET, take)


def test_work_comes_back_in_order() -> None:
    """Results keep the order of the work, however many are done at once."""
    assert list(at_once(lambda number: number * number, range(20))) == [n * n for n in range(20)]


def test_work_that_has_not_begun_is_dropped(monkeypatch: pytest.MonkeyPatch) -> None:
    """When nobody takes the results any more, only what was begun is ended."""
    begun: list[int] = []
    go_on = threading.Event()
    shutdown = ThreadPoolExecutor.shutdown

    def work(number: int) -> int:
        begun.append(number)
        return number if number == 0 or go_on.wait(10.0) else -1

    def cancel_first(pool: ThreadPoolExecutor, *, wait: bool, cancel_futures: bool) -> None:
        shutdown(pool, wait=False, cancel_futures=cancel_futures)
        go_on.set()
        shutdown(pool, wait=wait)

    monkeypatch.setattr(ThreadPoolExecutor, "shutdown", cancel_first)
    for result in at_once(work, range(50)):
        assert result == 0
        break
    gc.collect()
    assert len(begun) < 10
