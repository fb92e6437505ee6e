"""One line for a person for every kind of event: total, with names, and without a judgement."""

import typing
from pathlib import Path

import pytest
from cases import CASE, TEAM, case_of

from voicecount.commands.journals import CODEC
from voicecount.count.events import (
    CaseClosed,
    CountFinished,
    CountOpened,
    CountResult,
    CountWaived,
    Difference,
    DiscrepancyClosed,
    DiscrepancyOpened,
    Entry,
    Event,
    Incident,
    IncidentTold,
    LineConfirmed,
    LineDisputed,
    LineRefused,
    LineStored,
    LineTakenBack,
    MicrophoneChanged,
    NoiseChanged,
    PackageSetAside,
    PeopleChanged,
    RecountCalled,
    Refusal,
    Settled,
    SoundChecked,
    Step,
    StepTold,
    TurnedOpen,
    Why,
)
from voicecount.count.ledger import Ledger, apply, fold
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.count.sound_events import CheckedChannel, FoundProblem
from voicecount.keep.reading import load_whole_part
from voicecount.keep.record import Record
from voicecount.report import words
from voicecount.report.tell import TELLING, tell, tell_own
from voicecount.report.tell_lines import REFUSALS
from voicecount.sheet.plan import CountKind
from voicecount.sound.findings import Finding, Noise
from voicecount.words.meaning import Form

GOLDEN = Path(__file__).parent / "golden"
SCRUB, CIRC = Role.SCRUB, Role.CIRCULATOR
BOTH: dict[str, Role] = {"by": SCRUB, "agreed": CIRC}


def opened() -> Ledger:
    """Give the ledger of a case with a team."""
    first = open_case(
        case_of(team=TEAM),
        at=0.0,
        software="test",
        recogniser="typed",
        voice="none",
        told_apart=True,
    )
    return fold([first])


CASE_OPEN = opened()
DIFFERENCE = DiscrepancyOpened(
    at=1, number=1, item="lap", differs=Difference.LINE, counted=9, expected=10
)
DIFFERING = apply(CASE_OPEN, DIFFERENCE)
TOO_MANY = apply(CASE_OPEN, DIFFERENCE.model_copy(update={"counted": 12}))


def test_every_kind_of_event_has_its_line() -> None:
    """None is left out: the kinds are those of the union in events.py."""
    union, _ = typing.get_args(Event)

    assert set(TELLING) == set(typing.get_args(union))
    assert set(REFUSALS) == set(Refusal)
    assert set(words.WHY_AGAIN) == set(Why)


@pytest.mark.parametrize("path", sorted(GOLDEN.glob("*.vcj")), ids=lambda path: path.stem)
def test_every_record_of_an_old_journal_is_one_line(path: Path) -> None:
    """A line says who and which item by its name, never by its id, and never that all is well."""
    ledger = Ledger()
    for event in load_whole_part(path, CODEC).events:
        text = tell(event, ledger)
        ledger = apply(ledger, event)
        item = getattr(event, "item", None)

        assert "\n" not in text
        assert text.endswith(".")
        assert text[0].isupper()
        assert "safe" not in text
        assert "None" not in text
        assert item is None or ledger.items[item].name in text
        assert item is None or "_" not in item or item not in text


def test_a_name_from_the_right_moves_nothing_of_its_line() -> None:
    name = "מלחציים 12"
    first = CASE_OPEN.opened
    assert first is not None
    named = {
        part: tuple(one.model_copy(update={"name": name}) for one in getattr(first, part))
        for part in ("items", "team")
    }
    ledger = fold([first.model_copy(update={"title": name, **named})])
    apart = f"\u2068{name}\u2069"
    assert ledger.opened is not None
    assert tell(ledger.opened, ledger).startswith(f"Case opened: {apart}, ")
    assert tell(DIFFERENCE, ledger).startswith(f"Difference 1 came up: {apart}, ")
    change = PeopleChanged(at=1, role=CIRC, permanent=True, incoming="ada", **BOTH)
    assert f": {apart} for somebody not named; " in tell(change, ledger)


def test_a_place_has_its_label() -> None:
    """As it stands in print."""
    event = LineStored(
        at=1,
        by=SCRUB,
        item="lap",
        place="back_table",
        numbers=(1, 2, 3),
        start=0,
        end=1,
        line=1,
        counted=3,
        total=3,
        expected=None,
        form=Form.RUN,
    )
    told = "Line 1 stored, by the scrub: lap sponge, back table, 3 (called 1–3)."

    assert tell(event, CASE_OPEN) == told


def stored(**more: object) -> LineStored:
    """Give a stored line."""
    fields = {"at": 1, "item": "lap", "numbers": (5,), "start": 0, "end": 1, "line": 2}
    fields |= {"counted": 5, "total": 5, "expected": None, "form": Form.TOTAL}
    return LineStored.model_validate({**fields, **more})


def call(kind: type[LineRefused] | type[PackageSetAside], **more: object) -> Event:
    """Give a call that was not stored."""
    fields = {"at": 1, "item": "lap", "numbers": (1, 2, 4), "start": 0, "end": 1}
    return kind.model_validate({**fields, **more})


LINES: list[tuple[Event, str]] = [
    (
        stored(by=SCRUB, entry=Entry.RECOUNT, replaces=(1,), expected=10),
        (
            "Line 2 stored, by the scrub: lap sponge, 5 (called 5), counted again, the sheet "
            "says 10, in place of line 1."
        ),
    ),
    (
        stored(entry=Entry.PACKAGE, total=10, pieces=2),
        "Line 2 stored: lap sponge, 5 (called 5, each in 2 pieces), further package, together 10.",
    ),
    (
        stored(counted=0, total=0, numbers=(0,), form=Form.NONE),
        "Line 2 stored: lap sponge, 0 (called none).",
    ),
    (
        LineConfirmed(at=1, by=CIRC, item="lap", line=2, number=5),
        "Line 2 confirmed, by the circulator: lap sponge, the number said is 5.",
    ),
    (
        LineConfirmed(at=1, item="lap", line=2, number=None),
        "Line 2 confirmed: lap sponge, by a yes.",
    ),
    (
        LineConfirmed(at=1, item="lap", line=2, number=5, unison=True),
        "Line 2 confirmed: lap sponge, both counted 5 aloud.",
    ),
    (
        LineDisputed(at=1, by=CIRC, item="lap", line=2, total=5, number=None),
        (
            "Line 2 disputed, by the circulator: lap sponge, stored 5, the answer was no. To be "
            "counted again."
        ),
    ),
    (
        LineDisputed(at=1, item="lap", line=2, total=5, number=4, pieces=3),
        (
            "Line 2 disputed: lap sponge, stored 5, the number said is 4, in 3 pieces. To be "
            "counted again."
        ),
    ),
    (
        RecountCalled(at=1, by=CIRC, item="lap", place="off_field", lines=(1, 2), why=Why.ASKED),
        (
            "To be counted again, by the circulator: lap sponge, off the field, lines 1, 2; "
            "somebody asked for it."
        ),
    ),
    (
        call(LineRefused, by=SCRUB, refusal=Refusal.SKIPPED, after=2, heard=4, missing=(3,)),
        "Not stored, by the scrub: lap sponge, called 1, 2, 4; a number was skipped: 3.",
    ),
    (
        call(LineRefused, refusal=Refusal.BACKWARDS, after=2, heard=1),
        "Not stored: lap sponge, called 1, 2, 4; the numbers went back: 1 after 2.",
    ),
    (
        call(LineRefused, refusal=Refusal.NO_PLACE),
        "Not stored: lap sponge, called 1, 2, 4; nobody said where.",
    ),
    (
        call(PackageSetAside, held=4, pack=5, replaces=(1,)),
        (
            "Package set aside: lap sponge, it held 4 where 5 belong; none of it is counted, in "
            "place of line 1."
        ),
    ),
    (
        LineTakenBack(at=1, item="lap", lines=(1,), **BOTH),
        "Taken back: lap sponge, line 1; said by the scrub, agreed by the circulator.",
    ),
]


@pytest.mark.parametrize(("event", "text"), LINES, ids=[event.kind for event, _ in LINES])
def test_a_line_of_a_count_is_told(event: Event, text: str) -> None:
    """Who, which line, which item and place, which number, and why."""
    assert tell(event, CASE_OPEN) == text


TOLD = "; said by the scrub, agreed by the circulator."
CASES: list[tuple[Event, Ledger, str]] = [
    (
        CountOpened(
            at=1,
            by=CIRC,
            number=2,
            count="closing",
            count_kind=CountKind.CLOSING,
            title="closing count",
            items=("lap",),
        ),
        CASE_OPEN,
        "Count 2 opened, by the circulator: closing count.",
    ),
    (
        CountFinished(
            at=1,
            number=2,
            count="closing",
            result=CountResult.DIFFERS,
            unconfirmed=("lap",),
            differing=("needle",),
            left=("lap", "needle"),
            tucked=("lap",),
            open=(1, 2),
        ),
        CASE_OPEN,
        (
            "Count 2 said to be finished. Not reconciled. Not confirmed: lap sponge. Differing: "
            "suture needle. Not counted: lap sponge, suture needle. Tucked in: lap sponge. "
            "Differences open: 1, 2."
        ),
    ),
    (
        CountWaived(at=1, count="final", title="final count", reason="life_threatening", **BOTH),
        CASE_OPEN,
        f"Not done: final count; life is in danger{TOLD}",
    ),
    (
        IncidentTold(at=1, incident=Incident.BROKEN, item="needle", n=3, **BOTH),
        CASE_OPEN,
        f"Told of suture needle: one broken into 3 fragments{TOLD}",
    ),
    (
        IncidentTold(at=1, incident=Incident.INCOMPLETE, item="needle", n=1, **BOTH),
        CASE_OPEN,
        f"Told of suture needle: one lacks a piece, 1 of its pieces there{TOLD}",
    ),
    (
        IncidentTold(at=1, incident=Incident.OTHER_NUMBER, item="needle", n=3, printed=4, **BOTH),
        CASE_OPEN,
        f"Told of suture needle: a pack held 3, printed on it is 4{TOLD}",
    ),
    (
        IncidentTold(
            at=1,
            incident=Incident.PACKED,
            item="lap",
            n=2,
            site="pelvis",
            reason="on_ward",
            **BOTH,
        ),
        CASE_OPEN,
        (
            "Told of lap sponge: 2 left in the patient on purpose, in the pelvis, comes out on "
            f"the ward{TOLD}"
        ),
    ),
    (
        IncidentTold(at=1, incident=Incident.DROPPED, item="gone", n=1),
        CASE_OPEN,
        (
            "Told of gone: 1 dropped; it stays in the count; said and said again; who spoke is "
            "not known."
        ),
    ),
    (
        DIFFERENCE.model_copy(update={"differs": Difference.PLACE, "place": "off_field"}),
        CASE_OPEN,
        (
            "Difference 1 came up: lap sponge, off the field, fewer counted off the field than "
            "were passed off it; counted 9, expected 10, 1 short."
        ),
    ),
    (
        StepTold(
            at=1, by=SCRUB, discrepancy=1, step=Step.SEARCH, answer="found", where="floor", found=1
        ),
        DIFFERING,
        "Difference 1 (lap sponge): search floor, found, 1 found, by the scrub.",
    ),
    (
        StepTold(at=1, discrepancy=1, step=Step.RECOUNT, n=9),
        DIFFERING,
        "Difference 1 (lap sponge): both count again, done, counted 9.",
    ),
    (
        StepTold(
            at=1,
            discrepancy=1,
            step=Step.IMAGE,
            answer="not_done",
            reason="too_ill",
            reader="surgeon",
        ),
        DIFFERING,
        (
            "Difference 1 (lap sponge): imaging, not done, the patient is too ill for it, read "
            "by the surgeon."
        ),
    ),
    (
        StepTold(at=1, discrepancy=1, step=Step.IMAGE, answer="nothing_seen"),
        CASE_OPEN,
        "Difference 1: imaging, nothing seen on the image.",
    ),
    (
        DiscrepancyClosed(at=1, discrepancy=1, settled=Settled.FOUND, n=1, where="floor", **BOTH),
        DIFFERING,
        f"Difference 1 (lap sponge) closed by both: found, 1, floor{TOLD}",
    ),
    (
        DiscrepancyClosed(
            at=1, discrepancy=1, settled=Settled.NOT_FOUND, reason="image_later", **BOTH
        ),
        DIFFERING,
        (
            "Difference 1 (lap sponge) closed by both without the item: not found, an image "
            f"comes later{TOLD}"
        ),
    ),
    (
        DiscrepancyClosed(at=1, discrepancy=1, settled=Settled.NOT_FOUND, **BOTH),
        TOO_MANY,
        f"Difference 1 (lap sponge) closed by both: too many, not explained{TOLD}",
    ),
    (
        DiscrepancyClosed(at=1, discrepancy=1, settled=Settled.RECOUNTED, **BOTH),
        CASE_OPEN,
        f"Difference 1 closed by both: counted again, with the number expected{TOLD}",
    ),
    (
        PeopleChanged(at=1, role=SCRUB, permanent=True, outgoing="ada", incoming="ben", **BOTH),
        CASE_OPEN,
        f"Another scrub, to stay: Ben Moss for Ada Field{TOLD}",
    ),
    (
        PeopleChanged(at=1, role=CIRC, permanent=False, incoming="eve", back=True, **BOTH),
        CASE_OPEN,
        f"Another circulator, back from a break: eve for somebody not named{TOLD}",
    ),
    (
        PeopleChanged(at=1, role=CIRC, permanent=False, **BOTH),
        CASE_OPEN,
        f"Another circulator, for a break: no names were given{TOLD}",
    ),
    (TurnedOpen(at=1, **BOTH), CASE_OPEN, f"The operation turned open{TOLD}"),
    (
        CaseClosed(
            at=1,
            open=(2,),
            not_found=(1,),
            due=("closing",),
            inside=("lap",),
            tucked=("needle",),
            **BOTH,
        ),
        CASE_OPEN,
        (
            "Record ended; differences open: 2; differences closed without the item, or with too "
            "many: 1; counts not held: closing count; left in the patient on purpose: lap sponge; "
            f"tucked in and never told to be out: suture needle{TOLD}"
        ),
    ),
    (CaseClosed(at=1, **BOTH), Ledger(), f"Record ended{TOLD}"),
]


@pytest.mark.parametrize(("event", "ledger", "text"), CASES, ids=[one[0].kind for one in CASES])
def test_an_event_of_a_case_is_told(event: Event, ledger: Ledger, text: str) -> None:
    """Names of items and people, numbers, and by whose words it holds."""
    assert tell(event, ledger) == text


@pytest.mark.parametrize("incident", Incident)
def test_every_incident_is_told(incident: Incident) -> None:
    """Each by its words, with its item."""
    event = IncidentTold(at=1, incident=incident, item="lap", n=2, printed=3, **BOTH)

    assert tell(event, CASE_OPEN).startswith("Told of lap sponge: ")


SOUND: list[tuple[Event, str]] = [
    (
        SoundChecked(
            at=1,
            channels=(
                CheckedChannel(channel=0, who=SCRUB, speech=-20, floor=-60),
                CheckedChannel(channel=1, who=CIRC, floor=-60),
                CheckedChannel(channel=2, speech=-20, floor=-60),
            ),
            problems=(
                FoundProblem(code=Finding.NOT_HEARD, channel=1, who=CIRC, stops=True),
                FoundProblem(code=Finding.SWAPPED, stops=False),
            ),
        ),
        (
            "Sound check: 1 person heard, each on a channel; not heard on channel 2, the "
            "circulator (to be put right before the case); swapped (more will be asked)."
        ),
    ),
    (
        SoundChecked(at=1, channels=()),
        "Sound check: 0 people heard, each on a channel; nothing found.",
    ),
    (
        NoiseChanged(at=1, state=Noise.TOO_LOUD, channel=0, floor=-30, above_noise=3.25),
        "Noise: the room is too loud to hear well; on channel 1 the voice stands 3.2 dB above it.",
    ),
    (
        MicrophoneChanged(at=1, state="back", channel=1, seconds=4.6),
        "Microphone of channel 2 is back, after 5 s.",
    ),
    (MicrophoneChanged(at=1, state="gone", seconds=3), "Microphone is gone, for 3 s so far."),
]


@pytest.mark.parametrize(("event", "text"), SOUND, ids=[event.kind for event, _ in SOUND])
def test_what_happens_to_the_sound_is_told(event: Event, text: str) -> None:
    """Channels are numbered from one, as people do."""
    assert tell(event, CASE_OPEN) == text


@pytest.mark.parametrize(
    ("kind", "payload", "text"),
    [
        ("journal.resumed", {}, "The journal was opened again."),
        (
            "journal.resumed",
            {"software": "voicecount 0.1.0"},
            "The journal was opened again by voicecount 0.1.0.",
        ),
        (
            "journal.recovered",
            {"bytes": 0, "copy": None},
            "The line before lacked only its end, and was given it.",
        ),
        (
            "journal.recovered",
            {"bytes": 1, "copy": "a.torn"},
            (
                "An unfinished line of 1 byte was cut off, and a copy of it kept; it was never "
                "acknowledged."
            ),
        ),
        (
            "journal.later",
            {},
            "A record of the journal's own, of a kind not known here: journal.later.",
        ),
    ],
)
def test_the_journals_own_records_are_told(
    kind: str, payload: dict[str, object], text: str
) -> None:
    """They are records too: what was cut off, and that it was opened again."""
    record = Record(
        schema=1,
        seq=2,
        wall=CASE.title,
        monotonic=0.0,
        session="s",
        kind=kind,
        payload=payload,
        prev="",
        hash="",
    )

    assert tell_own(record) == text
