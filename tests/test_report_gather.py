"""What a report says of a journal, against a second fold that shares no code with the first.

``second_fold`` reads the raw lines and was written from the documents; it imports nothing of the
program. Where both could be wrong alike, numbers are worked out by hand from the words of a script.
"""

import json
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from case_play import random_case
from cases import (
    CASE,
    CAVITY,
    CLAMPS,
    CLOSING,
    DONE,
    INITIAL,
    LAPS,
    NEEDLES,
    TEAM,
    begun,
    called,
    case_of,
    closed,
    placed,
    recounted,
    short,
    told,
    walked,
)
from playing import Play
from second_fold import Case, read, told_after_its_number, told_before_its_number

from voicecount.commands.journals import CODEC
from voicecount.commands.verify import check
from voicecount.count import fold_case
from voicecount.count.events import (
    Event,
    MicrophoneChanged,
    NoiseChanged,
    StoodBy,
)
from voicecount.count.ledger import Ledger, fold
from voicecount.errors import JournalError
from voicecount.keep.journal import Journal
from voicecount.keep.reading import load_whole_part, read_whole_part
from voicecount.report.blocks import Notice, as_data
from voicecount.report.facts import CaseFacts, CountFacts, Moment
from voicecount.report.fhir import bundle
from voicecount.report.gather import CAUTIONS, gather
from voicecount.report.gather_counts import Counts
from voicecount.report.many import Summary
from voicecount.report.pages import pages
from voicecount.sound.findings import Noise
from voicecount.testing.clock import FakeClock

GOLDEN = Path(__file__).parent / "golden"
FILES = sorted(GOLDEN.glob("*.vcj"))
WHOLE = GOLDEN / "whole_case_2026_11_26.vcj"
TORN = GOLDEN / "two_people_0_1_0.vcj"
MADE = "2026-11-26T12:00:00+00:00"
ITEM = ("initial", "added", "changed", "explained", "handed_over", "expected")
ITEM = (*ITEM, "tucked", "inside", "passed_off")
SUM = ("counted", "inside", "tucked", "expected", "off", "confirmed")
COUNT = ("refused", "disputed", "recounted", "interruptions")


def facts_of(path: Path, **more: Any) -> CaseFacts:
    """Gather a journal as the command does."""
    reading = check(load_whole_part(path, CODEC)).reading
    return gather(path.name, reading, made=MADE, made_by="test 1", **more)


def kept(events: list[Event], path: Path) -> Path:
    """Write events to a journal."""
    with Journal.create(path, events[0], CODEC, clock=FakeClock()) as journal:
        for event in events[1:]:
            journal.append(event)
    return path


def played(play: Play, folder: Path) -> CaseFacts:
    """Gather what a script came to."""
    return facts_of(kept(play.events, folder / f"{len(list(folder.iterdir()))}.vcj"))


def numbers(facts: CaseFacts) -> dict[str, Any]:
    """Give every number of a report in the form of the second fold."""
    items = {item.id: {name: getattr(item, name) for name in ITEM} for item in facts.items}
    return {
        "items": items,
        "counts": [_count(count) for count in facts.counts],
        "discrepancies": [
            (one.number, one.item, one.counted, one.expected, one.off, one.off_now)
            for one in facts.discrepancies
        ],
        "in_patient": _in_patient(facts),
        **{what: sum(getattr(one, what) for one in facts.counts) for what in COUNT[:3]},
    }


def _in_patient(facts: CaseFacts) -> dict[tuple[str, str, bool], int]:
    there: Counter[tuple[str, str, bool]] = Counter()
    for one in facts.in_patient:
        there[one.item, one.site, one.on_purpose] += one.n
    return dict(there)


def told_against(facts: CaseFacts) -> dict[int, tuple[str, int | None]]:
    """Give what a report tells of the lines that something was said against."""
    return {
        line.line: (line.dropped.how, line.dropped.number)
        for count in facts.counts
        for line in count.lines
        if line.dropped is not None
    }


def against(case: Case) -> dict[int, tuple[str, int | None]]:
    """Give, from raw lines, what first spoke against each line, and which number was said."""
    found: dict[int, tuple[str, int | None]] = {}
    hows = {
        "line_stored": ("replaced", "replaces"),
        "package_set_aside": ("set_aside", "replaces"),
        "recount_called": ("recount", "lines"),
        "line_taken_back": ("taken_back", "lines"),
    }
    for count in case.counts:
        for one in count.of("line_disputed", *hows):
            if one["kind"] == "line_disputed":
                lines = list(count.standing((one["item"], one["place"]), one["seq"]))
                how, number = "disputed", one["number"]
            else:
                (how, field), number = hows[one["kind"]], None
                lines = one[field]
            for line in lines:
                found.setdefault(line, (how, number))
    return found


def _count(count: CountFacts) -> dict[str, Any]:
    return {
        "sums": {
            one.item: {
                "places": dict(one.places),
                "given": {place: _given(count, one.item, place) for place, _ in one.places},
                **{name: getattr(one, name) for name in SUM},
            }
            for one in count.sums
        },
        "lines": [(one.line, one.counted, one.stands, one.confirmed) for one in count.lines],
        **{name: set(getattr(count, name)) for name in ("unconfirmed", "differing", "left")},
        **{name: getattr(count, name) for name in COUNT},
    }


def _given(count: CountFacts, item: str, place: str) -> bool:
    lines = [one for one in count.lines if (one.item, one.place) == (item, place) and one.stands]
    return bool(lines) and all(one.confirmed for one in lines)


def without(found: dict[str, Any], items: set[str]) -> dict[str, Any]:
    """Leave out what is said of some items."""
    counts = [
        {
            **one,
            "sums": {item: what for item, what in one["sums"].items() if item not in items},
            "differing": one["differing"] - items,
        }
        for one in found["counts"]
    ]
    return {
        **found,
        "items": {item: what for item, what in found["items"].items() if item not in items},
        "counts": counts,
    }


def must_add_up(facts: CaseFacts) -> int:
    """Check the sums inside a report; how many there were."""
    done = 0
    for item in facts.items:
        more = item.added + item.changed + item.explained - item.handed_over
        assert item.expected == (None if item.initial is None else item.initial + more)
        done += 1
    for count in facts.counts:
        standing = [line for line in count.lines if line.stands]
        assert not [line for line in count.lines if line.confirmed and not line.stands]
        for one in count.sums:
            mine = [line.counted for line in standing if line.item == one.item]
            assert one.counted == (sum(mine) if mine else None)
            at_places = [n for _, n in one.places if n is not None]
            assert not one.places or one.counted == (sum(at_places) if at_places else None)
            if one.off is not None:
                assert one.counted is not None
                assert one.expected is not None
                assert one.off == one.counted + one.inside + one.tucked - one.expected
            done += 1
    for difference in facts.discrepancies:
        assert difference.off == difference.counted - difference.expected
    inside = {item.id: item.inside + item.tucked for item in facts.items}
    for one in facts.in_patient:
        inside[one.item] -= one.n
    assert set(inside.values()) == {0}
    return done


# Against the second fold.


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_numbers_of_an_old_journal_are_those_of_a_second_fold(path: Path) -> None:
    """Every number of the report is found a second time in the raw lines."""
    facts = facts_of(path)

    assert numbers(facts) == Case(read(path)).numbers()
    assert told_against(facts) == against(Case(read(path)))
    assert must_add_up(facts)


@pytest.mark.parametrize("start", range(0, 150, 30))
def test_the_numbers_of_random_cases_are_those_of_a_second_fold(start: int, tmp_path: Path) -> None:
    """Both people, slips, incidents, differences, deaths: 150 cases, all numbers, twice."""
    compared = left_out = 0
    for seed in range(start, start + 30):
        path = played_at_random(seed, tmp_path / str(seed))
        facts, second = facts_of(path), Case(read(path))
        odd = told_before_its_number(second) | told_after_its_number(second)
        assert without(numbers(facts), odd) == without(second.numbers(), odd), seed
        assert told_against(facts) == against(second), seed
        compared += must_add_up(facts)
        left_out += len(odd)
    assert compared > 200
    assert left_out < compared / 50


def played_at_random(seed: int, folder: Path) -> Path:
    """Play a random case into a file."""
    folder.mkdir()
    play = random_case(seed, folder)
    if play.memory is not None:
        play.path.write_bytes(play.memory.content(play.path))
    return play.path


def test_the_second_fold_finds_a_fault_that_is_put_into_the_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It is no mirror: what happened is forgotten by the first fold, and the second one sees it."""
    monkeypatch.setattr(fold_case, "with_incident", lambda account, _event: account)

    assert numbers(facts_of(WHOLE)) != Case(read(WHOLE)).numbers()


def test_the_numbers_of_the_whole_case_are_those_of_its_script() -> None:
    """Worked out by hand from the words of the script: ten and five sponges, four and two needles.

    One needle was missing in the closing count and lay on the floor.
    """
    facts = facts_of(WHOLE)
    items = {item.id: (item.initial, item.added, item.expected) for item in facts.items}
    closing = next(count for count in facts.counts if count.id == "closing")
    needle = next(one for one in closing.sums if one.item == "suture_needle")
    (difference,) = facts.discrepancies

    assert items["lap_sponge"] == (10, 5, 15)
    assert items["suture_needle"] == (4, 2, 6)
    assert (needle.counted, needle.expected, needle.off) == (5, 6, -1)
    assert (difference.off, difference.settled, difference.n, difference.where) == (
        *(-1, "found", 1),
        "floor",
    )
    assert [count.result for count in facts.counts] == [
        *("baseline", "baseline", "agrees", "agrees"),
        *("reconciled", "agrees"),
    ]


# Two faults of the program's own fold that the second one found.


THREE = case_of(LAPS, NEEDLES, CLAMPS)


def expected(play: Play, folder: Path, item: str) -> int | None:
    """Give what a report says is expected of an item."""
    return next(one.expected for one in played(play, folder).items if one.id == item)


def test_an_initial_count_that_is_corrected_holds_what_was_told_before(tmp_path: Path) -> None:
    """Two clamps, one handed over; both count again and give one: one is expected, not none."""
    play = told(
        begun(THREE),
        "something leaves the count",
        *("clamp one", "out with the specimen"),
        agreed="one",
    )
    play.go("scrub: clamps one", "(wait)", "scrub: that is a recount", "circ: one")
    play.go("circ: the count is finished")

    assert expected(play, tmp_path, "clamp") == 1


def test_what_was_told_in_the_initial_count_is_not_lost_by_a_death(tmp_path: Path) -> None:
    """Two clamps, one cut in two; the program dies before it asks for a recount: three, or none."""
    play = Play(THREE)
    for item in ("lap", "needle", "clamp"):
        play.go(*called(THREE, item, {"lap": 10, "needle": 4, "clamp": 2}[item]))
    told(play, "something was cut", "clamp one", agreed="one")
    at = next(at for at, event in enumerate(play.events) if event.kind == "incident_told")
    before = play.events[: at + 1]
    assert play.events[at + 1].kind == "recount_called"
    again = Play(THREE, ledger_before=fold(before), now=play.now)
    again.go("circ: the count is finished")
    again.events = [*before, *again.events]

    assert expected(again, tmp_path, "clamp") in {3, None}


# Counts: open, ended, reopened, waived.


def test_a_count_that_nobody_finished_has_no_result(tmp_path: Path) -> None:
    """What stands is shown; what is not confirmed, and what was not counted, are named."""
    play = Play(CASE).go("scrub: lap sponges one two three four five", "(wait)")
    (count,) = played(play, tmp_path).counts

    assert (count.result, count.finished) == (None, None)
    assert (count.unconfirmed, count.differing, count.left) == (("lap",), ("lap",), ("needle",))
    assert [(one.counted, one.off, one.confirmed) for one in count.sums] == [
        (5, -5, False),
        (None, None, False),
    ]


def test_a_count_by_places_that_is_not_finished_names_what_differs(tmp_path: Path) -> None:
    """An item is off only when both people gave every place of it."""
    count = played(short().go("scrub: suture needles on the field one"), tmp_path).counts[-1]
    sums = {one.item: one for one in count.sums}

    assert count.result is None
    assert count.differing == ("lap",)
    assert (sums["lap"].counted, sums["lap"].expected, sums["lap"].off) == (9, 10, -1)
    assert (sums["needle"].counted, sums["needle"].off) == (None, None)
    assert sums["needle"].places == (
        *(("field", None), ("mayo", None)),
        *(("back_table", None), ("off_field", None)),
    )


def test_a_line_that_is_changed_after_the_end_opens_the_count_again(tmp_path: Path) -> None:
    """The last time that it was said to be finished stays, its result does not."""
    play = begun().go("scrub: lap sponges one two three four five", "(wait)")
    facts = played(play.go("scrub: that is an addition"), tmp_path)
    (count,) = facts.counts

    assert count.finished is not None
    assert count.result is None
    assert count.unconfirmed == ("lap",)
    assert facts.items[0].initial == 10
    again = played(play.go("circ: fifteen", "circ: the count is finished"), tmp_path)
    assert again.counts[0].result == "baseline"
    assert again.items[0].initial == 15


def test_a_count_that_is_waived_in_its_middle_was_not_done(tmp_path: Path) -> None:
    """Its result is that; what had been counted in it is shown all the same."""
    play = begun(CASE, "circ: begin the closing count", *called(CASE, "lap", 3, "field"))
    told(play, "we cannot count now", "life is in danger", agreed="yes that is right")
    facts = played(play, tmp_path)
    happening = facts.happenings[-1]

    assert [count.result for count in facts.counts] == ["baseline", "not_done"]
    assert facts.counts[1].finished is None
    assert facts.counts[1].sums[0].counted == 3
    assert facts.counts[1].left == ("lap", "needle")
    assert (happening.what, happening.title, happening.reason) == (
        *("count_waived", "closing count"),
        "life_threatening",
    )
    assert (happening.count, happening.by, happening.agreed) == (2, "scrub", "circulator")
    assert facts.due == ()


def test_what_both_gave_in_an_open_addition_is_expected(tmp_path: Path) -> None:
    """The record may end before the addition does; an addition shows only what was called in it."""
    play = begun(CASE, "circ: add to the count", *called(CASE, "needle", 2))
    facts = played(play, tmp_path)
    needle = next(item for item in facts.items if item.id == "needle")

    assert (needle.initial, needle.added, needle.expected) == (4, 2, 6)
    assert [one.item for one in facts.counts[1].sums] == ["needle"]
    assert facts.counts[1].sums[0].expected is None
    assert facts.due == ("closing count",)


def test_a_line_says_who_called_and_who_answered_it(tmp_path: Path) -> None:
    """A disputed line stands no longer; the one that took its place does."""
    play = Play(CASE).go("scrub: suture needles total five", "(wait)", "circ: four")
    play.go("scrub: suture needles total four", "(wait)", "circ: four")
    (count,) = played(play, tmp_path).counts
    first, second = count.lines

    assert (first.stands, first.confirmed, first.answered) == (False, False, None)
    assert (second.stands, second.confirmed) == (True, True)
    assert (second.by, second.answered_by, second.entry) == ("scrub", "circulator", "recount")
    assert second.answered is not None
    assert second.answered.record == 5
    assert (count.disputed, count.recounted) == (1, 1)
    assert count.sums[1].flags == ("recounted", "stated", "disputed")


def test_without_an_opening_there_is_no_count() -> None:
    """Nothing is made up before a case is opened."""
    counts, nothing = Counts(), Ledger()
    counts.take(Moment(record=1, at=0.0, wall=MADE), StoodBy(at=0.0), nothing, nothing)

    assert counts.facts(nothing) == ()


# What happened.


def test_what_is_told_is_in_the_report_with_its_count(tmp_path: Path) -> None:
    """Between counts there is no number of a count, and each thing has its words by both."""
    play = begun(case_of(team=TEAM))
    told(play, "that pack held another number", "suture needles", "four", "three", agreed="three")
    told(
        play, "something leaves the count", "lap sponge one", "out with the specimen", agreed="one"
    )
    play.go("circ: begin the closing count", "circ: stand by please", "scrub: carry on please")
    told(play, "a break for the scrub", "Ben Moss", agreed="yes that is right")
    told(play, "we are turning to open", agreed="yes that is right", by="circ")
    facts = played(play, tmp_path)
    told_of = {one.what: one for one in facts.happenings}
    pack, left = told_of["incident.other_number"], told_of["incident.handed_over"]
    people = told_of["people_changed"]

    assert [(one.what, one.count) for one in facts.happenings] == [
        *(("incident.other_number", None), ("incident.handed_over", None)),
        *(("stood_by", 2), ("carried_on", 2), ("people_changed", 2), ("turned_open", 2)),
    ]
    assert (pack.item, pack.n, pack.printed) == ("needle", 3, 4)
    assert (left.reason, left.by, left.agreed) == ("with_specimen", "scrub", "circulator")
    assert (people.role, people.outgoing, people.incoming) == ("scrub", None, "ben")
    assert (people.permanent, people.back) == (False, False)
    assert (told_of["turned_open"].by, told_of["turned_open"].agreed) == ("circulator", "scrub")
    assert facts.counts[1].interruptions == 1
    assert facts.team == (("ada", "Ada Field"), ("ben", "Ben Moss"))


def test_what_is_in_the_patient_has_its_site_and_its_removal(tmp_path: Path) -> None:
    """What came out again is gone; each time that some were put in at a site has its own plan."""
    play = begun()
    packed = ("packing is left inside", "in the pelvis", "comes out in theatre")
    told(play, packed[0], "lap sponges two", *packed[1:], agreed="two")
    told(play, packed[0], "lap sponge one", packed[1], "comes out on the ward", agreed="one")
    told(play, "tucking something in", "lap sponges two", "behind the bowel", agreed="two")
    told(play, "tucking something in", "suture needle one", "in the pelvis", agreed="one")
    told(play, "that one came out again", "suture needle one", agreed="one")
    facts = played(play, tmp_path)

    assert [
        (one.item, one.site, one.n, one.on_purpose, one.removal) for one in facts.in_patient
    ] == [
        ("lap", "behind_the_bowel", 2, False, None),
        ("lap", "pelvis", 2, True, "in_theatre"),
        ("lap", "pelvis", 1, True, "on_ward"),
    ]
    assert [one.when for one in facts.in_patient[1:]] == [one.when for one in facts.happenings[:2]]
    assert [(one.by, one.agreed, one.of) for one in facts.in_patient] == [
        ("scrub", "circulator", None)
    ] * 3
    assert (facts.items[0].tucked, facts.items[0].inside) == (2, 3)


def test_of_several_that_were_put_in_nobody_says_which_came_out(tmp_path: Path) -> None:
    """Then the plans of all of them stand beside what is left, and how many were told in all."""
    play = begun()
    packed = ("packing is left inside", "in the pelvis", "comes out in theatre")
    told(play, packed[0], "lap sponges two", *packed[1:], agreed="two")
    told(play, packed[0], "lap sponge one", packed[1], "comes out on the ward", agreed="one")
    told(play, "that one came out again", "lap sponge one", "in the pelvis", agreed="one")
    facts = played(play, tmp_path)

    (left,) = facts.in_patient
    assert (left.n, left.of, left.removal) == (2, 3, "in_theatre; on_ward")
    assert left.when == facts.happenings[1].when


def test_who_was_who_from_when_to_when(tmp_path: Path) -> None:
    """A change for good, then a break: who had a role before a first change was named by it."""
    named = case_of(team=TEAM, policy={"relief_counts": False})
    play = begun(named)
    agreed = "yes that is right"
    told(play, "the scrub is changing", "Ada Field", "Ben Moss", agreed=agreed)
    told(play, "a break for the scrub", "Ada Field", agreed=agreed)
    told(play, "the break is over", agreed=agreed)
    facts = played(play, tmp_path)

    first, away, back = (one.when for one in facts.happenings if one.what == "people_changed")
    assert [
        (one.role, one.person, one.began, one.ended, one.stands_in) for one in facts.tenures
    ] == [
        ("scrub", "ada", facts.began, first, False),
        ("circulator", None, facts.began, None, False),
        ("scrub", "ben", first, away, False),
        ("scrub", "ada", away, back, True),
        ("scrub", "ben", back, None, False),
    ]


def test_what_was_said_against_a_line(tmp_path: Path) -> None:
    """The other person's number stands with the line, beside what it was stored as."""
    play = Play(CASE).go("scrub: suture needles four", "circ: three")
    (line,) = played(play, tmp_path).counts[0].lines

    assert line.dropped is not None
    assert (line.counted, line.confirmed, line.answered) == (4, False, None)
    assert (line.dropped.how, line.dropped.number, line.dropped.by) == (
        "disputed",
        3,
        "circulator",
    )


def test_what_a_plan_leaves_out_is_told_with_the_count(tmp_path: Path) -> None:
    """It is in the count's facts, and the plan itself is in the case's."""
    cavity = {**CAVITY, "leaves_out": ["sharps"]}
    sheet = case_of(plan=(INITIAL, cavity, CLOSING))
    facts = played(begun(sheet, "circ: begin the uterine count"), tmp_path)

    assert [one.not_in_it for one in facts.counts] == [(), ("needle",)]
    assert facts.counts[1].left == ("lap",)
    assert [(one.id, one.kind, one.leaves_out) for one in facts.plan] == [
        ("initial", "initial", ()),
        ("uterus", "cavity", ("sharps",)),
        ("closing", "closing", ()),
    ]


def test_who_told_a_step_is_told(tmp_path: Path) -> None:
    (difference,) = played(short().go(DONE), tmp_path).discrepancies
    assert [(one.step, one.by) for one in difference.steps] == [("pause", "circulator")]


def test_sound_is_told_apart_from_the_count(tmp_path: Path) -> None:
    """Noise and a microphone change no line."""
    play = Play(CASE)
    sound: list[Event] = [
        NoiseChanged(at=1.0, state=Noise.LOUD, channel=0, floor=-40.0, above_noise=12.25),
        MicrophoneChanged(at=2.0, state="gone", seconds=0.5),
    ]
    facts = facts_of(kept([*play.events, *sound], tmp_path / "case.vcj"))

    assert [one.what for one in facts.sound] == ["noise_changed", "microphone_changed"]
    assert [one.text for one in facts.sound] == [event.text for event in facts.events[1:]]


def test_a_difference_is_told_with_its_steps_and_its_end(tmp_path: Path) -> None:
    """Each step has its answer; it is closed by both, or not at all."""
    play = recounted()
    (still,) = played(play, tmp_path).discrepancies
    told(play, "we have found it", "on the floor", "one", agreed="one")
    (one,) = played(play, tmp_path).discrepancies
    (end,) = closed(play)

    assert [(step.step, step.answer, step.n) for step in still.steps] == [
        *(("pause", "done", None), ("tell", "done", None)),
        ("recount", "done", 9),
    ]
    assert (still.closed, still.settled, still.by) == (None, None, None)
    assert (one.counted, one.expected, one.off, one.count, one.place) == (9, 10, -1, 2, None)
    assert (still.off_now, one.off_now) == (-1, -1)
    assert (one.settled, one.n, one.where, one.by, one.agreed) == (
        *("found", 1, "floor"),
        *("scrub", "circulator"),
    )
    assert one.closed is not None
    assert one.closed.at == end.at


def gave_up(first: int, second: int, *script: str) -> Play:
    """Play a closing count whose lap sponges differ, a recount, and that it stays missing."""
    at = [{"lap": (3, 0, n - 3, 0)} for n in (first, second)]
    play = begun(CASE, "circ: begin the closing count", *placed(CASE, at[0]))
    play = walked(play.go(DONE, DONE, *placed(CASE, at[1]), *script))
    play.go(DONE, "circ: that cannot be done", "circ: for another reason")
    return told(play, "it stays missing", "the surgeon will go on", agreed="yes that is right")


@pytest.mark.parametrize(
    ("first", "second", "off", "now", "end"),
    [(11, 9, 1, -1, "not_found"), (8, 9, -2, -1, "not_found"), (8, 8, -2, -2, "not_found")],
)
def test_what_is_missing_is_what_was_missing_when_both_closed_it(
    first: int, second: int, off: int, now: int, end: str, tmp_path: Path
) -> None:
    """Ten are expected, worked out by hand: the recount tells how many are not there.

    One too many at first is one missing after a recount of nine: nothing is "too many" then.
    """
    facts = played(gave_up(first, second), tmp_path)
    (one,) = facts.discrepancies

    assert (one.off, one.off_now, one.settled) == (off, now, "not_found")
    assert Summary.of([facts]).ended == {end: 1}
    assert numbers(facts) == Case(read(tmp_path / "0.vcj")).numbers()
    for text in (
        json.dumps(as_data(pages(facts))),
        json.dumps(bundle(facts)),
    ):
        assert "too many, not explained" not in text
        assert "closed by both without the item: not found" in text.lower()
    notice = next(one for one in pages(facts) if isinstance(one, Notice))
    assert notice.title.endswith("Closed without the item")
    assert f"lap sponge, {-now} short, count 2" in notice.text


def test_what_was_found_before_it_was_given_up_is_not_missing(tmp_path: Path) -> None:
    """Two of ten are missing; one is found in the drapes, the other one is not: one is missing."""
    at = placed(CASE, {"lap": (3, 0, 5, 0)})
    play = begun(CASE, "circ: begin the closing count", *at)
    play.go(DONE, DONE, *placed(CASE, {"lap": (3, 0, 5, 0)}))
    told(play, "we have found it", "in the drapes", "one", agreed="one")
    (one,) = played(play, tmp_path).discrepancies

    assert (one.off, one.off_now, one.settled) == (-2, -1, None)
    assert numbers(played(play, tmp_path)) == Case(read(tmp_path / "1.vcj")).numbers()


def test_a_difference_that_turns_to_too_many_was_closed_as_that(tmp_path: Path) -> None:
    """Nine at first, eleven when both count again, and nobody can explain it."""
    facts = played(recounted(), tmp_path)
    (one,) = facts.discrepancies
    over = one.model_copy(update={"off_now": 1, "settled": "not_found", "closed": one.opened})
    facts = facts.model_copy(update={"discrepancies": (over,)})

    assert Summary.of([facts]).ended == {"too_many": 1}
    notices = [one.title for one in pages(facts) if isinstance(one, Notice)]
    assert not [title for title in notices if "without the item" in title]
    assert "too many, not explained" in json.dumps(bundle(facts)).lower()


def test_a_stand_by_in_the_middle_of_a_call_is_one_interruption(tmp_path: Path) -> None:
    """The same words end the call and stop the taking; a second stand-by is another one."""
    play = begun(CASE, "circ: begin the closing count")
    play.go("scrub: lap sponges on the field one two", "+scrub: stand by please")
    (count,) = played(play, tmp_path).counts[1:]
    cut, stood = play.events[-2:]

    assert (cut.kind, stood.kind, cut.at) == ("line_refused", "stood_by", stood.at)
    assert (count.interruptions, count.refused) == (1, 1)
    assert numbers(played(play, tmp_path)) == Case(read(tmp_path / "1.vcj")).numbers()
    play.go("scrub: carry on please", "circ: stand by please")
    facts = played(play, tmp_path)
    assert facts.counts[1].interruptions == 2
    assert numbers(facts) == Case(read(tmp_path / "2.vcj")).numbers()


def test_one_channel_holds_what_was_said_without_who_said_it(tmp_path: Path) -> None:
    """Roles are not told apart, so nobody is named, and the lines say so by their flag."""
    play = Play(CASE, told_apart=False)
    play.go("one: suture needles total four", "(wait)", "one: four")
    facts = played(play, tmp_path)

    assert not facts.roles_told_apart
    assert "roles_not_told_apart" in facts.counts[0].sums[1].flags
    assert numbers(facts) == Case(read(tmp_path / "0.vcj")).numbers()


def test_a_package_set_aside_in_an_addition_is_shown_as_nothing_counted(tmp_path: Path) -> None:
    """It was called, so the addition shows it; none of it is in any number."""
    play = begun(CASE, "circ: add to the count", "scrub: lap sponges one two three four", "(wait)")
    facts = played(play, tmp_path)
    (one,) = facts.counts[1].sums

    assert (one.item, one.counted, one.flags) == ("lap", None, ("package_set_aside",))
    assert facts.items[0].expected == 10
    assert facts.counts[1].left == ("lap",)


# The chain, damage, cautions.


def test_every_moment_is_that_of_its_record() -> None:
    """Record, wall clock in UTC, and the case's clock; the journal's own records have none."""
    facts, raw = facts_of(TORN), read(TORN)
    kinds = [event.kind for event in facts.events]

    assert kinds == [record["kind"] for record in raw]
    assert [event.when.record for event in facts.events] == list(range(1, len(raw) + 1))
    for event, record in zip(facts.events, raw, strict=True):
        assert datetime.fromisoformat(event.when.wall).utcoffset() == UTC.utcoffset(None)
        assert event.when.at == record.get("at", facts.events[15].when.at)
    assert facts.began == facts.events[0].when
    assert facts.ended == facts.events[-1].when
    assert facts.closed is None
    assert [(one.first, one.last) for one in facts.sessions] == [(1, 16), (17, 35)]


def test_the_chain_tells_of_what_was_cut_off() -> None:
    """The notes are those of the command verify; nobody may have looked for the copy."""
    copy = f"{TORN.name}.torn-20260302T080000"
    for copies, where in (
        (None, "was kept beside"),
        ({copy}, "is beside"),
        (set(), "is not beside"),
    ):
        notes = facts_of(TORN, copies=copies).chain.notes
        assert notes[-1].endswith(f"its copy {copy} {where} the journal")
        assert sum("the wall clock went back" in note for note in notes) == 2


@pytest.mark.parametrize("cut", [60, 140, 190])
def test_what_is_whole_before_damage_is_reported(cut: int, tmp_path: Path) -> None:
    """The damage is named, and the numbers are those of the lines before it."""
    lines = WHOLE.read_bytes().splitlines(keepends=True)
    spoiled, whole = tmp_path / "spoiled.vcj", tmp_path / "whole.vcj"
    spoiled.write_bytes(b"".join([*lines[:cut], lines[cut].replace(b"1", b"2"), *lines[cut + 1 :]]))
    whole.write_bytes(b"".join(lines[:cut]))
    facts = facts_of(spoiled)

    assert not facts.chain.whole
    assert facts.chain.damage is not None
    assert facts.chain.damage.startswith(f"line {cut + 1}: ")
    assert (facts.chain.records, len(facts.events)) == (cut, cut)
    assert numbers(facts) == Case(read(whole)).numbers()
    assert facts.chain.head == facts_of(whole).chain.head


def test_what_is_whole_and_cannot_be_is_damage_too(tmp_path: Path) -> None:
    """A confirmation of a number that nobody stored ends the report before it."""
    play = begun()
    at = next(at for at, event in enumerate(play.events) if event.kind == "line_confirmed")
    wrong = play.events[at].model_copy(update={"number": 9})
    events = [*play.events[:at], wrong, *play.events[at + 1 :]]
    facts = facts_of(kept(events, tmp_path / "case.vcj"))

    assert not facts.chain.whole
    assert "the number 9 is not the stored" in str(facts.chain.damage)
    assert facts.chain.records == len(facts.events) == at
    assert not any(line.confirmed for line in facts.counts[0].lines)


@pytest.mark.parametrize("data", [b"", b"no journal\n", TORN.read_bytes()[:100]])
def test_a_journal_without_an_opening_is_refused(data: bytes) -> None:
    """There is nothing to report; the error is one line, with what to do."""
    with pytest.raises(JournalError, match=r"^a\.vcj: .*see by the command verify") as caught:
        gather("a.vcj", read_whole_part(data, CODEC), made=MADE, made_by="test 1")

    assert "\n" not in str(caught.value)


def test_what_the_user_gave_and_who_made_it_are_kept() -> None:
    """They are written as given."""
    facts = facts_of(TORN, given=[("Theatre", "4"), ("Case", "=1+1")])

    assert facts.given == (("Theatre", "4"), ("Case", "=1+1"))
    assert (facts.journal, facts.made, facts.made_by) == (TORN.name, MADE, "test 1")
    assert facts.heard is None


def test_cautions_say_what_a_record_is_not() -> None:
    """README's first promises stand on every record, and nothing in them says safe without not."""
    text = " ".join(CAUTIONS)
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    never = "does not replace the team's own count, wound exploration or imaging, nor local policy"

    assert facts_of(WHOLE).cautions == CAUTIONS
    assert never in text
    assert never in readme
    assert "The two people decide" in text
    assert "silence is never consent" in text
    for sentence in text.split("."):
        assert "safe" not in sentence or sentence.strip().startswith("Nothing here says that it is")
