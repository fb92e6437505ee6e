"""The file beside the sheet: its stamp, its damage, and how it makes a grammar richer."""

import json
import os
from pathlib import Path
from typing import Any

import pytest

from tests.rehearsing import sheet
from voicecount.errors import SheetError
from voicecount.hear.embedded.spell import respellings, spellings
from voicecount.rehearse import store
from voicecount.rehearse.learned import Learned, Learnt, names_digest, with_learned
from voicecount.sheet.model import Sheet
from voicecount.words.grammar import NUMBERS, build_grammar
from voicecount.words.graph import Tag, Token
from voicecount.words.pronounce import Lexicon

SHEET = sheet("Deaver", "Kelly clamp")
ENTRY = Learnt(
    item="deaver",
    name="Deaver",
    sounds={"deaver": ("D EH V ER",)},
    spelled={"deaver": ("dever",), "kelly clamp": ("Kelly clam",)},
)


def learned(of: Sheet = SHEET, **more: Any) -> Learned:
    given: dict[str, Any] = {"rehearsed": (ENTRY,), "hearing": store.hearing_version()} | more
    return Learned(names=names_digest(of), **given)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "trial.yaml"


def test_without_a_rehearsal_the_grammar_is_the_same(path: Path) -> None:
    """No file, no difference: the very same grammar, and nothing is told."""
    told: list[str] = []

    assert store.grammars_for(path, SHEET, told.append)() == build_grammar(SHEET)
    assert with_learned(build_grammar(SHEET), ()) == build_grammar(SHEET)
    assert told == []


def test_what_was_learned_reaches_the_grammar(path: Path) -> None:
    """Pronunciations come behind the known one; spellings reach the decoder's texts."""
    store.write(path, learned())
    grammar = store.grammars_for(path, SHEET, pytest.fail)()
    known = Lexicon().pronounce("deaver")

    assert Lexicon(dict(grammar.sounds)).pronounce("deaver")[:2] == (
        known[0],
        ("D", "EH", "V", "ER"),
    )
    deaver, clamp = Token(Tag.ITEM, ("deaver",)), Token(Tag.ITEM, ("kelly", "clamp"))
    assert "Dever, two." in spellings([deaver, NUMBERS[2]], respellings(grammar))
    assert "Kelly clam 2." in spellings([clamp, NUMBERS[2]], respellings(grammar))
    assert hash(grammar) != hash(build_grammar(SHEET))


def test_expected_totals_are_not_in_the_stamp() -> None:
    """Sheets that differ only in totals and packages have one stamp; other names have another."""
    more = sheet("Deaver", "Kelly clamp", expect=7, pack=7)

    assert names_digest(more) == names_digest(SHEET)
    assert names_digest(sheet("Deaver", "Kelly")) != names_digest(SHEET)
    assert "7" not in [str(value) for value in learned(more).model_dump().values()]


@pytest.mark.parametrize(
    ("kept", "what"),
    [(learned(sheet("Kelly")), "other names"), (learned(hearing="older"), "another recogniser")],
)
def test_a_stamp_that_does_not_match_is_told_and_not_used(
    path: Path, kept: Learned, what: str
) -> None:
    """Other names or another recogniser: not used, and one line says so and what to do."""
    store.write(path, kept)
    told: list[str] = []

    assert store.grammars_for(path, SHEET, told.append)() == build_grammar(SHEET)
    (line,) = told
    assert what in line
    assert f"voicecount rehearse {path}" in line


@pytest.mark.parametrize("cut", [0, 1, 40, 200])
def test_a_file_cut_short_is_one_line(path: Path, cut: int) -> None:
    """Truncated JSON is an error of one line that says what to do."""
    whole = store.write(path, learned()).read_text()
    store.learned_path(path).write_text(whole[:cut])

    with pytest.raises(SheetError, match=r"damaged or cut short; remove it, or run") as found:
        store.read(path)
    assert "\n" not in str(found.value)


@pytest.mark.parametrize(
    "change",
    [
        {"extra": 1},
        {"format": "voicecount learned 2"},
        {"rehearsed": [{"item": "deaver", "name": "Deaver", "sounds": {"deaver": ["D QQ"]}}]},
        {"rehearsed": [{"item": "deaver", "name": "Deaver", "sounds": {"deaver": [""]}}]},
        {"own": "all"},
    ],
)
def test_a_file_of_another_shape_is_one_line(path: Path, change: dict[str, Any]) -> None:
    """Fields, formats and phones that are not ours are refused."""
    data = learned().model_dump(mode="json") | change
    store.learned_path(path).write_text(json.dumps(data))

    with pytest.raises(SheetError, match="not as a rehearsal writes it"):
        store.read(path)


def test_a_file_that_is_no_object_is_one_line(path: Path) -> None:
    """Valid JSON of another kind is refused too."""
    store.learned_path(path).write_text("[]")

    with pytest.raises(SheetError, match="the whole"):
        store.read(path)


def test_a_file_that_cannot_be_read_is_one_line(path: Path) -> None:
    """A folder in the place of the file is told."""
    store.learned_path(path).mkdir()

    with pytest.raises(SheetError, match="cannot be read"):
        store.read(path)
    with pytest.raises(SheetError, match="cannot be removed"):
        store.remove(path)


def test_the_file_is_written_whole_or_not_at_all(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that fails before the sync leaves the old file, and nothing beside it."""
    store.write(path, learned())
    before = store.learned_path(path).read_text()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SheetError, match="No space left on device"):
        store.write(path, learned(rehearsed=()))

    assert store.learned_path(path).read_text() == before
    assert [file.name for file in path.parent.iterdir()] == ["trial.learned.json"]


def test_it_is_synced_before_it_takes_its_place(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sync comes before the rename: a power cut never leaves half a file in the place."""
    order: list[str] = []
    replace = Path.replace
    monkeypatch.setattr(os, "fsync", lambda _: order.append("sync"))

    def note(self: Path, target: Path) -> Path:
        order.append("replace")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", note)
    store.write(path, learned())

    assert order == ["sync", "replace"]


def test_a_folder_that_is_not_there_is_one_line(path: Path) -> None:
    """Nothing can be kept beside a sheet whose folder is gone."""
    with pytest.raises(SheetError, match="put the sheet into a folder"):
        store.write(path / "gone" / "sheet.yaml", learned())


def test_a_missing_package_has_a_version_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """The stamp says what is missing instead of failing."""
    monkeypatch.setattr(store, "_PACKAGES", ("no-such-package-at-all",))
    store.hearing_version.cache_clear()
    try:
        assert store.hearing_version().startswith("no-such-package-at-all missing")
    finally:
        store.hearing_version.cache_clear()
