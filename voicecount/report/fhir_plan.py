"""The counts that the sheet plans, as a CarePlan of a bundle: held, waived, or not held."""

from voicecount.report.facts import CaseFacts, HappeningFacts, PlannedFacts
from voicecount.report.fhir_counts import COUNTS, is_final, not_held
from voicecount.report.fhir_parts import (
    Book,
    Json,
    coded,
    concept,
    isolated,
    period,
    words,
)
from voicecount.report.fhir_tenures import told_by
from voicecount.report.words import said

_TEXTS = {
    "completed": "held, and said to be finished",
    "stopped": "begun, and not done to its end",
    "cancelled": "WAIVED, NOT DONE",
    "unknown": "whether it was held is not known",
}
"""What became of a planned count, by R4's code for it; of the others it is said where due."""


def add_plan(book: Book) -> None:
    """Add the plan, where the record holds one. A plan is no word about how a count came out."""
    facts = book.facts
    if not facts.plan:
        return
    states = [_state(facts, one) for one in facts.plan]
    texts = [_text(book, one, state) for one, state in zip(facts.plan, states, strict=True)]
    book.add(
        "plan",
        "CarePlan",
        [
            "Counts that the sheet plans, in their order. What each came to stands with the count.",
            *texts,
        ],
        {
            "status": _status(facts, states),
            "intent": "plan",
            "category": [concept("Surgical counts")],
            "title": "Counts that the sheet plans",
            "subject": book.to("patient"),
            "period": period(
                facts.began.wall, facts.closed.wall if facts.closed is not None else None
            ),
            "supportingInfo": [book.to("procedure")],
            "activity": [
                {
                    "outcomeReference": _outcomes(book, one),
                    "detail": {
                        "code": coded("count-kind", one.kind, one.title),
                        "status": state,
                        "statusReason": (
                            concept(_why(_waivers(facts, one)[-1]))
                            if state == "cancelled"
                            else None
                        ),
                        "description": text,
                    },
                }
                for one, state, text in zip(facts.plan, states, texts, strict=True)
            ],
        },
        section=COUNTS,
    )


def _status(facts: CaseFacts, states: list[str]) -> str:
    """Say completed only of a whole record that both ended with every count held.

    Otherwise R4's word is revoked: it was ended before all that was intended was done.
    """
    if not facts.chain.whole or "unknown" in states:
        return "unknown"
    if facts.closed is None:
        return "active"
    return "completed" if {*states} == {"completed"} else "revoked"


def _state(facts: CaseFacts, one: PlannedFacts) -> str:
    """Give R4's code for what became of a planned count; one with lines left out is no done one."""
    held = [count for count in facts.counts if count.id == one.id]
    if any(
        is_final(facts, count) and count.result not in {"not_done", "incomplete"} for count in held
    ):
        return "completed"
    if _waivers(facts, one):
        return "cancelled"
    if held:
        going = facts.closed is None and held[-1] == facts.counts[-1]
        return "in-progress" if going and held[-1].finished is None else "stopped"
    return "not-started" if one.title in facts.due else "unknown"


def _waivers(facts: CaseFacts, one: PlannedFacts) -> list[HappeningFacts]:
    return [told for told in facts.told("count_waived") if told.title == one.title]


def _why(waiver: HappeningFacts) -> str:
    return said(waiver.reason) if waiver.reason is not None else "no reason is recorded"


def _text(book: Book, one: PlannedFacts, state: str) -> str:
    out = ", ".join(words(group) for group in one.leaves_out)
    unless = ", unless the operation turns open" if one.unless_open else ""
    told = _TEXTS.get(state) or not_held(book.facts, one.title)
    parts = [told, *([f"leaves out {out}{unless}"] if out else [])]
    for waiver in _waivers(book.facts, one):
        teller = told_by(book, waiver.by, waiver.agreed, waiver.when)
        how = "" if state == "cancelled" else "waived: "
        parts.append(f"{how}{isolated(_why(waiver))}; {teller}")
    return f"{isolated(one.title)}: {'; '.join(parts)}."


def _outcomes(book: Book, one: PlannedFacts) -> list[Json]:
    """Give the counts that were held for it, and the words that it was waived or is due."""
    facts = book.facts
    return [
        *(book.to(f"count {count.number}") for count in facts.counts if count.id == one.id),
        *(book.to(f"waived {told.when.record}") for told in _waivers(facts, one)),
        *([book.to(f"due {one.title}")] if one.title in facts.due else []),
    ]
