"""Who was scrub and circulator from when to when, as a bundle tells it: one role for each tenure.

Who said a line, a number or anything else is the one who had the role then: the journal's order of
records decides, not the clock, which may have been set back.
"""

from typing import TypeAlias

from voicecount.report.facts import CaseFacts, HappeningFacts, Moment, TenureFacts
from voicecount.report.fhir_parts import (
    Book,
    Json,
    clean,
    coded,
    instant,
    isolated,
    period,
    words,
)

NOT_KNOWN = "Not known to this record"
PEOPLE = "people"

Said: TypeAlias = tuple[str | None, Moment]
"""A role and when it said something; no role where nobody can tell who spoke."""


def add_tenures(book: Book) -> None:
    """Add those whom the sheet names, and a role for each time that somebody had one."""
    for person, name in book.facts.team:
        book.add(
            f"person {person}",
            "Practitioner",
            [f"Named by the sheet: {isolated(name)}. No identifier is known."],
            {"name": [{"text": clean(name)}]},
            section=PEOPLE,
        )
    for n, one in enumerate(book.facts.tenures):
        _tenure(book, n, one)
    for role in _without_tenure(book.facts):
        _role(book, role)


def performers(book: Book) -> list[Json]:
    """Give everybody who had a role in the case, as performers of a Procedure."""
    held = [(one.role, book.to(_key(n))) for n, one in enumerate(book.facts.tenures)]
    rest = [(role, book.to(f"role {role}")) for role in _without_tenure(book.facts)]
    return [{"function": coded("role", role), "actor": actor} for role, actor in held + rest]


def people(book: Book, *said: Said) -> list[Json]:
    """Give references to those who had a role when they said something, each once."""
    found = [role_of(book, role, when) for role, when in said if role is not None]
    return [one for n, one in enumerate(found) if one not in found[:n]]


def role_of(book: Book, role: str, when: Moment) -> Json:
    """Give a reference to whoever had a role then; nameless, where no tenure tells."""
    n = tenure_at(book.facts, role, when)
    if n is not None:
        return book.to(_key(n))
    return book.to(f"role {role}") if book.has(f"role {role}") else _role(book, role)


def tenure_at(facts: CaseFacts, role: str | None, when: Moment) -> int | None:
    """Give the number of the tenure of whoever had a role at a record."""
    there = (
        n
        for n, one in enumerate(facts.tenures)
        if one.role == role
        and one.began.record <= when.record
        and (one.ended is None or when.record < one.ended.record)
    )
    return next(there, None)


def who(book: Book, role: str | None, when: Moment) -> str:
    """Name who spoke: the role, and the person where the tenure has one."""
    if role is None:
        return "not known"
    n = tenure_at(book.facts, role, when)
    person = book.facts.tenures[n].person if n is not None else None
    return words(role) if person is None else f"{words(role)} ({_person(book, person)})"


def told_by(book: Book, by: str | None, agreed: str | None, when: Moment) -> str:
    """Tell who told something and who agreed."""
    if by is None and agreed is None:
        return "who told it is not known"
    also = f", agreed by {who(book, agreed, when)}" if agreed is not None else ""
    return f"told by {who(book, by, when)}{also}"


def unmatched_changes(book: Book) -> list[str]:
    """Give a line for each change of people that began no tenure."""
    began = {(one.began.record, one.role) for one in book.facts.tenures}
    return [
        _change(book, one)
        for one in book.facts.told("people_changed")
        if (one.when.record, one.role) not in began
    ]


def _without_tenure(facts: CaseFacts) -> list[str]:
    lines = [line for count in facts.counts for line in count.lines]
    heard = {role for line in lines for role in (line.by, line.answered_by)}
    told = {role for one in facts.happenings for role in (one.by, one.agreed, one.role)}
    ends = {role for one in facts.discrepancies for role in (one.by, one.agreed)}
    known = {None, *(one.role for one in facts.tenures)}
    return sorted(role for role in (heard | told | ends) - known if role is not None)


def _role(book: Book, role: str) -> Json:
    return book.add(
        f"role {role}",
        "PractitionerRole",
        [f"{words(role).capitalize()}: which person is not known to this record."],
        {"practitioner": {"display": NOT_KNOWN}, "code": [coded("role", role)]},
        section=PEOPLE,
    )


def _tenure(book: Book, n: int, one: TenureFacts) -> None:
    """Add a role with its time. The last one ends with the record, where both people ended it."""
    facts = book.facts
    end = one.ended or facts.closed
    brief = ", for a break" if one.stands_in else ""
    name = (
        "which person is not known to this record"
        if one.person is None
        else _person(book, one.person)
    )
    until = (
        instant(one.ended.wall)
        if one.ended is not None
        else "the end of the record; it may have gone on"
    )
    if one.person is not None and book.has(f"person {one.person}"):
        practitioner = book.to(f"person {one.person}")
    else:
        practitioner = {"display": clean(one.person) if one.person is not None else NOT_KNOWN}
    book.add(
        _key(n),
        "PractitionerRole",
        [
            f"{words(one.role).capitalize()}{brief}: {name}.",
            f"From {instant(one.began.wall)} to {until}.",
            *(
                _change(book, change)
                for change in facts.told("people_changed")
                if (change.when.record, change.role) == (one.began.record, one.role)
            ),
        ],
        {
            "period": _span(one.began, end),
            "practitioner": practitioner,
            "code": [coded("role", one.role, f"{words(one.role)}{brief}")],
        },
        section=PEOPLE,
    )


def _span(began: Moment, end: Moment | None) -> Json:
    """Give the time of a role. Where the clock was set back its end stays: it is not held now."""
    span = period(began.wall, end.wall if end is not None else None)
    return {"end": instant(end.wall)} if end is not None and "end" not in span else span


def _key(n: int) -> str:
    return f"tenure {n}"


def _change(book: Book, one: HappeningFacts) -> str:
    """Tell of a change. Who told it stands by role alone: one of them goes or comes just then."""
    kind = "back from a break" if one.back else "to stay" if one.permanent else "for a break"
    incoming, outgoing = (
        "not named" if person is None else _person(book, person)
        for person in (one.incoming, one.outgoing)
    )
    told = _roles_alone(("told by", one.by), ("agreed by", one.agreed))
    return (
        f"Change, {words(one.role or 'role not said')}, {kind}. Goes: {outgoing}. "
        f"Comes: {incoming}. {told} {instant(one.when.wall)}."
    )


def _roles_alone(*parts: tuple[str, str | None]) -> str:
    told = ", ".join(f"{how} {words(role)}" for how, role in parts if role is not None)
    return f"{(told or 'who told it is not known').capitalize()}."


def _person(book: Book, person: str) -> str:
    return isolated(dict(book.facts.team).get(person, person))
