"""Which events of a case cannot follow what stands: each is refused in one line, never mended."""

from typing import Any

import pytest
from test_account import (
    BASE,
    BOTH,
    CIRC,
    SCRUB,
    SHORT,
    WAIVED,
    count,
    differs,
    finished,
    incident,
    line,
    opened,
)

from voicecount.count.event_base import BaseEvent
from voicecount.count.events import (
    CaseClosed,
    CountResult,
    CountWaived,
    Difference,
    DiscrepancyClosed,
    Event,
    Incident,
    LineTakenBack,
    PeopleChanged,
    Settled,
    Step,
    StepTold,
    TurnedOpen,
)
from voicecount.count.ledger import Ledger, apply, fold
from voicecount.errors import JournalError
from voicecount.sheet.plan import CountKind

STEP: dict[str, Any] = {"at": 12.0, "by": CIRC, "discrepancy": 1}
CLOSE: dict[str, Any] = {"at": 13.0, "discrepancy": 1, **BOTH}
END: dict[str, Any] = {"at": 14.0, "due": ("uterus", "closing", "final"), **BOTH}
CHANGE: dict[str, Any] = {"at": 12.0, "role": SCRUB, "permanent": True, **BOTH}
ALONE: tuple[dict[str, Any], ...] = (
    *({"agreed": None}, {"agreed": SCRUB}, {"by": None}, {"by": CIRC}),
    {"by": None, "agreed": None},
)
NEEDS_BOTH: list[tuple[list[Event], BaseEvent]] = [
    (BASE, incident(Incident.CUT, 1)),
    (BASE, CountWaived(**WAIVED)),
    (BASE, PeopleChanged(**CHANGE)),
    (BASE, TurnedOpen(at=12.0, **BOTH)),
    (BASE, CaseClosed(**END)),
    (BASE, LineTakenBack(at=12.0, item="lap", lines=(1,), **BOTH)),
    ([*SHORT, differs()], DiscrepancyClosed(**CLOSE, settled=Settled.FOUND, n=1)),
    ([*SHORT, differs()], DiscrepancyClosed(**CLOSE, settled=Settled.NOT_FOUND)),
    ([*SHORT, differs()], DiscrepancyClosed(**CLOSE, settled=Settled.EXPLAINED)),
]


def refuse(before: list[Event], event: Any, match: str) -> None:
    """Check that an event cannot follow, with one line that says why."""
    with pytest.raises(JournalError, match=match) as error:
        apply(fold(before), event)
    assert "\n" not in str(error.value)


@pytest.mark.parametrize(("before", "event"), NEEDS_BOTH, ids=lambda one: getattr(one, "kind", ""))
@pytest.mark.parametrize("alone", ALONE)
def test_one_person_where_both_are_needed(
    before: list[Event], event: Any, alone: dict[str, Any]
) -> None:
    """What takes both people is refused with one, with the same one twice, and with nobody.

    Source: two people (Great Ormond Street Hospital guideline; AORN, from memory).
    """
    assert apply(fold(before), event)
    refuse(before, event.model_copy(update=alone), "it takes both people")


@pytest.mark.parametrize(("before", "event"), NEEDS_BOTH, ids=lambda one: getattr(one, "kind", ""))
def test_one_channel_does_not_know_who(before: list[Event], event: Any) -> None:
    """Where one channel holds both voices, nobody is named; the dialogue asks twice."""
    one = [opened(told_apart=False), *before[1:]]
    update = {"by": None, "agreed": None}

    assert apply(fold(one), event.model_copy(update=update))


@pytest.mark.parametrize(
    ("kind", "n", "fields"),
    [
        (Incident.DROPPED, 0, {}),
        (Incident.DROPPED, 11, {}),
        (Incident.CUT, 11, {}),
        (Incident.BROKEN, 1, {}),
        (Incident.INCOMPLETE, 1, {}),
        (Incident.TUCKED, 11, {}),
        (Incident.PACKED, 11, {}),
        (Incident.CAME_OUT, 1, {}),
        (Incident.HANDED_OVER, 11, {}),
        (Incident.COUNTED_OFF, 11, {}),
        (Incident.OTHER_NUMBER, 5, {"printed": 5}),
        (Incident.OTHER_NUMBER, 5, {}),
        (Incident.OTHER_NUMBER, 0, {"printed": 11}),
        (Incident.ONE_TOO_MANY, 0, {}),
        (Incident.ADDED, 0, {}),
    ],
)
def test_an_incident_that_cannot_be(kind: Incident, n: int, fields: dict[str, Any]) -> None:
    """None, more than there are, no piece missing, the printed number: refused, not clipped."""
    refuse(BASE, incident(kind, n, **fields), "record 'incident_told'")


def test_what_is_in_the_patient_is_not_dropped() -> None:
    """Sponges that are tucked in or packed cannot be dropped, cut or handed over on the table."""
    inside = [incident(Incident.TUCKED, 4, site="pelvis"), incident(Incident.PACKED, 4)]

    assert apply(fold([*BASE, *inside]), incident(Incident.DROPPED, 2))
    refuse([*BASE, *inside], incident(Incident.DROPPED, 3), "not that many")


@pytest.mark.parametrize(
    ("before", "event", "why"),
    [
        ([opened()], count(), "not finished"),
        (BASE, count(3), "count 3 stands where count 2"),
        (BASE, count(items=("spoon",)), "'spoon' is not on the sheet"),
        (SHORT, count(3), "not finished"),
        (BASE, finished(count="closing"), "not the one that is open"),
        (BASE, finished(number=2), "not the one that is open"),
        ([*BASE, *SHORT[8:]], line(6, "lap", 1, "floor")[0], "no place"),
        ([*BASE, count(items=("lap",))], line(4, "needle", 1, "field")[0], "left out"),
        ([*BASE, count()], line(4, "lap", 1)[0], "no place"),
    ],
)
def test_a_count_that_cannot_follow(before: list[Event], event: Any, why: str) -> None:
    """Counts follow one another with their numbers, and hold only their own lines and places."""
    refuse(before, event, why)


CLOSED_COUNT = [*SHORT, differs(), finished(count="closing", number=2, result="differs", open=(1,))]


@pytest.mark.parametrize(
    "event",
    [
        line(6, "lap", 1, "field")[0],
        line(4, "lap", 3, "field")[1],
        LineTakenBack(at=20.0, item="lap", place="field", lines=(4,), **BOTH),
    ],
    ids=lambda event: event.kind,
)
def test_no_line_changes_after_the_end_of_its_count(event: Any) -> None:
    """Nothing is stored, confirmed or taken back in a count that is finished."""
    refuse(CLOSED_COUNT, event, "no count is open")


def test_a_result_is_what_its_lines_say() -> None:
    """The end of a count is refused with any result but the one that its lines have."""
    for wrong in set(CountResult) - {CountResult.DIFFERS}:
        event = finished(count="closing", number=2, result=wrong, open=(1,))
        refuse([*SHORT, differs()], event, "its lines say 'differs'")
    for wrong in set(CountResult) - {CountResult.BASELINE}:
        refuse(BASE[:-1], finished(result=wrong), "its lines say 'baseline'")


@pytest.mark.parametrize("open_", [(), (2,), (1, 2)])
def test_the_end_of_a_count_names_what_is_open(open_: tuple[int, ...]) -> None:
    """A difference that is open has to stand in the event that ends the count."""
    event = finished(count="closing", number=2, result=CountResult.DIFFERS, open=open_)
    refuse([*SHORT, differs()], event, "does not name the differences")


def test_an_addition_ends_with_every_line_confirmed() -> None:
    """An addition with a line that waits cannot be finished."""
    addition = count(count="addition", count_kind=CountKind.ADDITION, places=())
    event = finished(count="addition", number=2, result=CountResult.INCOMPLETE)

    refuse([*BASE, addition, line(4, "lap", 5)[0]], event, "when both people gave")


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"number": 2}, "not the next one"),
        ({"counted": 10}, "nothing differs"),
        ({"counted": 8}, "not those of the lines"),
        ({"expected": 11}, "not those of the lines"),
        ({"differs": Difference.PLACE}, "not those of the lines"),
        ({"item": "spoon"}, "not on the sheet"),
    ],
)
def test_a_difference_has_the_numbers_of_its_lines(fields: dict[str, Any], why: str) -> None:
    """A difference with other numbers than the lines have, or with none, is refused."""
    assert fold([*SHORT, differs()]).discrepancies[1].off == -1
    refuse(SHORT, differs(**fields), why)


@pytest.mark.parametrize("found", [2, -1])
def test_more_is_never_found_than_is_missing(found: int) -> None:
    """A step cannot find more than what is missing, nor fewer than none."""
    step = StepTold(**STEP, step=Step.SEARCH, found=found)
    refuse([*SHORT, differs()], step, "were found where 1 are missing")
    refuse(SHORT, StepTold(**STEP, step=Step.PAUSE), "difference 1 is not open")


@pytest.mark.parametrize(
    ("settled", "n", "why"),
    [
        (Settled.FOUND, 0, "do not make up"),
        (Settled.FOUND, 2, "do not make up"),
        (Settled.RECOUNTED, 0, "the recount still differs"),
    ],
)
def test_a_difference_is_not_closed_by_numbers_that_differ(
    settled: Settled, n: int, why: str
) -> None:
    """Found has to make up for what is missing, and a recount has to agree."""
    refuse([*SHORT, differs()], DiscrepancyClosed(**CLOSE, settled=settled, n=n), why)
    refuse(SHORT, DiscrepancyClosed(**CLOSE, settled=settled, n=n), "is not open")


def test_a_waiver_is_of_a_count_that_is_due() -> None:
    """A count that is in no plan, or was held, cannot be waived."""
    refuse(BASE, CountWaived(**WAIVED | {"count": "asked"}), "is not due")
    refuse(BASE, CountWaived(**WAIVED | {"count": "initial"}), "is not due")
    once = CountWaived(**WAIVED)
    refuse([*BASE, once], once, "is not due")


TUCKED = [*SHORT, differs(), incident(Incident.TUCKED, 1, "needle", site="pelvis")]
LOST = [*SHORT, differs(), DiscrepancyClosed(**CLOSE, settled=Settled.NOT_FOUND)]


@pytest.mark.parametrize(
    ("before", "fields", "why"),
    [
        (TUCKED, {"open": (), "tucked": ("needle",)}, "open or were not found"),
        (TUCKED, {"open": (1,), "tucked": ()}, "what is in the patient"),
        (TUCKED, {"open": (1,), "tucked": ("needle",), "inside": ("lap",)}, "in the patient"),
        (TUCKED, {"open": (1,), "tucked": ("needle",), "due": ()}, "were not held"),
        (LOST, {}, "open or were not found"),
        (LOST, {"open": (1,), "not_found": (1,)}, "open or were not found"),
    ],
)
def test_the_end_of_a_case_names_all_that_is_open(
    before: list[Event], fields: dict[str, Any], why: str
) -> None:
    """What is open, not found, not held or in the patient has to stand in the last event."""
    refuse(before, CaseClosed(**END | fields), why)


def test_nothing_follows_the_end() -> None:
    """After both ended the case, every event is refused."""
    ended = [*BASE, CaseClosed(**END)]
    for event in (count(), incident(Incident.CUT, 1), TurnedOpen(at=20.0, **BOTH), ended[-1]):
        refuse(ended, event, "closed before")


def test_a_break_and_its_end() -> None:
    """A break is over when it is told, or when somebody takes over for good."""
    away = PeopleChanged(**CHANGE | {"permanent": False, "incoming": "ben"})
    ledger: Ledger = fold([*BASE, away])
    assert (ledger.relieved, ledger.people) == ({SCRUB}, {SCRUB: "ben"})

    back = away.model_copy(update={"back": True, "incoming": None})
    assert (apply(ledger, back).relieved, apply(ledger, back).people) == (frozenset(), {})
    assert apply(ledger, PeopleChanged(**CHANGE)).relieved == frozenset()
