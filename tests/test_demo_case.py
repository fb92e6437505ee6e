"""A whole case on real sound and in typed words: the same events, count by count.

The tables below were written by hand from audio_fixtures/caesarean_case.txt.
"""

import json
from pathlib import Path
from typing import Any

import pytest
from test_fixtures import script

from voicecount.cli import main
from voicecount.commands.journals import CODEC
from voicecount.count.events import (
    CaseClosed,
    CountFinished,
    CountOpened,
    CountResult,
    DiscrepancyClosed,
    DiscrepancyOpened,
    Event,
    IncidentTold,
    LineConfirmed,
    LineStored,
    PeopleChanged,
    Settled,
    StepTold,
)
from voicecount.count.ledger import Ledger, fold
from voicecount.count.roles import Role
from voicecount.keep.reading import load_whole_part

ROOT = Path(__file__).parent.parent
SHEET = ROOT / "grammars/caesarean_case.yaml"
RECORDING = ROOT / "audio_fixtures/caesarean_case.flac"

NOW = {"lap_sponge": 15, "suture_needle": 6, "skin_blade": 2, "cautery_tip": 1, "kelly": 4}
RESULTS = [
    ("initial", CountResult.BASELINE),
    ("addition", CountResult.BASELINE),
    ("uterus", CountResult.AGREES),
    ("relief", CountResult.AGREES),
    ("closing", CountResult.RECONCILED),
    ("final", CountResult.AGREES),
]
FINAL_LAPS = {"field": 0, "mayo": 0, "back_table": 3, "off_field": 12}


def replay(tmp: Path, *given: str) -> tuple[dict[str, Any], list[Event]]:
    """Replay into a new journal; the report and the events."""
    journal, out = tmp / "case.vcj", tmp / "out.json"
    with pytest.MonkeyPatch.context() as patch, out.open("w", encoding="utf-8") as stream:
        patch.setattr("sys.stdout", stream)
        given = ("replay", "--sheet", str(SHEET), "--json", "--journal", str(journal), *given)
        assert main(given) == 0
    return json.loads(out.read_text("utf-8")), list(load_whole_part(journal, CODEC).events)


def typed_script(path: Path) -> Path:
    """Write the recording's script as typed words, with times a person would need."""
    now, lines = 0.0, []
    for turn in script().read_script(ROOT / "audio_fixtures/caesarean_case.txt"):
        now += turn.pause
        lines.append(f"{now:.2f} {turn.who}: {turn.said}")
        now += 0.35 * len(turn.said.split()) + 0.2
    path.write_text("\n".join(lines))
    return path


@pytest.fixture(scope="module")
def typed(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], list[Event]]:
    """Replay the script in typed words."""
    tmp = tmp_path_factory.mktemp("typed")
    return replay(tmp, "--recogniser", "typed", str(typed_script(tmp / "case.txt")))


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], list[Event]]:
    """Replay the recording with the real recogniser."""
    return replay(tmp_path_factory.mktemp("spoken"), str(RECORDING))


def what(events: list[Event]) -> list[dict[str, Any]]:
    """Give the events without times and versions."""
    drop = {"at", "start", "end", "recogniser", "software", "voice", "right_at"}
    return [{k: v for k, v in e.model_dump(mode="json").items() if k not in drop} for e in events]


def kinds(events: list[Event], *which: type[Any]) -> list[Any]:
    return [event for event in events if isinstance(event, which)]


def check_case(report: dict[str, Any], events: list[Event]) -> None:
    """Hold a case against the tables."""
    assert [(e.count, e.result) for e in kinds(events, CountFinished)] == RESULTS
    assert {name: item["expected_now"] for name, item in report["items"].items()} == NOW
    assert {name: item["together"] for name, item in report["items"].items()} == NOW
    assert report["items"]["lap_sponge"]["places"] == FINAL_LAPS
    assert report["closed"] is True
    assert report["due"] == report["discrepancies"] == report["not_found"] == []


def test_typed_words_make_the_whole_case(typed: tuple[dict[str, Any], list[Event]]) -> None:
    """Every count comes to what the script makes of it, place by place."""
    check_case(*typed)


def test_the_missing_needle_is_walked_through(typed: tuple[dict[str, Any], list[Event]]) -> None:
    """Short by one, told with the count in which it was right; steps; found on the floor by both.

    The order of the steps is the policy's (union of published orders).
    """
    (opened,) = kinds(typed[1], DiscrepancyOpened)
    (closed,) = kinds(typed[1], DiscrepancyClosed)
    steps = [(step.step.value, step.where, step.answer) for step in kinds(typed[1], StepTold)]

    assert (opened.item, opened.counted, opened.expected) == ("suture_needle", 5, 6)
    assert opened.right_in == "count at the change"
    assert steps == [
        ("pause", None, "done"),
        ("tell", None, "done"),
        ("recount", None, "done"),
        ("search", "wound", "nothing"),
        ("search", "drapes", "nothing"),
    ]
    assert (closed.settled, closed.where, closed.n) == (Settled.FOUND, "floor", 1)
    assert {closed.by, closed.agreed} == {Role.SCRUB, Role.CIRCULATOR}


def test_the_change_of_people_is_witnessed(typed: tuple[dict[str, Any], list[Event]]) -> None:
    """Both names are kept, a full count follows, and the head of the record is spoken."""
    (changed,) = kinds(typed[1], PeopleChanged)
    opened = [event.count for event in kinds(typed[1], CountOpened)]
    answers = [line["answered"] for line in typed[0]["conversation"] if "answered" in line]
    (told,) = [text for text in answers if "The circulator changes" in text and "stands" in text]

    assert (changed.outgoing, changed.incoming, changed.permanent) == ("robin", "taylor", True)
    assert opened == ["addition", "uterus", "relief", "closing", "final"]
    assert "The record stands at: " in told
    assert "Off the field so far: lap sponges, five." in told


def test_two_people_stand_behind_everything(typed: tuple[dict[str, Any], list[Event]]) -> None:
    """Each line was called by one and confirmed by the other; so was each incident and the end."""
    events = typed[1]
    stored = {e.line for e in kinds(events, LineStored) if e.by is Role.SCRUB}
    confirmed = {e.line for e in kinds(events, LineConfirmed) if e.by is Role.CIRCULATOR}

    assert confirmed <= stored
    for event in kinds(events, IncidentTold, CaseClosed):
        assert {event.by, event.agreed} == {Role.SCRUB, Role.CIRCULATOR}


def test_the_fold_of_the_journal_is_the_report(typed: tuple[dict[str, Any], list[Event]]) -> None:
    """What is expected at the end follows from the journal alone."""
    ledger: Ledger = fold(typed[1])

    assert {item: ledger.expected(item) for item in ledger.items} == NOW
    assert ledger.closed


def test_nothing_reassures(typed: tuple[dict[str, Any], list[Event]]) -> None:
    """No answer of a whole case says that anything is safe, correct or all right."""
    answers = [line["answered"] for line in typed[0]["conversation"] if "answered" in line]
    words = " ".join(answers).lower()

    assert len(answers) > 100
    for word in (" safe", "correct", "all right", "well done", "good", "no problem", "may close"):
        assert word not in words


@pytest.mark.audio
def test_the_recording_makes_the_same_events(
    spoken: tuple[dict[str, Any], list[Event]], typed: tuple[dict[str, Any], list[Event]]
) -> None:
    """On real sound the whole case comes to the same events, one by one, as in typed words."""
    check_case(*spoken)
    assert what(spoken[1]) == what(typed[1])


@pytest.mark.audio
def test_talk_of_the_case_is_not_kept(spoken: tuple[dict[str, Any], list[Event]]) -> None:
    """The sentence of talk is ignored and none of its words is in the record."""
    ignored = [line for line in spoken[0]["conversation"] if line["outcome"] == "ignored"]

    assert len(ignored) == 1
    assert not ignored[0]["said"]
