"""Every value of the JSON of many cases, against a second sum that keeps every case in hand.

The second sum is written from the meanings in docs/report.many.schema.json; of the program's own it
takes only the cautions, whose words have a test of their own.
"""

import hashlib
import json
from collections import Counter
from collections.abc import Iterator
from typing import Any

import many_facts
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_facts import item

from voicecount.report.facts import CaseFacts, CountFacts
from voicecount.report.many import Summary
from voicecount.report.many_json import summary_object
from voicecount.report.many_pages import CAUTIONS

Json = dict[str, Any]
PLANNED = {"initial", "cavity", "closing", "final"}
TOLD: Json = {
    "title": "Spring",
    "made": "2026-04-01T10:00:00+00:00",
    "made_by": "voicecount 1",
    "given": [["Site", "North"], ["Floor", "2"]],
}
FORM = "voicecount.report.many/2"


@st.composite
def many(draw: st.DrawFn) -> list[CaseFacts]:
    """Draw cases that are alike in nothing: sheets, programs, waived counts, copies, older ones."""
    found = [_other(draw, facts) for facts in draw(many_facts.cases())]
    if found and draw(st.booleans()):
        found.append(found[0].model_copy(update={"journal": "copy.vcj"}))
    if found and draw(st.booleans()):
        chain = found[-1].chain.model_copy(update={"head": "e" * 64})
        found.append(found[-1].model_copy(update={"journal": "older.vcj", "chain": chain}))
    return found


def _other(draw: st.DrawFn, facts: CaseFacts) -> CaseFacts:
    more = draw(st.integers(0, 3))
    counts = [
        one.model_copy(update={"result": "not_done"}) if draw(st.integers(0, 4)) == 0 else one
        for one in facts.counts
    ]
    differing = [
        one.model_copy(update={"differing": draw(st.sampled_from([(), ("lap",)]))})
        for one in counts
    ]
    return facts.model_copy(
        update={
            "items": (*facts.items, *(item(f"towel {n}", group="sponges") for n in range(more))),
            "software": draw(st.sampled_from(["voicecount 1", "voicecount 2"])),
            "roles_told_apart": draw(st.booleans()),
            "counts": tuple(differing),
        }
    )


@given(many())
@settings(max_examples=150, deadline=None)
def test_every_value_is_that_of_the_second_sum(found: list[CaseFacts]) -> None:
    """Whoever reads the JSON by program would take one number for another and never see it."""
    made = summary_object(
        Summary.of(iter(found)), **{**TOLD, "given": [("Site", "North"), ("Floor", "2")]}
    )
    mine, theirs = dict(flat(second(found))), dict(flat(json.loads(json.dumps(made))))
    assert theirs.keys() == mine.keys()
    for way, value in mine.items():
        wanted = pytest.approx(value, abs=1e-9) if isinstance(value, float) else value
        assert theirs[way] == wanted, way


def flat(part: Any, way: str = "") -> Iterator[tuple[str, Any]]:
    """Give every plain value, and every empty list or object, by the way to it."""
    inner = part.items() if isinstance(part, dict) else enumerate(part)
    for name, one in inner:
        if isinstance(one, (dict, list, tuple)) and one:
            yield from flat(one, f"{way}/{name}")
        else:
            yield f"{way}/{name}", [*one] if isinstance(one, (dict, list, tuple)) else one


def second(found: list[CaseFacts]) -> Json:
    """Add everything up once more."""
    whole, copies, alike = _sorted_out(found)
    counts = [one for facts in whole for one in facts.counts]
    days = sorted(facts.began.wall[:10] for facts in whole)
    heads = "\n".join(sorted(facts.chain.head for facts in whole))
    group = {one.id: one.group for facts in whole for one in facts.items}
    kinds = sorted({one.kind for one in counts})
    return {
        **TOLD,
        "form": FORM,
        "digits": hashlib.sha256(heads.encode()).hexdigest()[:8],
        "cautions": CAUTIONS,
        "seen": len(found),
        "cases": len(whole),
        "damaged": [
            {"journal": one.journal, "why": one.chain.damage}
            for one in found
            if not one.chain.whole
        ],
        "copies": copies,
        "alike": alike,
        "began": [days[0], days[-1]] if days else None,
        "closed": share(len([one for one in whole if one.closed]), len(whole)),
        "roles_told_apart": share(len([one for one in whole if one.roles_told_apart]), len(whole)),
        "software": Counter(one.software for one in whole),
        "sheet_lines": Counter(one.group for facts in whole for one in facts.items),
        "counts": held(counts, whole),
        "kinds": {
            kind: held([one for one in counts if one.kind == kind], whole, kind) for kind in kinds
        },
        "case_seconds": times([sum(one) for facts in whole if (one := _lasted(facts))]),
        "differences": _differences(whole, group),
        "planned": _planned(whole),
        "people": {"to_stay": _came(whole, True), "for_a_break": _came(whole, False)},
        "inside": _inside(whole, group),
        "heard": _heard(whole),
    }


def _sorted_out(found: list[CaseFacts]) -> tuple[list[CaseFacts], list[Json], list[list[str]]]:
    whole: list[CaseFacts] = []
    copies, alike = [], []
    for facts in found:
        same = [one for one in whole if one.chain.head == facts.chain.head]
        if facts.chain.whole and same:
            why = f"the same records as {same[0].journal}"
            copies.append({"journal": facts.journal, "why": why})
        elif facts.chain.whole:
            twin = [
                one.journal
                for one in whole
                if (one.sheet, one.began.wall) == (facts.sheet, facts.began.wall)
            ]
            alike += [[twin[0], facts.journal]] if twin else []
            whole.append(facts)
    return whole, copies, alike


def held(counts: list[CountFacts], whole: list[CaseFacts], kind: str | None = None) -> Json:
    finished = [one for one in counts if one.finished and one.result not in {None, "not_done"}]
    seconds = [one.finished.at - one.opened.at for one in finished if one.finished]
    told = times(seconds)
    cut = sum(one.interruptions for one, took in zip(finished, seconds, strict=True) if took >= 0)
    lines = [line for one in counts for line in one.lines]
    differed = [
        here
        for facts in whole
        for here in facts.counts
        if kind in {None, here.kind} and here.number in {one.count for one in facts.discrepancies}
    ]
    return {
        "held": len(counts),
        "finished": len(finished),
        "waived": len([one for one in counts if one.result == "not_done"]),
        "results": Counter(one.result for one in finished),
        "seconds": told,
        "interrupted": share(len([one for one in counts if one.interruptions]), len(counts)),
        "interruptions": sum(one.interruptions for one in counts),
        "interruptions_per_hour": rate(
            cut, told["total"] / 3600, "hours", told["n"], "counts", per=1
        ),
        "lines": len(lines),
        "standing": len([one for one in lines if one.stands]),
        "confirmed": len([one for one in lines if one.confirmed]),
        "refused": sum(one.refused for one in counts),
        "disputed": sum(one.disputed for one in counts),
        "recounted": sum(one.recounted for one in counts),
        "with_difference": share(len(differed), len(counts)),
        "unlike_sheet": len([one for one in counts if one.kind == "initial" and one.differing]),
    }


def _lasted(facts: CaseFacts) -> list[float]:
    return [
        one.finished.at - one.opened.at
        for one in facts.counts
        if one.finished
        and one.result not in {None, "not_done"}
        and one.finished.at >= one.opened.at
    ]


def _differences(whole: list[CaseFacts], group: dict[str, str]) -> Json:
    pairs = [(facts, one) for facts in whole for one in facts.discrepancies]
    ended, found_in = Counter[str](), Counter[str]()
    for facts, one in pairs:
        over = one.settled == "not_found" and one.off_now > 0
        ended["too_many" if over else one.settled or "open"] += 1
        kinds = [here.kind for here in facts.counts if here.number == one.count]
        found_in["outside of a count" if one.count == 0 else (kinds or ["not known"])[0]] += 1
    return {
        "n": len(pairs),
        "cases": share(len([one for one in whole if one.discrepancies]), len(whole)),
        "what": Counter(one.differs for _, one in pairs),
        "group": Counter(group.get(one.item, "not known") for _, one in pairs),
        "ended": ended,
        "found_in": found_in,
        "seconds": times([one.closed.at - one.opened.at for _, one in pairs if one.closed]),
    }


def _planned(whole: list[CaseFacts]) -> Json:
    were_held = sum(
        len({one.id for one in facts.counts if one.kind in PLANNED and one.result != "not_done"})
        for facts in whole
    )
    waived = [one for facts in whole for one in facts.happenings if one.what == "count_waived"]
    due = [title for facts in whole for title in facts.due]
    whole_plan = were_held + len(waived) + len(due)
    return {"held": were_held, "waived": share(len(waived), whole_plan), "not_held": len(due)}


def _came(whole: list[CaseFacts], to_stay: bool) -> Json:
    wanted = ("people_changed", to_stay, False)
    told = Counter(
        sum((one.what, one.permanent, one.back) == wanted for one in facts.happenings)
        for facts in whole
    )
    return {str(n): cases for n, cases in told.items()}


def _inside(whole: list[CaseFacts], group: dict[str, str]) -> Json:
    left: Counter[str] = Counter()
    tucked = 0
    for one in (one for facts in whole for one in facts.in_patient):
        if one.on_purpose:
            left[group.get(one.item, "not known")] += one.n
        else:
            tucked += one.n
    cases = {
        purpose: share(
            len(
                [1 for facts in whole if any(one.on_purpose == purpose for one in facts.in_patient)]
            ),
            len(whole),
        )
        for purpose in (True, False)
    }
    return {
        "left_on_purpose": left,
        "cases_left_on_purpose": cases[True],
        "tucked_not_out": tucked,
        "cases_tucked_not_out": cases[False],
    }


def _heard(whole: list[CaseFacts]) -> Json:
    telling = [one.heard for one in whole if one.heard is not None]
    asked: Counter[str] = Counter()
    for one in telling:
        asked.update(dict(one.asked))
    utterances = sum(one.utterances for one in telling)
    return {
        "cases": len(telling),
        "utterances": utterances,
        "asked_again": asked,
        "rate": rate(asked.total(), utterances, "utterances", len(telling), "cases", per=100),
    }


def share(k: int, n: int) -> Json:
    """Give a share; its limits are the two roots of Wilson's equation."""
    told = n >= 5
    z2 = 1.959963984540054**2
    roots = np.roots([n + z2, -(2 * k + z2), k * k / n]) if told else []
    limits = [float(one) for one in sorted(np.real(roots))]
    return {"k": k, "n": n, "share": k / n if told else None, "interval": limits or None}


def rate(k: int, base: float, unit: str, n: int, of: str, *, per: int) -> Json:
    told = per * k / base if n >= 5 and base else None
    found: Json = {"k": k, "base": float(base), "unit": unit, "n": n, "of": of}
    return {**found, "per": per, "rate": told}


def times(seconds: list[float]) -> Json:
    """Give the spread of times: quartiles by numpy's default."""
    usable = [round(one) for one in seconds if one >= 0]
    few = len(usable) < 5
    first, median, third = (
        (None,) * 3 if few else map(float, np.quantile(usable, [0.25, 0.5, 0.75]))
    )
    return {
        "n": len(usable),
        "total": sum(usable),
        "low": min(usable, default=None),
        "first_quartile": first,
        "median": median,
        "third_quartile": third,
        "high": max(usable, default=None),
        "mean": None if few else float(np.mean(usable)),
        "unusable": len(seconds) - len(usable),
    }
