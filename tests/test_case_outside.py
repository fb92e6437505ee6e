"""Published scenarios, plans and sums, played in typed words and rewritten in our own.

Each test names its source; what is from memory is marked so.
"""

import pytest
from cases import (
    CAVITY,
    CLAMPS,
    CLOSING,
    DONE,
    FINAL,
    INITIAL,
    LAPS,
    NEEDLES,
    TEAM,
    begun,
    called,
    case_of,
    closed,
    first_count,
    of_kind,
    placed,
    told,
    walked,
)
from playing import Play

from voicecount.count.events import CountResult
from voicecount.count.tally import State
from voicecount.sheet.model import Sheet
from voicecount.sheet.plan import CountKind

YES = "yes that is right"


def hold(played: Play, sheet: Sheet, lines: dict[str, tuple[int, ...]]) -> Play:
    """Hold the next count of the plan."""
    played.go("circ: begin the count", *placed(sheet, lines))
    return played.go("circ: the count is finished")


def kinds_and_results(played: Play) -> list[tuple[str, CountResult | None]]:
    """Give each count of a case with what it came to."""
    return [(event.count, event.result) for event in of_kind(played, "count_finished")]


# Plans


def test_removal_of_fibroids_has_five_counts() -> None:
    """Initial, uterine cavity, abdominal cavity, closing, final: five counts of one operation.

    Source: AORN 2022, as taught in a lesson for certified perioperative nurses.
    """
    abdomen = {"id": "abdomen", "kind": "cavity", "say": "abdominal count"}
    sheet = case_of(plan=(INITIAL, CAVITY, abdomen, CLOSING, FINAL))
    played = begun(sheet)
    for lap in ((4, 0, 6, 0), (3, 0, 7, 0), (1, 0, 4, 5), (0, 0, 5, 5)):
        hold(played, sheet, {"lap": lap, "needle": (0, 1, 3, 0)})
    played.go("circ: close the record now", "scrub: yes that is right")

    assert kinds_and_results(played) == [
        ("initial", CountResult.BASELINE),
        *((name, CountResult.AGREES) for name in ("uterus", "abdomen", "closing", "final")),
    ]
    assert len(of_kind(played, "count_finished")) == 5
    assert of_kind(played, "case_closed")[0].due == ()


def test_a_scheme_of_four_counts() -> None:
    """Before the start, before and after closing a cavity, after the skin: four counts.

    Source: Chinese operating room counting principles, read in a copy.
    """
    plan = (
        INITIAL,
        {"id": "before", "kind": "cavity", "say": "count before the cavity closes"},
        {"id": "after", "kind": "closing", "say": "count after the cavity is closed"},
        {"id": "skin", "kind": "final", "say": "count after the skin"},
    )
    sheet = case_of(plan=plan)
    played = begun(sheet)
    for _ in range(3):
        hold(played, sheet, {"lap": (0, 0, 10, 0), "needle": (0, 0, 4, 0)})

    assert [name for name, _ in kinds_and_results(played)] == ["initial", "before", "after", "skin"]
    assert played.go("circ: begin the count").said.startswith("No count of the plan is left.")


def test_a_keyhole_operation_that_turns_open() -> None:
    """Instruments are in the first count, not in the last, but are when the operation turns open.

    Source: a Canadian provincial hospital policy, 2015, on minimally invasive operations.
    """
    final = {**FINAL, "leaves_out": ["instruments"], "unless_open": True}
    sheet = case_of(LAPS, CLAMPS, plan=(INITIAL, final))
    assert begun(sheet).ledger.expected("clamp") == 2
    kept = hold(begun(sheet), sheet, {"lap": (0, 0, 10, 0)})
    assert kinds_and_results(kept)[-1] == ("final", CountResult.AGREES)

    opened = told(begun(sheet), "we are turning to open", agreed=YES)
    hold(opened, sheet, {"lap": (0, 0, 10, 0), "clamp": (0, 1, 1, 0)})
    assert kinds_and_results(opened)[-1] == ("final", CountResult.AGREES)
    assert opened.ledger.tally("clamp", "mayo").confirmed == 1


def test_a_minor_operation_is_counted_without_instruments() -> None:
    """On the surface a first and a last count without instruments are enough.

    Source: from memory.
    """
    sheet = case_of(plan=(INITIAL, FINAL))
    played = hold(begun(sheet), sheet, {"lap": (0, 0, 10, 0), "needle": (0, 0, 4, 0)})

    assert [name for name, _ in kinds_and_results(played)] == ["initial", "final"]


# Sums


@pytest.mark.parametrize(
    ("name", "pack", "packs", "total"),
    [
        ("lap sponge", 5, 2, 10),
        ("lap sponge", 5, 4, 20),
        ("gauze", 10, 1, 10),
        ("gauze", 10, 3, 30),
        ("cotton patty", 10, 1, 10),
        ("peanut", 5, 1, 5),
        ("suture boot", 10, 1, 10),
    ],
)
def test_packages_are_counted_by_their_size(name: str, pack: int, packs: int, total: int) -> None:
    """So many packages of so many come to their product, each counted from one.

    Source: sizes in published teaching material (read second-hand); count packaged items by the
    number they are packed in (AORN FAQ 2015).
    """
    sheet = case_of({"id": "it", "say": [name], "pack": pack, "expect": total})
    played = Play(sheet).go(*called(sheet, "it", total), "circ: the count is finished")

    assert len([line for line in of_kind(played, "line_stored") if line.counted == pack]) == packs
    assert played.ledger.expected("it") == pack * packs == total


COMPOSITE = case_of(
    LAPS,
    {"id": "gauze", "pack": 10, "expect": 10},
    {**NEEDLES, "expect": 8},
    {"id": "blade", "group": "sharps", "expect": 2},
    {"id": "loop", "say": ["vessel loop"], "group": "miscellaneous", "expect": 2},
    plan=(INITIAL, CAVITY, CLOSING),
)
"""First count: lap sponges 2 × 5, gauze 1 × 10, needles 8, blades 2, vessel loops 2."""


def composite() -> Play:
    """Play a whole ledger up to its closing count: additions, a wrong package, a cut sponge.

    Source: arithmetic made from published package sizes; no published ledger is known.
    """
    played = begun(COMPOSITE, "scrub: add to the count", *called(COMPOSITE, "lap", 5))
    assert played.ledger.expected("lap") == 15
    played.go("scrub: lap sponges one two three four", "(wait)")
    assert of_kind(played, "package_set_aside")[0].held == 4
    played.go(*called(COMPOSITE, "needle", 3), "circ: the count is finished")
    told(played, "something was cut", "lap sponge one", agreed="one")
    expected = {item: played.ledger.expected(item) for item in played.ledger.items}
    assert expected == {"lap": 16, "gauze": 10, "needle": 11, "blade": 2, "loop": 2}
    return played


REST: dict[str, tuple[int, ...]] = {
    "gauze": (0, 0, 10, 0),
    "needle": (0, 1, 9, 0),
    "blade": (0, 2, 0, 0),
    "loop": (0, 0, 2, 0),
}


def test_a_whole_ledger_by_hand() -> None:
    """3 + 0 + 5 + 8 is the 16 expected; 10 needles are one short of 11, and one is on the floor.

    Source: arithmetic made from published package sizes; both values are kept.
    """
    played = composite().go("circ: begin the closing count")
    played.go(*placed(COMPOSITE, {"lap": (3, 0, 5, 8)}))
    assert "Lap sponges, together sixteen, one six." in played.said
    played.go(*placed(COMPOSITE, REST))
    (open_,) = played.ledger.discrepancies.values()
    assert (open_.item, open_.counted, open_.expected) == ("needle", 10, 11)
    told(played, "we have found it", "on the floor", "one", agreed="one", by="circ")
    played.go("circ: the count is finished")

    (event,) = of_kind(played, "discrepancy_opened")
    assert (event.counted, event.expected) == (10, 11)
    assert (closed(played)[0].n, closed(played)[0].where) == (1, "floor")
    assert kinds_and_results(played)[-1] == ("closing", CountResult.RECONCILED)
    assert played.ledger.expected("needle") == 11


def test_packing_left_in_that_ledger() -> None:
    """14 seen and 2 left in the patient are 16: reconciled with two left, never plain agreement.

    Source: AORN 2022, in a lesson for perioperative nurses; arithmetic as above.
    """
    played = told(
        composite(),
        *("packing is left inside", "lap sponges two", "in the pelvis", "comes out in theatre"),
        agreed="two",
    )
    played.go("circ: begin the uterine count")
    rest = {**REST, "needle": (0, 1, 10, 0)}
    played.go(*placed(COMPOSITE, {"lap": (1, 0, 5, 8), **rest}), "circ: the count is finished")

    assert kinds_and_results(played)[-1] == ("uterus", CountResult.LEFT_ON_PURPOSE)
    assert "Left in the patient on purpose: lap sponges, two, in the pelvis." in played.said


# Questions of an open nursing course on surgical counting, with their answers, rewritten


def test_a_needle_is_missing_while_the_fascia_is_closed() -> None:
    """Closing pauses, and sharps and sponges are counted again by both people.

    Source: open nursing course on surgical counting (quiz).
    """
    sheet = case_of()
    played = begun(sheet, "circ: begin the closing count")
    played.go(*placed(sheet, {"lap": (3, 0, 7, 0), "needle": (0, 0, 3, 0)}))
    assert "Closing pauses." in played.said
    played.go(DONE, DONE)
    assert "Both count again. Next, suture needles, on the field." in played.said
    assert {key.item for key in played.ledger.keys(State.RECOUNT)} == {"needle"}

    played.go(*placed(sheet, {"needle": (0, 0, 3, 0)}), "circ: the count is finished")
    played.go("circ: we want a count now")
    assert played.ledger.count is not None
    assert played.ledger.count.items == ("lap", "needle")


def test_the_circulator_leaves_in_the_middle() -> None:
    """A full count with the incoming person, and both names in the record.

    Source: open nursing course on surgical counting (quiz).
    """
    sheet = case_of(team=TEAM)
    played = told(begun(sheet), "the circulator is changing", "Ada Field", "Ben Moss", agreed=YES)
    played.go(*placed(sheet, {"lap": (3, 0, 7, 0), "needle": (0, 1, 3, 0)}))
    played.go("circ: the count is finished")

    (event,) = of_kind(played, "people_changed")
    assert (event.outgoing, event.incoming) == ("ada", "ben")
    assert of_kind(played, "count_opened")[0].count_kind is CountKind.RELIEF
    assert kinds_and_results(played)[-1] == ("relief", CountResult.AGREES)


def test_something_was_opened_and_not_called() -> None:
    """The cause of the surplus is an addition that nobody called; both give it as the reason.

    Source: open nursing course on surgical counting (quiz: a tray opened without a call).
    """
    sheet = case_of(CLAMPS)
    played = begun(sheet, "circ: begin the closing count", *placed(sheet, {"clamp": (0, 2, 3, 0)}))
    played.go(DONE, DONE, *placed(sheet, {"clamp": (0, 2, 3, 0)}), DONE)
    told(played, "we can explain it", "an addition was not called", agreed=YES)

    assert played.ledger.expected("clamp") == 5
    assert closed(played)[0].reason == "not_written_down"
    played.go("circ: the count is finished")
    assert kinds_and_results(played)[-1] == ("closing", CountResult.RECONCILED)


def test_the_two_do_not_agree_about_a_sponge() -> None:
    """Where the two say different numbers the line is counted again by both, and nobody is right.

    Source: open nursing course on surgical counting (quiz: dispute whether a sponge was spoken).
    """
    sheet = case_of()
    played = begun(sheet, "circ: begin the closing count")
    played.go("scrub: lap sponges on the field one two three", "(wait)", "circ: four")
    assert "Stored three. Heard four. Count all lap sponges again, from one." in played.said
    assert played.ledger.tally("lap", "field").state is State.RECOUNT
    played.go("scrub: one two three four", "(wait)", "circ: four")

    assert played.ledger.tally("lap", "field").confirmed == 4
    assert [line.counted for line in of_kind(played, "line_stored")][-2:] == [3, 4]


def test_it_is_still_missing_after_recount_and_search() -> None:
    """Surgeon told, imaging by policy with its result, and the outcome in the record.

    Source: open nursing course on surgical counting (module test).
    """
    sheet = case_of()
    played = begun(sheet, "circ: begin the closing count", *placed(sheet, {"lap": (3, 0, 6, 0)}))
    walked(played.go(DONE, DONE, *placed(sheet, {"lap": (3, 0, 6, 0)})))
    played.go(DONE, DONE, "circ: nothing seen on the image", "circ: read by the radiologist")
    told(played, "it stays missing", "the surgeon will go on", agreed=YES)

    done = [event.step for event in of_kind(played, "step_told")]
    assert done.index("tell") < done.index("recount") < done.index("search") < done.index("image")
    assert closed(played)[0].settled == "not_found"


def test_many_sponges_at_once_are_passed_off_in_groups() -> None:
    """In a mass injury, groups are passed off live, and the closing count has to find them.

    Source: open nursing course on surgical counting (module test: group as soon as possible).
    """
    gauze = {"id": "gauze", "pack": 10, "expect": 40}
    sheet = case_of(gauze)
    played = begun(sheet)
    for _ in range(3):
        told(played, "passing them off the field", "gauze ten", agreed="ten")
    assert dict(played.ledger.account("gauze").off) == {10: 3}
    hold(played, sheet, {"gauze": (0, 0, 10, 30)})

    assert kinds_and_results(played)[-1] == ("closing", CountResult.AGREES)


def test_every_change_is_recorded_at_once_and_by_both() -> None:
    """Every addition and every removal is an event of its own, by both people.

    Source: open nursing course on surgical counting (module test: documentation).
    """
    sheet = case_of()
    played = begun(sheet, "scrub: add to the count", *called(sheet, "lap", 5))
    played.go("circ: the count is finished")
    told(
        played,
        "something leaves the count",
        "lap sponge one",
        "out with the specimen",
        agreed="one",
    )
    (gone,) = of_kind(played, "incident_told")
    added = of_kind(played, "line_confirmed")[-1]

    assert (gone.by, gone.agreed, gone.reason) == ("scrub", "circulator", "with_specimen")
    assert (added.by, added.number) == ("circulator", 5)
    assert played.ledger.expected("lap") == 10 + 5 - 1


# Errors that cancel


def test_errors_that_cancel_are_found() -> None:
    """A needle short, a sponge over, and a place short with a fitting sum are three differences.

    Source: counts had been called correct in 21 of 34 retentions (Cima et al., J Am Coll Surg
    2008) and in 88 % where one was made (Gawande et al., N Engl J Med 2003, read second-hand).
    """
    sheet = case_of({"id": "gauze", "pack": 10, "expect": 10}, LAPS, NEEDLES)
    played = told(begun(sheet), "passing them off the field", "lap sponges five", agreed="five")
    played.go("circ: begin the closing count")
    lines = {"gauze": (1, 0, 10, 0), "lap": (3, 0, 3, 4), "needle": (0, 0, 3, 0)}
    played.go(*placed(sheet, lines))

    assert sum(sum(numbers) for numbers in lines.values()) == 10 + 10 + 4
    found = {one.item: one.opened.differs.value for one in played.ledger.discrepancies.values()}
    assert found == {"gauze": "line", "lap": "place", "needle": "line"}


def test_two_counts_of_the_sponges_at_first() -> None:
    """The first count of the sponges can be made twice; the second takes the first one's place.

    Source: ORNAC correction to the 12th edition, 3.2.51.
    """
    sheet = case_of()
    played = Play(sheet).go(*called(sheet, "lap", 10), "scrub: that is a recount")
    played.go("scrub: lap sponges one two three four five", "(wait)", "circ: five")
    played.go("scrub: one two three four five", "(wait)", "circ: ten")
    played.go(*called(sheet, "needle", 4), "circ: the count is finished")

    assert played.ledger.expected("lap") == 10
    assert "recounted" in played.flags("lap")
    assert played.ledger.finished
    assert list(first_count(sheet))[-1] == "circ: the count is finished"
