"""The people of a case, what is in the patient at its end, and which counts were not held."""

from collections.abc import Iterator

from voicecount.report import words
from voicecount.report.blocks import Block, Column, Facts, Heading, Table, Text
from voicecount.report.facts import CaseFacts, HappeningFacts
from voicecount.report.pages_case import names

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
    changes = [one for one in facts.happenings if one.what == "people_changed"]
    if not changes:
        yield Text("No change of people was told.")
        return
    name = dict(facts.team)
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
                two(one),
            )
            for one in changes
        ),
    )


def two(one: HappeningFacts) -> str:
    """Name who told it and who agreed; neither is known where one microphone hears both."""
    if one.by is None and one.agreed is None:
        return words.NONE
    return f"{words.plain(one.by)}, {words.plain(one.agreed)}"


def _person(name: dict[str, str], who: str | None) -> str:
    return "not named" if who is None else name.get(who, who)


def _how_long(one: HappeningFacts) -> str:
    if one.back:
        return "back from a break"
    return "to stay" if one.permanent else "for a break"


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
            Column("Item", 2.2),
            Column("How many", 1, number=True),
            Column("Where", 2.2),
            Column("How", 2.4),
            Column("When it is to come out", 2.6),
            Column("Told (UTC)", 1.6),
        ),
        rows=tuple(
            (
                name.get(one.item, one.item),
                str(one.n),
                words.said(one.site),
                "left on purpose"
                if one.on_purpose
                else f"{words.DIFFERS} tucked in, never told to be out",
                _removal(one.removal),
                words.both_times(one.when),
            )
            for one in facts.in_patient
        ),
        marked=tuple(row for row, one in enumerate(facts.in_patient) if not one.on_purpose),
    )


def _removal(plan: str | None) -> str:
    """Tell what was said of when it comes out; several plans for one site stay apart."""
    if plan is None:
        return "nothing was said"
    return "; ".join(words.said(one) for one in plan.split("; "))


def not_held(facts: CaseFacts) -> Iterator[Block]:
    """Give what was waived and why, and planned counts that were not held."""
    yield Heading("Counts not held")
    waived = [one for one in facts.happenings if one.what == "count_waived"]
    if not waived and not facts.due:
        yield Text("No planned count was waived, and none is left of the plan.")
        return
    if waived:
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
                    two(one),
                )
                for one in waived
            ),
        )
    if facts.due:
        yield Text(f"Planned and not held: {words.listed(facts.due)}.")
