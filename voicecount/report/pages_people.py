"""The people of a case, what is in the patient at its end, and which counts were not held."""

from collections.abc import Iterator

from voicecount.report import words
from voicecount.report.blocks import Block, Column, Facts, Heading, Table, Text
from voicecount.report.facts import CaseFacts, CountFacts, HappeningFacts, TenureFacts
from voicecount.report.pages_case import names

_SOME_CAME_OUT = (
    "2 of 3: three were told and some came out again; nobody said which, so the plans are those of "
    "all of them."
)
_ONE_CHANNEL = "Both shared one channel: who spoke is known from the turn, not from the voice."
_TWO_CHANNELS = "Each had a channel of their own: who spoke is known from the channel."


def people(facts: CaseFacts) -> Iterator[Block]:
    """Give who is named, who took over when, and how the two were told apart."""
    yield Heading("People")
    yield Facts(
        (
            (
                "Named by the sheet",
                words.listed(name for _, name in facts.team) if facts.team else "nobody",
            ),
            ("Told apart by", _TWO_CHANNELS if facts.roles_told_apart else _ONE_CHANNEL),
        )
    )
    changes = facts.told("people_changed")
    name = dict(facts.team)
    if facts.tenures:
        yield _tenures(facts, name)
    if not changes:
        yield Text("No change of people was told.")
        return
    yield Table(
        title="Changes of people",
        columns=(
            Column("When (UTC)", 1.6),
            Column("Role", 1.2),
            Column("From", 1.6),
            Column("To", 1.6),
            Column("For how long", 1.8),
            Column("Told by, agreed by", 2.2),
        ),
        rows=tuple(
            (
                words.both_times(one.when),
                words.plain(one.role),
                _person(name, one.outgoing),
                _person(name, one.incoming),
                _how_long(one),
                words.two(one.by, one.agreed),
            )
            for one in changes
        ),
    )


def _tenures(facts: CaseFacts, name: dict[str, str]) -> Table:
    return Table(
        title="Who was scrub and circulator",
        columns=(
            Column("Role", 1.2),
            Column("Person", 3),
            Column("From (UTC)", 2),
            Column("To (UTC)", 2),
        ),
        rows=tuple(
            (
                words.plain(one.role),
                _holder(one, name),
                words.both_times(one.began),
                "the record's end" if one.ended is None else words.both_times(one.ended),
            )
            for one in facts.tenures
        ),
        note=(
            "As people told it. Who it was before the first change is known only where that "
            "change was told with a name."
        ),
    )


def _holder(one: TenureFacts, name: dict[str, str]) -> str:
    person = _person(name, one.person)
    return f"{person}, for a break" if one.stands_in else person


def held_by(facts: CaseFacts, count: CountFacts) -> Iterator[tuple[str, str]]:
    """Name, where anybody is named, who was scrub and circulator from a count's first to last."""
    name = dict(facts.team)
    last = max(
        (
            moment.record
            for line in count.lines
            for moment in (line.stored, line.answered)
            if moment is not None
        ),
        default=count.opened.record,
    )
    end = max(last, count.finished.record if count.finished is not None else last)
    for role in dict.fromkeys(one.role for one in facts.tenures):
        there = [
            one
            for one in facts.tenures
            if one.role == role
            and one.began.record <= end
            and (one.ended is None or one.ended.record > count.opened.record)
        ]
        if any(one.person is not None for one in there):
            told = (
                _holder(one, name)
                if one is there[0]
                else f"from {words.clock(one.began.at)} {_holder(one, name)}"
                for one in there
            )
            yield role.capitalize(), words.listed(told)


def _person(name: dict[str, str], who: str | None) -> str:
    return "not named" if who is None else name.get(who, who)


def _how_long(one: HappeningFacts) -> str:
    if one.back:
        return "back from a break"
    return "to stay" if one.permanent else "for a break"


def signers(facts: CaseFacts) -> tuple[tuple[str, str], ...]:
    """Give role and name of everybody who was scrub or circulator; who comes back signs once."""
    name = dict(facts.team)
    found = []
    for role in dict.fromkeys(one.role for one in facts.tenures):
        away = False
        for n, one in enumerate(one for one in facts.tenures if one.role == role):
            comes_back, away = away and not one.stands_in, one.stands_in
            if comes_back:
                continue
            since = f" from {words.clock(one.began.at)}" if n else ""
            person = "" if one.person is None else _person(name, one.person)
            found.append((f"{role.capitalize()}{since}", person))
    return tuple(found) or (("Scrub", ""), ("Circulator", ""))


def in_the_patient(facts: CaseFacts) -> Iterator[Block]:
    """Give what was left in the patient, where, and when it is to come out."""
    yield Heading("Items in the patient")
    if not facts.in_patient:
        yield Text("None was told to be in the patient when the record ends.")
        return
    name = names(facts)
    yield Table(
        title="Items in the patient when the record ends",
        columns=(
            Column("Item", 2.1),
            Column("How many", 1.1, number=True),
            Column("Where", 1.8),
            Column("How", 2.1),
            Column("When it is to come out", 2.4),
            Column("Told (UTC)", 1.6),
            Column("Told by, agreed by", 1.7),
        ),
        rows=tuple(
            (
                name.get(one.item, one.item),
                str(one.n) if one.of is None else f"{one.n} of {one.of}",
                words.said(one.site),
                "left on purpose"
                if one.on_purpose
                else f"{words.DIFFERS} tucked in, never told to be out",
                _removal(one.removal),
                words.both_times(one.when),
                words.two(one.by, one.agreed),
            )
            for one in facts.in_patient
        ),
        marked=tuple(row for row, one in enumerate(facts.in_patient) if not one.on_purpose),
        note=_SOME_CAME_OUT if any(one.of is not None for one in facts.in_patient) else "",
    )


def _removal(plan: str | None) -> str:
    """Tell what was said of when it comes out; several plans of one row stay apart."""
    if plan is None:
        return "nothing was said"
    return "; ".join(words.said(one) for one in plan.split("; "))


def not_held(facts: CaseFacts) -> Iterator[Block]:
    """Give what was waived and why, and planned counts that were not held."""
    yield Heading("Counts not held")
    not_done = facts.told("count_waived")
    if not facts.plan:
        yield Text("The record holds no plan, so it cannot tell which counts were not held.")
    elif not not_done and not facts.due:
        yield Text("No planned count was waived, and none is left of the plan.")
    if not_done:
        yield Table(
            title="Waived, with a reason",
            columns=(
                Column("When (UTC)", 1.6),
                Column("Count", 2),
                Column("Reason", 3),
                Column("Told by, agreed by", 2.2),
            ),
            rows=tuple(
                (
                    words.both_times(one.when),
                    one.title or words.NONE,
                    words.said(one.reason),
                    words.two(one.by, one.agreed),
                )
                for one in not_done
            ),
        )
    if facts.due:
        yield Text(f"Planned and not held: {words.listed(facts.due)}.")
