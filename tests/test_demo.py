"""The main job on real sound: the demo recording through the real recogniser.

The table below was written by hand from audio_fixtures/caesarean.txt.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from voicecount.cli import main
from voicecount.commands.journals import CODEC
from voicecount.count.events import LineConfirmed, LineRefused, LineStored, PackageSetAside
from voicecount.count.ledger import fold
from voicecount.count.roles import Role
from voicecount.keep.journal import Journal

ROOT = Path(__file__).parent.parent
SHEET, RECORDING = ROOT / "grammars/caesarean.yaml", ROOT / "audio_fixtures/caesarean.flac"

COUNTED: dict[str, tuple[int, set[str]]] = {
    "gauze": (20, {"further_package", "package_set_aside"}),
    "lap_sponge": (10, {"further_package"}),
    "sponge_stick": (3, set()),
    "dissecting_sponge": (5, {"disputed", "recounted"}),
    "suture_needle": (9, {"stated"}),
    "skin_blade": (2, {"stated"}),
    "tip": (1, set()),
    "scratch_pad": (1, set()),
    "hollow_needle": (2, {"stated"}),
    "marking_pen": (1, set()),
    "vessel_loop": (2, {"stated"}),
    "suction_tip": (1, set()),
    "cord_clamp": (1, set()),
    "bulb_syringe": (1, set()),
    "kelly": (6, set()),
    "kocher": (3, {"differs_from_sheet"}),
    "needle_holder": (3, set()),
}
"""Counted and confirmed, with flags. The last five lines of the sheet are not called."""

pytestmark = pytest.mark.audio


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    """Replay the recording once; give the report and the journal."""
    folder = tmp_path_factory.mktemp("demo")
    journal, out = folder / "demo.vcj", folder / "out.json"
    with pytest.MonkeyPatch.context() as patch, out.open("w", encoding="utf-8") as stream:
        patch.setattr("sys.stdout", stream)
        given = ["replay", "--sheet", str(SHEET), "--json", "--journal", str(journal)]
        assert main([*given, str(RECORDING)]) == 0
    return json.loads(out.read_text(encoding="utf-8")), journal


def events(journal: Path) -> list[Any]:
    """Read the events of a journal."""
    opened = Journal.open(journal, CODEC)
    try:
        return list(opened.events)
    finally:
        opened.close()


def test_every_line_is_counted_as_it_was_called(run: tuple[dict[str, Any], Path]) -> None:
    """The tally equals the script, line by line, with its flags and confirmations."""
    items = run[0]["items"]
    counted = {
        name: (item["counted"], set(item["flags"]))
        for name, item in items.items()
        if item["confirmed"]
    }

    assert counted == COUNTED


def test_lines_that_were_not_called_stay_uncounted(run: tuple[dict[str, Any], Path]) -> None:
    """Nothing is filled in from the sheet."""
    rest = {name: item for name, item in run[0]["items"].items() if name not in COUNTED}

    assert set(rest) == {
        "allis",
        "bladder_retractor",
        "sharp_rake",
        "dull_rake",
        "bandage_scissors",
    }
    assert all(item["counted"] is None and not item["confirmed"] for item in rest.values())


def test_the_planted_faults_are_in_the_record(run: tuple[dict[str, Any], Path]) -> None:
    """The skipped four and the package of nine are kept as what they were."""
    kept = events(run[1])

    refused = [(e.item, e.numbers) for e in kept if isinstance(e, LineRefused)]
    aside = [(e.item, e.held, e.pack) for e in kept if isinstance(e, PackageSetAside)]
    assert refused == [("lap_sponge", (1, 2, 3, 5))]
    assert aside == [("gauze", 9, 10)]


def test_two_people_stand_behind_every_confirmed_line(run: tuple[dict[str, Any], Path]) -> None:
    """Each confirmed line was called by the scrub person and confirmed by the circulator."""
    kept = events(run[1])
    called = {e.item for e in kept if isinstance(e, LineStored) and e.by is Role.SCRUB}
    confirmed = {e.item for e in kept if isinstance(e, LineConfirmed) and e.by is Role.CIRCULATOR}

    assert confirmed == set(COUNTED)
    assert confirmed <= called


def test_talk_in_the_room_leaves_no_trace(run: tuple[dict[str, Any], Path]) -> None:
    """The two sentences of talk are ignored, and none of their words is kept."""
    ignored = [line for line in run[0]["conversation"] if line["outcome"] == "ignored"]

    assert len(ignored) == 2
    assert all(not line["said"] for line in ignored)
    text = run[1].read_text(encoding="utf-8")
    assert "light" not in text
    assert "patient" not in text


def test_the_journal_alone_gives_the_same_tally(run: tuple[dict[str, Any], Path]) -> None:
    """A fold of the journal equals the report."""
    ledger = fold(events(run[1]))

    for name, (counted, _) in COUNTED.items():
        assert ledger.tally(name).total == counted
