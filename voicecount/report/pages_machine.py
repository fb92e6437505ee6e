"""The machine's part: the sound of the room, what heard and spoke, and the list of all records."""

from collections.abc import Iterator

from voicecount.report import words
from voicecount.report.blocks import Block, Column, Facts, Heading, Table, Text
from voicecount.report.facts import CaseFacts, HeardFacts, Session


def sound(facts: CaseFacts) -> Iterator[Block]:
    """Give what was measured of the room, and how often something was asked again."""
    yield Heading("Sound of the room")
    if facts.sound:
        yield Table(
            title="Sound checks, noise and microphones",
            columns=(Column("When (UTC)", 1.6), Column("What", 1.8), Column("What was found", 6)),
            rows=tuple(
                (words.both_times(one.when), words.plain(one.what), one.text) for one in facts.sound
            ),
        )
    else:
        yield Text("Nothing of the sound is in the record.")
    if facts.heard is None:
        yield Text("The record does not tell how often something was heard and asked about.")
    else:
        yield from _heard(facts.heard)


def _heard(heard: HeardFacts) -> Iterator[Block]:
    asked = sum(times for _, times in heard.asked)
    yield Facts(
        (
            ("Heard", f"{words.counted(heard.utterances, 'utterance')}, talk in the room included"),
            ("Taken", f"{heard.accepted} of {heard.utterances}"),
            ("Asked again", f"{asked} of {heard.utterances}"),
            ("Left aside as talk or noise", f"{heard.ignored} of {heard.utterances}"),
            ("Up to", words.HEARD_UP_TO),
        )
    )
    if heard.asked:
        yield Table(
            title="Asked to be said again",
            columns=(Column("Why", 6), Column("Times", 1, number=True)),
            rows=tuple((words.why_asked(code), str(n)) for code, n in heard.asked),
        )


def software(facts: CaseFacts) -> Iterator[Block]:
    """Give what ran, with which weights and voice, on which sheet, in which sessions."""
    yield Heading("Software and sheet")
    yield Facts(
        (
            ("Counted with", facts.software),
            ("Recogniser", facts.recogniser),
            ("Voice", facts.voice),
            ("Sheet (SHA-256)", facts.sheet),
            ("This document by", facts.made_by),
            ("Its form", facts.form),
            *(
                (f"Session {number}", _session(one))
                for number, one in enumerate(facts.sessions, start=1)
            ),
        )
    )


def _session(one: Session) -> str:
    numbers = (
        f"record {one.first}" if one.first == one.last else f"records {one.first} to {one.last}"
    )
    return f"{numbers}, {one.software or 'software not named'}"


def all_records(facts: CaseFacts) -> Iterator[Block]:
    """Give one line for each record of the journal."""
    yield Heading("All records")
    if not facts.events:
        yield Text("There is none.")
        return
    yield Table(
        title="Every record of the journal, in its order",
        columns=(
            Column("No.", 0.7, number=True),
            Column("Time (UTC)", 1.2),
            Column("In case", 0.9, number=True),
            Column("What the record says", 8),
        ),
        rows=tuple(
            (
                str(one.when.record),
                words.time_of_day(one.when),
                words.clock(one.when.at),
                one.text,
            )
            for one in facts.events
        ),
    )
