"""A made-up case as facts, with everything in it that a bundle has a place for."""

from typing import Any

import made_facts

from voicecount.report.facts import (
    CaseFacts,
    CountFacts,
    DiscrepancyFacts,
    DroppedFacts,
    HappeningFacts,
    HeardFacts,
    InsideFacts,
    ItemFacts,
    LineFacts,
    Moment,
    PlannedFacts,
    Session,
    SoundFacts,
    StepFacts,
    SumFacts,
)
from voicecount.report.gather_people import tenures

HEAD = "a1" * 32
DAMAGE = "line 80, byte 9001: the hash is not that of the line"
RIBBON, HOOK = "ribbon", "hook"


def when(record: int) -> Moment:
    """Give a moment at a record; its time of day grows with the records."""
    wall = f"2031-05-06T07:{record // 60:02d}:{record % 60:02d}.5+00:00"
    return Moment(record=record, at=float(record), wall=wall)


def line(number: int, item: str, **more: Any) -> LineFacts:
    """Give a stored line that the circulator confirmed, unless something else is told."""
    values: dict[str, Any] = {"stored": when(number), "answered": when(number + 1), **more}
    return made_facts.line(number, item, **values)


def item_sum(item: str, **more: Any) -> SumFacts:
    """Give what an item came to in a count."""
    return made_facts.item_sum(item, **{"counted": 41, "expected": 41, **more})


def count(number: int, kind: str, title: str, **more: Any) -> CountFacts:
    """Give a finished count."""
    values: dict[str, Any] = {
        "id": kind,
        "kind": kind,
        "title": title,
        "opened": when(10 * number),
        "finished": when(10 * number + 9),
        **more,
    }
    return made_facts.count(number, **values)


def step(record: int, name: str, **more: Any) -> StepFacts:
    """Give a step of a difference."""
    return StepFacts(**{"when": when(record), "step": name, "answer": "done", **more})


def difference(number: int, **more: Any) -> DiscrepancyFacts:
    """Give a difference that nobody closed."""
    values: dict[str, Any] = {
        "item": RIBBON,
        "expected": 55,
        "off": -3,
        "off_now": -3,
        "count": 2,
        "opened": when(30),
        **more,
    }
    return made_facts.difference(number, **values)


def dropped(record: int, how: str, **more: Any) -> DroppedFacts:
    """Give what was said or done against a line."""
    return DroppedFacts(when=when(record), how=how, **more)


def planned(
    id_: str, title: str, kind: str, *leaves_out: str, unless: bool = False
) -> PlannedFacts:
    """Give a count of the plan."""
    return PlannedFacts(id=id_, title=title, kind=kind, leaves_out=leaves_out, unless_open=unless)


def told(record: int, what: str, **more: Any) -> HappeningFacts:
    """Give something that was told."""
    return made_facts.told(when(record), what, **more)


def inside(item: str, n: int, **more: Any) -> InsideFacts:
    """Give something that is in the patient."""
    return made_facts.inside(item, n, **{"removal": "on_ward", "when": when(60), **more})


def _items(name: str) -> tuple[ItemFacts, ...]:
    ribbon: dict[str, Any] = {
        "name": name,
        "sheet": 41,
        "pack": 43,
        "initial": 41,
        "added": 17,
        "changed": 19,
        "explained": 23,
        "handed_over": 29,
        "expected": 71,
        "tucked": 31,
        "inside": 37,
        "passed_off": 47,
    }
    hook: dict[str, Any] = {
        "group": "instruments",
        "sheet": None,
        "pieces": 5,
        "initial": None,
        "expected": None,
    }
    return made_facts.item(RIBBON, **ribbon), made_facts.item(HOOK, **hook)


def _counts() -> tuple[CountFacts, ...]:
    first = count(
        1,
        "initial",
        "first count",
        lines=(
            line(
                11,
                RIBBON,
                numbers=(1, 2, 4),
                stands=False,
                confirmed=False,
                answered=None,
                dropped=dropped(12, "disputed", by="circulator", number=127),
            ),
            line(12, RIBBON, counted=41, form="total", numbers=(41,)),
            line(13, HOOK, by=None, answered_by=None, counted=6),
        ),
        sums=(
            item_sum(RIBBON, flags=("recounted", "stated")),
            item_sum(HOOK, counted=6, expected=None, off=None),
        ),
        disputed=61,
        recounted=67,
    )
    second = count(
        2,
        "closing",
        "closing count",
        places=("field", "off_field"),
        result="differs",
        lines=(
            line(21, RIBBON, place="field", counted=52),
            line(
                24,
                HOOK,
                place="field",
                confirmed=False,
                pieces=5,
                dropped=dropped(26, "recount", why="interrupted"),
            ),
            line(
                25,
                RIBBON,
                place="field",
                stands=False,
                confirmed=False,
                dropped=dropped(27, "taken_back", by="scrub", agreed="circulator"),
            ),
        ),
        sums=(
            item_sum(
                RIBBON,
                places=(("field", 52), ("off_field", None)),
                counted=52,
                inside=37,
                tucked=31,
                expected=123,
                off=-3,
            ),
            item_sum(HOOK, counted=None, expected=None, off=None, confirmed=False),
        ),
        unconfirmed=(HOOK,),
        differing=(RIBBON,),
        left=(HOOK,),
        not_in_it=("unlisted",),
        refused=73,
        interruptions=79,
    )
    return (
        first,
        second,
        count(3, "asked", "asked for", finished=None, result=None, sums=(item_sum(RIBBON),)),
        count(4, "cavity", "cavity count", result="not_done"),
        count(5, "final", "last count", result="agrees", sums=(item_sum(RIBBON),)),
    )


def _differences() -> tuple[DiscrepancyFacts, ...]:
    first = difference(
        1,
        steps=(
            *(step(31, "pause"), step(32, "tell", by="circulator"), step(33, "recount", n=53)),
            step(34, "search", where="floor", answer="found", found=83, by="scrub"),
            step(35, "search", where="linen", answer="nothing"),
            step(36, "charge", answer="not_done", by="scrub"),
            step(37, "image", answer="nothing_seen", reader="radiologist", by="circulator"),
        ),
        off_now=-2,
        closed=when(39),
        settled="found",
        n=89,
        where="floor",
        by="circulator",
        agreed="scrub",
    )
    second = difference(
        2,
        differs="place",
        place="off_field",
        count=0,
        off=2,
        off_now=2,
        steps=(
            step(41, "tell", answer="not_done", reason="other_reason"),
            step(42, "image", answer="not_done", reason="too_ill"),
        ),
        closed=when(43),
        settled="not_found",
        reason="surgeon_goes_on",
    )
    third = difference(3, item="unlisted", differs="piece")
    fourth = difference(4, closed=when(44), settled="explained", reason="first_count_wrong")
    return first, second, third, fourth


def _happenings() -> tuple[HappeningFacts, ...]:
    both = {"by": "scrub", "agreed": "circulator"}
    change = {"role": "scrub", "permanent": True, **both}
    return (
        told(14, "incident.other_number", count=1, item=RIBBON, n=8, printed=10, **both),
        told(15, "incident.packed", item=RIBBON, n=37, site="pelvis", reason="on_ward", **both),
        told(16, "turned_open"),
        told(17, "people_changed", outgoing="ab", incoming="cd", **change),
        told(18, "people_changed", outgoing="cd", incoming="nobody-listed", **change),
        told(19, "people_changed", role="circulator", permanent=False),
        told(20, "people_changed", back=True),
        told(22, "count_waived", title="skin count", reason="life_threatening", **both),
        told(23, "count_waived"),
        told(57, "incident.packed", item=HOOK, n=131, site="chest", reason="in_theatre", **both),
        told(58, "incident.packed", item=HOOK, n=137, site="chest", **both),
    )


def _in_patient() -> tuple[InsideFacts, ...]:
    both = {"by": "scrub", "agreed": "circulator"}
    return (
        inside(RIBBON, 37, when=when(15), **both),
        inside(RIBBON, 38, removal="not_planned"),
        inside(HOOK, 39, removal=None, site="not_said"),
        inside(HOOK, 233, removal="in_theatre", site="chest", of=268, when=when(58), **both),
        inside(RIBBON, 31, on_purpose=False, removal=None, **both),
    )


def _plan() -> tuple[PlannedFacts, ...]:
    return (
        planned("initial", "first count", "initial"),
        planned("cavity", "cavity count", "cavity", "instruments", "sharps", unless=True),
        planned("skin", "skin count", "closing", "sharps"),
        planned("final", "last count", "final"),
    )


def case(name: str = "ribbon gauze", **more: Any) -> CaseFacts:
    """Give the whole case. ``name`` is that of its first item."""
    chain = made_facts.chain(
        HEAD,
        records=97,
        spoken="alfa one alfa one",
        notes=("record 5: the wall clock went back",),
    )
    values: dict[str, Any] = {
        "given": (("Case", "R 4711"), ("Room", "  ")),
        "journal": "made-up.vcj",
        "made": "2031-05-06T09:00:00Z",
        "made_by": "voicecount 9.9.9",
        "title": "Made-up operation",
        "sheet": "b2" * 32,
        "software": "voicecount 9.9.8",
        "began": when(1),
        "ended": when(97),
        "closed": when(96),
        "sessions": (
            Session(first=1, last=60, software="voicecount 9.9.8"),
            Session(first=61, last=97, software=None),
        ),
        "team": (("ab", "Ab"), ("cd", "Cd")),
        "items": _items(name),
        "counts": _counts(),
        "due": ("skin count",),
        "happenings": _happenings(),
        "discrepancies": _differences(),
        "in_patient": _in_patient(),
        "sound": (SoundFacts(when=when(2), what="sound_checked", text="Both are heard."),),
        "heard": HeardFacts(utterances=319, accepted=103, ignored=107, asked=(("faint", 109),)),
        "cautions": ("The two people decide.",),
        "plan": _plan(),
        **more,
    }
    values.setdefault("tenures", tenures(values["began"], values["happenings"]))
    return made_facts.case(values.pop("chain", chain), **values)
