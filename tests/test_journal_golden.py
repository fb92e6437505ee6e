"""Journals that version 0.1.0 wrote: every later version loads, folds and verifies them."""

import re
import shutil
from pathlib import Path

import pytest

from voicecount import cli
from voicecount.commands.journals import CODEC
from voicecount.count.ledger import fold
from voicecount.keep.journal import COPY, Journal
from voicecount.keep.reading import load_whole_part, read
from voicecount.keep.witness import digits

GOLDEN = Path(__file__).parent / "golden"
FILES = sorted(GOLDEN.glob("*_0_1_0.vcj"))
KINDS_OF_0_1_0 = {
    *("case_opened", "line_stored", "line_confirmed", "line_disputed", "recount_called"),
    *("line_refused", "package_set_aside", "line_taken_back", "stood_by", "carried_on"),
    "count_finished",
}
HEADS = {
    "two_people_0_1_0": "5e551b5b",
    "one_channel_0_1_0": "ef5adfc0",
    "every_kind_0_1_0": "a42a7d2c",
}
"""As they were shown on the day on which the files were made."""
COUNTS: dict[str, dict[tuple[str, str | None], int]] = {
    "two_people_0_1_0": {
        ("gauze", None): 20,
        ("lap-sponge", None): 10,
        ("needle", None): 12,
        ("blade", None): 2,
        ("vessel-loop", None): 2,
        ("suction-tip", None): 1,
        ("clamp", None): 7,
    },
    "one_channel_0_1_0": {("gauze", None): 10, ("blade", None): 2, ("needle", None): 12},
    "every_kind_0_1_0": {("clamp", None): 6, ("lap-sponge", None): 10, ("probe", None): 3},
}
"""What stands in each, from the words that its script says."""


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_an_old_journal_loads_and_folds_to_its_counts(path: Path) -> None:
    """The counts that stand are those that were called when the file was made."""
    reading = read(path.read_bytes(), path, CODEC)
    ledger = fold(reading.events)
    standing = {
        (key.item, key.place): tally.counted
        for key, tally in ledger.tallies.items()
        if tally.counted is not None
    }

    assert standing == COUNTS[path.stem]
    assert digits(reading.head) == HEADS[path.stem]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_an_old_journal_verifies(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Verify finds it whole, and the head of its day witnessed."""
    before = path.read_bytes()
    code = cli.main(["verify", str(path), "--witness", HEADS[path.stem]])
    out = capsys.readouterr().out

    assert code == 0
    assert "; whole\n" in out
    assert re.search(rf"witness +{HEADS[path.stem]} was the head at record", out)
    assert path.read_bytes() == before


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_an_old_journal_goes_on(path: Path, tmp_path: Path) -> None:
    """A case of an earlier version can be opened for writing and verified after that."""
    copy = tmp_path / path.name
    shutil.copy(path, copy)
    with Journal.open(copy, CODEC) as journal:
        assert journal.events == read(path.read_bytes(), path, CODEC).events

    assert copy.read_bytes().startswith(path.read_bytes())
    assert cli.main(["verify", str(copy)]) == 0


def test_the_old_journals_hold_every_kind_of_their_version() -> None:
    """Nothing that version 0.1.0 could write is left out, and all of it is still read."""
    kinds = {event.kind for path in FILES for event in load_whole_part(path, CODEC).events}

    assert kinds == KINDS_OF_0_1_0


def test_the_copy_of_the_torn_line_lies_beside_its_journal() -> None:
    """One of the journals was torn, and its copy is kept as it was made."""
    (copy,) = GOLDEN.glob(f"*{COPY}*")

    assert copy.read_bytes() == b'{"hash":"unfinished'


def test_a_whole_case_still_loads() -> None:
    """A case of every stage folds to what it came to on the day it was written."""
    reading = load_whole_part(GOLDEN / "whole_case_2026_11_26.vcj", CODEC)
    ledger = fold(reading.events)

    assert reading.damage is None
    assert ledger.closed
    assert {item: ledger.expected(item) for item in ledger.items} == {
        "lap_sponge": 15,
        "suture_needle": 6,
        "skin_blade": 2,
        "cautery_tip": 1,
        "kelly": 4,
    }
    assert {count: result.value for count, result in ledger.held.items()} == {
        "initial": "baseline",
        "uterus": "agrees",
        "closing": "reconciled",
        "final": "agrees",
    }
