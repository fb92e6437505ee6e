"""Facts made by hand, one builder for each kind; what a test does not say is of no weight.

``report_facts.py``, ``fhir_facts.py`` and ``many_facts.py`` make their cases of them.
"""

from typing import Any

from voicecount.report.facts import (
    CaseFacts,
    Chain,
    CountFacts,
    DiscrepancyFacts,
    HappeningFacts,
    InsideFacts,
    ItemFacts,
    LineFacts,
    Moment,
    SumFacts,
)

AT = Moment(record=1, at=0.0, wall="2026-03-02T08:00:00+00:00")


def item(id_: str, **more: Any) -> ItemFacts:
    """Give a line of the sheet: ten, as expected."""
    values: dict[str, Any] = {
        "name": id_,
        "group": "sponges",
        "sheet": 10,
        "pack": None,
        "pieces": 1,
        "initial": 10,
        "added": 0,
        "changed": 0,
        "explained": 0,
        "handed_over": 0,
        "expected": 10,
        "tucked": 0,
        "inside": 0,
        "passed_off": 0,
    }
    return ItemFacts(id=id_, **{**values, **more})


def line(number: int, item: str, **more: Any) -> LineFacts:
    """Give a stored line of three that the circulator confirmed."""
    values: dict[str, Any] = {
        "place": None,
        "numbers": (1, 2, 3),
        "pieces": None,
        "counted": 3,
        "form": "run",
        "entry": "first",
        "stands": True,
        "confirmed": True,
        "stored": AT,
        "by": "scrub",
        "answered": AT,
        "answered_by": "circulator",
    }
    return LineFacts(line=number, item=item, **{**values, **more})


def item_sum(item: str, **more: Any) -> SumFacts:
    """Give what an item came to in a count: ten, as expected."""
    values: dict[str, Any] = {
        "places": (),
        "counted": 10,
        "inside": 0,
        "tucked": 0,
        "expected": 10,
        "off": 0,
        "confirmed": True,
        "flags": (),
    }
    return SumFacts(item=item, **{**values, **more})


def count(number: int, **more: Any) -> CountFacts:
    """Give an initial count that was finished, with nothing in it."""
    values: dict[str, Any] = {
        "id": "initial",
        "kind": "initial",
        "title": "initial count",
        "places": (),
        "opened": AT,
        "finished": AT,
        "result": "baseline",
        "lines": (),
        "sums": (),
        "unconfirmed": (),
        "differing": (),
        "left": (),
        "refused": 0,
        "disputed": 0,
        "recounted": 0,
        "interruptions": 0,
    }
    return CountFacts(number=number, **{**values, **more})


def difference(number: int, item: str, *, off: int, off_now: int, **more: Any) -> DiscrepancyFacts:
    """Give a difference of ten expected that nobody closed."""
    expected = more.pop("expected", 10)
    values: dict[str, Any] = {
        "differs": "line",
        "counted": expected + off,
        "place": None,
        "count": 1,
        "opened": AT,
        "steps": (),
        "closed": None,
        "settled": None,
    }
    return DiscrepancyFacts(
        number=number,
        item=item,
        expected=expected,
        off=off,
        off_now=off_now,
        **{**values, **more},
    )


def told(when: Moment, what: str, **more: Any) -> HappeningFacts:
    """Give something that was told outside of a count."""
    return HappeningFacts(when=when, what=what, **{"count": None, **more})


def inside(item: str, n: int, **more: Any) -> InsideFacts:
    """Give something that was left in the patient on purpose."""
    values: dict[str, Any] = {"site": "pelvis", "on_purpose": True, "removal": None, "when": AT}
    return InsideFacts(item=item, n=n, **{**values, **more})


def chain(head: str, **more: Any) -> Chain:
    """Give a chain that is whole."""
    values = {"whole": True, "records": 1, "digits": head[:8], "spoken": ""}
    return Chain(head=head, **{**values, **more})


def case(made_chain: Chain, **more: Any) -> CaseFacts:
    """Give a case in which nothing came up."""
    values: dict[str, Any] = {
        "journal": "case.vcj",
        "made": "2026-11-27T08:00:00+00:00",
        "made_by": "voicecount 0.1.0",
        "title": "Small case",
        "sheet": "ab" * 32,
        "software": "voicecount 0.1.0",
        "recogniser": "typed",
        "voice": "none",
        "roles_told_apart": True,
        "began": AT,
        "ended": AT,
        "closed": None,
        "sessions": (),
        "team": (),
        "items": (),
        "counts": (),
        "due": (),
        "happenings": (),
        "discrepancies": (),
        "in_patient": (),
        "sound": (),
        "heard": None,
        "events": (),
        "cautions": (),
    }
    return CaseFacts(chain=made_chain, **{**values, **more})
