"""The record of one case, from its facts to blocks, in the order in which it is read."""

from collections.abc import Iterator

from voicecount.report import timeline, words
from voicecount.report.blocks import (
    Block,
    Facts,
    Heading,
    Notice,
    Picture,
    Points,
    Signatures,
    Text,
    Title,
)
from voicecount.report.facts import CaseFacts
from voicecount.report.pages_case import at_a_glance, what_is_signed
from voicecount.report.pages_counts import counts
from voicecount.report.pages_machine import all_records, software, sound
from voicecount.report.pages_people import in_the_patient, not_held, people, signers
from voicecount.report.pages_told import differences, incidents
from voicecount.report.printed import printed
from voicecount.show.tally import CAUTION
from voicecount.show.verify_out import LIMIT

KIND = "Record of a surgical count"
MORE_SIGNERS = (("Surgeon", ""), ("", ""))

_HEARD = (
    "This is what two people said while they counted, as a program on a machine in the room heard "
    "it, read it back to them and kept it."
)
_TYPED = (
    "This is what two people said while they counted, as it was typed on a keyboard: nobody was "
    "heard. A program read it back and kept it."
)
_KEPT = (
    "Each line was stored as it was counted; what was expected was looked up only afterwards. "
    "The program changes nothing that it has stored: a correction is a line of its own."
)
_READING = (
    f"“Every line has the number expected” compares numbers that were said: it tells nothing of "
    f"the wound. {words.DIFFERS} stands before whatever differs. Times of day are the machine's, "
    "in UTC; times in brackets run from the beginning of the case, in minutes and seconds."
)
_SIGNING = (
    "Whoever signs has read this record. A signature adds nothing to what was counted and takes "
    "nothing back."
)


_LONGEST_CASE = 60
"""Letters of what a case is told by that stand on every page."""


def pages(facts: CaseFacts) -> tuple[Block, ...]:
    """Give the whole record of a case."""
    return tuple(_pages(printed(facts)))


def _pages(facts: CaseFacts) -> Iterator[Block]:
    yield Title(
        text=facts.title,
        kind=KIND,
        head=facts.chain.digits,
        caution=CAUTION,
        made=facts.made,
        case=_case(facts),
    )
    yield from _identifiers(facts)
    yield from _does_not_verify(facts)
    yield from _what_it_is(facts)
    yield from at_a_glance(facts)
    yield Heading("The case over time")
    yield Picture(
        svg=timeline.timeline(facts),
        alternative=timeline.alternative(facts),
        caption=(
            "Minutes from the beginning of the case, with the time of day below. The numbers are "
            "those of the counts and of the differences."
        ),
    )
    yield from people(facts)
    yield from counts(facts)
    yield from incidents(facts)
    yield from differences(facts)
    yield from in_the_patient(facts)
    yield from not_held(facts)
    yield from sound(facts)
    yield from software(facts)
    yield from _how_to_check(facts)
    yield from all_records(facts)
    yield Heading("Signatures")
    people_ = (*signers(facts), *MORE_SIGNERS)
    yield Signatures(_SIGNING, people_, tuple(what_is_signed(facts)))


def _case(facts: CaseFacts) -> str:
    """Give what the first labels tell the case by, short enough for the head of a page."""
    told = ", ".join(f"{label} {text}" for label, text in facts.given[:2])
    return told if len(told) <= _LONGEST_CASE else f"{told[: _LONGEST_CASE - 1]}…"


def _identifiers(facts: CaseFacts) -> Iterator[Block]:
    given = facts.given or (("Case", "Nothing was given to tell this case by."),)
    yield Facts(
        (
            *given,
            ("Began", words.date_and_time(facts.began.wall)),
            ("Last record", words.date_and_time(facts.ended.wall)),
            ("This document made", words.date_and_time(facts.made)),
        )
    )


def _does_not_verify(facts: CaseFacts) -> Iterator[Block]:
    chain = facts.chain
    if chain.whole:
        return
    before = words.counted(chain.records, "record")
    yield Notice(
        title="The journal does not verify",
        text=(
            f"{facts.journal}: {chain.damage or 'it is not whole'}. This document holds the "
            f"{before} before that place and nothing after it. What it says of the case may lack "
            "its end. Keep the file as it is."
        ),
        every_page=(
            f"The journal does not verify: only the {before} before the damage "
            f"{'is' if chain.records == 1 else 'are'} in this document."
        ),
    )


def _what_it_is(facts: CaseFacts) -> Iterator[Block]:
    yield Heading("What this record is")
    typed = facts.recogniser.startswith("typed")
    yield Text(f"{_TYPED if typed else _HEARD} {_KEPT}")
    if facts.cautions:
        yield Points(facts.cautions)
    yield Text(_READING)


def _how_to_check(facts: CaseFacts) -> Iterator[Block]:
    chain = facts.chain
    follows = (
        "Every record follows the one before it."
        if chain.whole
        else f"{words.DIFFERS} The journal does not verify: {chain.damage or 'it is not whole'}."
    )
    yield Heading("How it can be checked")
    yield Text(
        "The journal is a chain: every record names the one before it, and its last record has a "
        "number, the head, that stands for all of them. Compare the eight digits below with those "
        "that were written down in the room. The command “voicecount verify”, given the journal "
        "and these digits, does the same and reads every record."
    )
    yield Facts(
        (
            ("Journal", facts.journal),
            ("Chain", follows),
            ("Records", str(chain.records)),
            ("Eight digits", chain.digits),
            ("Spoken", chain.spoken),
            ("Whole head", chain.head),
        )
    )
    if chain.notes:
        yield Points(chain.notes)
    if LIMIT not in facts.cautions:
        yield Text(LIMIT)
