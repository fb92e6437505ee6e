"""A form that is filled in: whether it can be, how it is read, and the events that come of it."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from voicecount.count.account import ENTRIES, why_not
from voicecount.count.events import (
    CaseClosed,
    CountWaived,
    Difference,
    DiscrepancyClosed,
    DiscrepancyOpened,
    Incident,
    IncidentTold,
    PackageSetAside,
    PeopleChanged,
    Settled,
    Step,
    StepTold,
    TurnedOpen,
    Why,
)
from voicecount.count.package import is_whole
from voicecount.count.plan import due
from voicecount.count.roles import Role
from voicecount.sheet.plan import CountKind
from voicecount.talk import counts, guide, wording_case, wording_differences, wording_forms
from voicecount.talk.blanks import BLANKS, phrase
from voicecount.talk.readback_case import at_the_end
from voicecount.talk.recount import recount_all
from voicecount.talk.scene import Filling, Scene, Turn
from voicecount.talk.settle import difference
from voicecount.talk.told import incident_words
from voicecount.talk.walk import advance


def check(scene: Scene, filling: Filling) -> str | None:
    """Say why a form cannot be true as far as it is filled in; None when it can."""
    blank = BLANKS[filling.form]
    if filling.form in _ENDS and scene.ledger.kind is CountKind.ADDITION:
        waits = counts.unfinished(scene)
        if waits:
            return wording_case.still_to_confirm(waits)
    item = filling.text("item")
    if blank.incident is not None and item is not None and blank.number is not None:
        if filling.get(blank.number) is None:
            return None
        event = _incident(filling, None, 0.0)
        stands = scene.item(item)
        if why_not(scene.ledger.account(item), event, stands.pieces) is not None:
            expected = scene.ledger.expected(item)
            return wording_forms.cannot_be(stands, event.n, expected)
    found = guide.current(scene.ledger)
    if filling.form == "found" and found is not None:
        n = filling.get("number")
        if isinstance(n, int) and not 0 < n <= -found.off:
            return wording_forms.cannot_be(scene.item(found.item), n, found.expected)
    return None


def package_aside(scene: Scene, filling: Filling, now: float) -> PackageSetAside | None:
    """Give the event of an added package that does not hold its number; None where it does.

    None of it is counted, as with any package (WHO and AORN, from memory).
    """
    item, n = filling.text("item"), filling.get("number")
    if filling.form != "add" or item is None or not isinstance(n, int) or not n:
        return None
    pack = scene.item(item).pack
    if pack is None or is_whole(n, pack):
        return None
    return PackageSetAside(
        at=now,
        by=filling.by,
        item=item,
        numbers=(n,),
        start=now,
        end=now,
        held=n,
        pack=pack,
    )


_ENDS = frozenset({"end_case", "change_scrub", "change_circulator"})
"""Forms that end the count which is open; an addition ends only when both gave its numbers."""


def reading(scene: Scene, filling: Filling) -> str:
    """Read a form before both agree."""
    incident = BLANKS[filling.form].incident
    if incident is not None:
        return incident_words(scene.sheet, _incident(filling, None, 0.0))
    return _READ[filling.form](scene, filling)


def complete(turn: Turn, filling: Filling, agreed: Role | None, now: float) -> Turn:
    """Record what a form says, now that both people agree."""
    if BLANKS[filling.form].incident is not None:
        return _happened(turn, _incident(filling, agreed, now))
    return _EVENTS[filling.form](turn, filling, agreed, now)


def _incident(filling: Filling, agreed: Role | None, now: float) -> IncidentTold:
    blank = BLANKS[filling.form]
    printed = filling.get("printed")
    return IncidentTold(
        at=now,
        by=filling.by,
        incident=blank.incident or Incident.DROPPED,
        item=filling.text("item") or "",
        n=filling.n(blank.number or "number"),
        printed=printed if isinstance(printed, int) else None,
        site=filling.text("site"),
        reason=filling.text("reason") or filling.text("plan"),
        agreed=agreed,
    )


def _happened(turn: Turn, event: IncidentTold) -> Turn:
    before = turn.scene.ledger
    turn = turn.record(event)
    after = turn.scene.ledger
    if event.incident is Incident.INCOMPLETE:
        pieces = before.items[event.item].pieces
        turn = turn.record(_differs(turn, event, Difference.PIECE, event.n, pieces))
    expected = after.expected(event.item)
    if event.incident is Incident.ONE_TOO_MANY and expected is not None:
        if after.places:
            turn = recount_all(turn, event.at, Why.DIFFERS, {event.item})
        more = expected + event.n
        turn = turn.record(_differs(turn, event, Difference.LINE, more, expected))
    counted_in = after.kind is CountKind.INITIAL and before.account(event.item).initial is None
    if (after.places and after.account(event.item) != before.account(event.item)) or (
        counted_in and event.incident in ENTRIES
    ):
        turn = recount_all(turn, event.at, Why.CHANGED, {event.item})
    return advance(turn, event.at)


def _differs(
    turn: Turn, event: IncidentTold, differs: Difference, counted: int, expected: int
) -> DiscrepancyOpened:
    numbers = (counted, expected)
    return difference(turn.scene.ledger, event.item, differs, numbers, event.at, by=event.by)


def _waived(turn: Turn, filling: Filling, agreed: Role | None, now: float) -> Turn:
    means = counts.waived_count(turn.scene.ledger)
    if means is None:
        return turn
    return turn.record(
        CountWaived(
            at=now,
            by=filling.by,
            count=means[0],
            title=means[1],
            reason=filling.text("reason") or "other_reason",
            agreed=agreed,
        )
    )


def _turned_open(turn: Turn, filling: Filling, agreed: Role | None, now: float) -> Turn:
    return turn.record(TurnedOpen(at=now, by=filling.by, agreed=agreed))


def _changed(turn: Turn, filling: Filling, agreed: Role | None, now: float) -> Turn:
    """Somebody takes over: for good with a full count, or for a break."""
    role = Role.SCRUB if filling.form.endswith("scrub") else Role.CIRCULATOR
    permanent = filling.form.startswith("change")
    turn = turn.record(
        PeopleChanged(
            at=now,
            by=filling.by,
            role=role,
            permanent=permanent,
            outgoing=filling.text("outgoing") or turn.scene.ledger.people.get(role),
            incoming=filling.text("incoming"),
            agreed=agreed,
        )
    )
    if not permanent or not turn.scene.sheet.policy.relief_counts:
        return turn
    ledger = turn.scene.ledger
    if ledger.kind is CountKind.INITIAL:
        return recount_all(turn, now, Why.RELIEF, set(ledger.items))
    if ledger.counting:
        turn = counts.end(turn, filling.by, now)
    return counts.open_full(turn, CountKind.RELIEF, filling.by, now)


def _back(turn: Turn, filling: Filling, agreed: Role | None, now: float) -> Turn:
    ledger = turn.scene.ledger
    for role in sorted(ledger.relieved):
        turn = turn.record(
            PeopleChanged(
                at=now,
                by=filling.by,
                role=role,
                permanent=False,
                outgoing=ledger.people.get(role),
                incoming=ledger.away.get(role),
                back=True,
                agreed=agreed,
            )
        )
    return turn


def _end(turn: Turn, filling: Filling, agreed: Role | None, now: float) -> Turn:
    ledger = turn.scene.ledger
    if ledger.counting:
        turn = counts.end(turn, filling.by, now)
    ledger = turn.scene.ledger
    accounts = [(item, ledger.account(item)) for item in ledger.items]
    return turn.record(
        CaseClosed(
            at=now,
            by=filling.by,
            open=tuple(ledger.discrepancies),
            not_found=ledger.not_found,
            due=tuple(count.id for count in due(ledger)),
            inside=tuple(item for item, account in accounts if account.left_inside),
            tucked=tuple(item for item, account in accounts if account.tucked_in),
            agreed=agreed,
        )
    )


def _found(turn: Turn, filling: Filling, agreed: Role | None, now: float) -> Turn:
    """Note what was found, and close the difference when nothing is missing any more."""
    discrepancy = guide.current(turn.scene.ledger)
    if discrepancy is None:
        return turn
    n, where = filling.n(), filling.text("where")
    if n < -discrepancy.off:
        step = StepTold(
            at=now,
            by=filling.by,
            discrepancy=discrepancy.number,
            step=Step.SEARCH,
            answer="found",
            where=where,
            found=n,
        )
        return advance(turn.record(step), now)
    return _closed(turn, filling, agreed, now, settled=Settled.FOUND, n=n, where=where)


def _missing(turn: Turn, filling: Filling, agreed: Role | None, now: float) -> Turn:
    reason = filling.text("decision")
    return _closed(turn, filling, agreed, now, settled=Settled.NOT_FOUND, reason=reason)


def _explained(turn: Turn, filling: Filling, agreed: Role | None, now: float) -> Turn:
    reason = filling.text("reason")
    return _closed(turn, filling, agreed, now, settled=Settled.EXPLAINED, reason=reason)


def _recounted(turn: Turn, filling: Filling, agreed: Role | None, now: float) -> Turn:
    return _closed(turn, filling, agreed, now, settled=Settled.RECOUNTED)


def _closed(
    turn: Turn,
    filling: Filling,
    agreed: Role | None,
    now: float,
    *,
    settled: Settled,
    n: int = 0,
    where: str | None = None,
    reason: str | None = None,
) -> Turn:
    discrepancy = guide.current(turn.scene.ledger)
    if discrepancy is None:
        return turn
    event = DiscrepancyClosed(
        at=now,
        by=filling.by,
        discrepancy=discrepancy.number,
        settled=settled,
        n=n,
        where=where,
        reason=reason,
        agreed=agreed,
    )
    return advance(turn.record(event), now)


def _imaged(turn: Turn, filling: Filling, _agreed: Role | None, now: float) -> Turn:
    discrepancy = guide.current(turn.scene.ledger)
    if discrepancy is None:
        return turn
    none_taken = filling.form == "no_image"
    step = StepTold(
        at=now,
        by=filling.by,
        discrepancy=discrepancy.number,
        step=Step.IMAGE,
        answer="not_done" if none_taken else filling.text("image") or "done",
        reason=filling.text("reason"),
        reader=filling.text("reader"),
    )
    return advance(turn.record(step), now)


_Events = Callable[[Turn, Filling, Role | None, float], Turn]

_EVENTS: Mapping[str, _Events] = MappingProxyType(
    {
        "waive": _waived,
        "turn_open": _turned_open,
        "change_scrub": _changed,
        "change_circulator": _changed,
        "break_scrub": _changed,
        "break_circulator": _changed,
        "back": _back,
        "end_case": _end,
        "found": _found,
        "stays_missing": _missing,
        "explained": _explained,
        "recounted": _recounted,
        "image": _imaged,
        "no_image": _imaged,
    }
)


def _read_people(scene: Scene, filling: Filling) -> str:
    role = Role.SCRUB if filling.form.endswith("scrub") else Role.CIRCULATOR
    names = {
        slot: phrase(scene.sheet, filling.form, slot, filling.text(slot)) or None
        for slot in ("outgoing", "incoming")
    }
    if filling.form.startswith("break"):
        return wording_case.stands_in(role, names["incoming"])
    return wording_case.changes(role, names["outgoing"], names["incoming"])


def _read_waive(scene: Scene, filling: Filling) -> str:
    means = counts.waived_count(scene.ledger)
    reason = phrase(scene.sheet, "waive", "reason", filling.text("reason"))
    return wording_case.not_done(means[1] if means is not None else "count", reason)


def _read_back(scene: Scene, _filling: Filling) -> str:
    return " ".join(wording_case.is_back(role) for role in sorted(scene.ledger.relieved))


def _read_end(scene: Scene, _filling: Filling) -> str:
    return " ".join((wording_case.end_of_case(), *at_the_end(scene.sheet, scene.ledger)))


def _read_difference(scene: Scene, filling: Filling) -> str:
    discrepancy = guide.current(scene.ledger)
    if discrepancy is None:
        return wording_differences.no_discrepancy()
    item = scene.item(discrepancy.item)
    match filling.form:
        case "found":
            return wording_differences.found_read(
                item, filling.n(), filling.text("where") or "floor"
            )
        case "stays_missing":
            decision = phrase(scene.sheet, filling.form, "decision", filling.text("decision"))
            return wording_differences.missing_read(
                item, discrepancy.opened.differs, discrepancy.off, decision
            )
        case "explained":
            reason = phrase(scene.sheet, filling.form, "reason", filling.text("reason"))
            n = discrepancy.expected + discrepancy.off
            return wording_differences.explained_read(item, discrepancy.opened.differs, n, reason)
        case _:
            return wording_differences.recounted_read(item, discrepancy.counted)


_READ: Mapping[str, Callable[[Scene, Filling], str]] = MappingProxyType(
    {
        "waive": _read_waive,
        "turn_open": lambda _scene, _filling: wording_case.turned_open(),
        "change_scrub": _read_people,
        "change_circulator": _read_people,
        "break_scrub": _read_people,
        "break_circulator": _read_people,
        "back": _read_back,
        "end_case": _read_end,
        "found": _read_difference,
        "stays_missing": _read_difference,
        "explained": _read_difference,
        "recounted": _read_difference,
    }
)
