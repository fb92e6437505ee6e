"""Drill files: those that ship are usable, and every mistake is told with what to do."""

import re
from pathlib import Path

import pytest
import yaml

from voicecount.drill.drill_text import drill_text
from voicecount.drill.load import SHEET_ENDING, DrillError, Loaded, load_drill, shipped
from voicecount.drill.model import Criterion, EventKind, Task
from voicecount.drill.partner_sound import partner_words
from voicecount.errors import SheetError
from voicecount.sheet.load import load_sheet
from voicecount.words.numbers import words_of
from voicecount.words.pronounce import g2p

HERE = Path(__file__).parent
FOLDER = HERE.parent / "grammars" / "drills"
DRILLS = [load_drill(path) for path in shipped()]
LEARNT = {
    word
    for name in ("caesarean.yaml", "laparotomy.yaml")
    for way in load_sheet(FOLDER.parent / name).ways
    for word in words_of(way)
}
EACH = pytest.mark.parametrize("loaded", DRILLS, ids=lambda loaded: loaded.name)

SHEET = """\
title: Small
items:
  - {id: gauze, group: sponges, say: [gauze], expect: 10, pack: 10}
  - {id: lap_sponge, group: sponges, say: [lap sponge], expect: 5, pack: 5}
  - {id: needle, group: sharps, say: [suture needle], expect: 4, stated: true}
  - {id: kelly, group: instruments, say: [Kelly clamp], expect: 6}
"""
GOOD = """\
title: Made up
level: 3
task: first_count
sheet: small.sheet.yaml
about: Something lies there.
goal: To try.
table:
  - {item: gauze, number: 20}
  - {item: needle, number: 4}
  - {item: kelly, number: 6}
events:
  - {kind: interruption, item: kelly, after: 3, says: Hello there.}
  - {kind: misread, item: needle, number: 5, says: It was read wrongly.}
"""
CLOSING = """\
title: Made up
level: 3
task: closing_count
sheet: small.sheet.yaml
about: Something lies there.
goal: To try.
table:
  - {item: gauze, place: field, number: 3}
  - {item: gauze, place: off_field, number: 7}
  - {item: kelly, place: mayo, number: 0}
"""
CONFIRM = """\
title: Made up
level: 3
task: confirm
sheet: small.sheet.yaml
about: Something lies there.
goal: To try.
table:
  - {item: lap_sponge, number: 10}
  - {item: kelly, number: 6}
events:
  - {kind: miscount, item: kelly, run: [1, 2, 4, 5, 6], says: Three was left out.}
"""


def write(folder: Path, text: str | bytes, name: str = "drill.yaml") -> Path:
    """Write a drill and its sheet."""
    (folder / "small.sheet.yaml").write_text(SHEET, encoding="utf-8")
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def refused(folder: Path, text: str | bytes) -> str:
    """Give what is said about a bad drill, without its file: always one line."""
    path = write(folder, text)
    with pytest.raises(DrillError) as caught:
        load_drill(path)
    message = str(caught.value)
    assert "\n" not in message
    assert message.startswith(str(path))
    return message.removeprefix(str(path)).lstrip(", ")


def changed(text: str, old: str, new: str) -> str:
    """Change a drill in one place."""
    assert text.count(old) == 1, old
    return text.replace(old, new)


def test_at_least_ten_drills_of_rising_difficulty() -> None:
    """Ten and more, each with a level of its own from 1 on, over every task and kind of event."""
    assert len(DRILLS) >= 10
    assert [loaded.drill.level for loaded in DRILLS] == list(range(1, len(DRILLS) + 1))
    assert {loaded.drill.task for loaded in DRILLS} == set(Task)
    planted = {event.kind for loaded in DRILLS for event in loaded.drill.events}
    assert planted == set(EventKind)


@EACH
def test_what_ships_is_told_in_words(loaded: Loaded) -> None:
    """Each has a scene, a goal in one sentence, weights, and is found by its name."""
    assert len(loaded.drill.about.split()) >= 20
    assert loaded.drill.goal.count(".") == 1
    assert loaded.drill.rubric
    assert load_drill(loaded.name) == loaded


@EACH
def test_packages_hold_what_the_sheet_says(loaded: Loaded) -> None:
    """Gauze comes in tens, lap sponges and dissecting sponges in fives.

    Source: published teaching material on surgical counts, read second-hand.
    """
    sizes = {"gauze": 10, "lap_sponge": 5, "dissecting_sponge": 5}
    for item in loaded.sheet.items:
        assert item.pack == sizes.get(item.id)


@EACH
def test_groups_in_their_order(loaded: Loaded) -> None:
    """Sponges, sharps, miscellaneous, instruments: AST 2006 and ORNAC, from memory."""
    order = ["sponges", "sharps", "miscellaneous", "instruments"]
    groups = [order.index(item.group.value) for item in loaded.sheet.items]

    assert groups == sorted(groups)
    called = [order.index(loaded.sheet.item(one.item).group.value) for one in loaded.drill.table]
    assert called == sorted(called)


def in_dictionary(word: str) -> bool:
    """Tell whether a word, or what it is made of, stands in the voice's dictionary."""
    endings = ("", "s", "es", "d", "ed", "ing")
    stems = {word.removesuffix(ending) for ending in endings} - {""}
    known = g2p().lexicon.is_known
    return any(known(stem, None) or known(stem.capitalize(), None) for stem in stems)


@EACH
def test_every_word_of_the_partner_can_be_spoken(loaded: Loaded) -> None:
    """Each word stands in the voice's own dictionary, or in a name that the recogniser learned on.

    Outside: the dictionary of the package hibari-tts.
    """
    for text in partner_words(loaded.drill, loaded.sheet).values():
        for word in words_of(re.sub(r'["()]', "", text)):
            assert in_dictionary(word) or word in LEARNT, word


def test_an_invented_word_is_in_no_dictionary() -> None:
    """The check above can fail."""
    assert not in_dictionary("qwopt")


def test_sheets_lie_beside_their_drills() -> None:
    """Every sheet of the folder is used, and is a sheet."""
    sheets = {path.name for path in FOLDER.glob(f"*{SHEET_ENDING}")}

    assert sheets == {loaded.drill.sheet for loaded in DRILLS}
    for loaded in DRILLS:
        assert load_sheet(loaded.sheet_path) == loaded.sheet


def test_read_and_written_it_is_the_same(tmp_path: Path) -> None:
    """A drill that is written as text reads as the same drill."""
    for loaded in DRILLS:
        path = tmp_path / f"{loaded.name}.yaml"
        path.write_text(drill_text(loaded.drill, "a remark"), encoding="utf-8")
        (tmp_path / loaded.drill.sheet).write_bytes(loaded.sheet_path.read_bytes())
        again = load_drill(path)
        assert again.drill == loaded.drill
        assert again.digest == loaded.digest


@pytest.mark.parametrize("text", [GOOD, CLOSING, CONFIRM])
def test_good_ones_load(tmp_path: Path, text: str) -> None:
    """The drills that the bad ones are made of are good."""
    loaded = load_drill(str(write(tmp_path, text)))

    assert (loaded.name, loaded.sheet.title) == ("drill", "Small")
    assert loaded.drill.weight(Criterion.ORDER) == 1.0


def test_the_digest_tells_drills_apart(tmp_path: Path) -> None:
    """Another number is another drill; the folder and the name say nothing."""
    first = load_drill(write(tmp_path, GOOD))
    other = load_drill(write(tmp_path, changed(GOOD, "kelly, number: 6", "kelly, number: 5")))
    again = load_drill(write(tmp_path, GOOD, "again.yaml"))

    assert first.digest == again.digest
    assert first.digest != other.digest


REFUSED = yaml.safe_load((HERE / "drill_refusals.yaml").read_text(encoding="utf-8"))
BASES = {"good": GOOD, "closing": CLOSING, "confirm": CONFIRM}


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case["told"])
def test_each_mistake_is_told(tmp_path: Path, case: dict[str, str]) -> None:
    """What does not fit its form, sheet, task or another field is told: line, name, what to do."""
    bad = changed(BASES[case["drill"]], case["old"], case["new"])

    assert refused(tmp_path, bad) == case["told"]


def test_an_unknown_place_of_an_event(tmp_path: Path) -> None:
    """An event's place is looked at as a line's place is."""
    bad = changed(GOOD, "item: kelly, after", "item: kelly, place: flor, after")

    assert refused(tmp_path, bad) == (
        "line 12, event 1 'interruption', place: 'flor' is no place; did you mean 'floor'?"
    )


def test_an_empty_table(tmp_path: Path) -> None:
    """A drill without a line is none."""
    bad = GOOD[: GOOD.index("table:")] + "table: []\n"

    assert refused(tmp_path, bad) == "line 7, table: is empty; add at least one"


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("", ": empty; write a title, a level, a task and a table, see docs/drills.md"),
        ("- a\n", "line 1: a drill begins with 'title:'; see docs/drills.md"),
        (
            "title: ]a\n",
            "line 1: not a drill in YAML: expected the node content, but found ']'; put it right",
        ),
        (
            "title: a\ntitle: b\n",
            "line 2: not a drill in YAML: field 'title' stands twice; keep one; put it right",
        ),
        (
            "a: &x 1\nb: *x\n",
            "line 2: not a drill in YAML: write it out instead of '*'; put it right",
        ),
        ("title: a\x07\n", "line 1: holds a character that is no text (code 7); take it out"),
        (b"title: a\n\xff\n", "line 2: not text in UTF-8; save the drill as UTF-8 text"),
        ("title: 2026-13-45", ": not a drill in YAML; see docs/drills.md"),
        (b"#" * 1_000_001, ": too large for a drill (over 1 MB); give the path of a drill"),
    ],
)
def test_what_is_no_drill(tmp_path: Path, content: str | bytes, told: str) -> None:
    """A file that holds no drill is told so, with what to do."""
    assert refused(tmp_path, content).removeprefix(": ") == told.removeprefix(": ")


def test_no_file_and_a_folder(tmp_path: Path) -> None:
    """A path without a file, and a folder."""
    with pytest.raises(DrillError) as caught:
        load_drill(tmp_path / "none.yaml")
    assert (
        str(caught.value)
        == f"{tmp_path}/none.yaml: there is no such file; give the path of a drill"
    )
    with pytest.raises(DrillError) as caught:
        load_drill(tmp_path)
    assert str(caught.value) == f"{tmp_path}: this is a folder; give the path of a drill in it"


def test_a_file_that_cannot_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that the machine does not give out."""
    path = write(tmp_path, GOOD)

    def forbidden(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", forbidden)
    with pytest.raises(DrillError) as caught:
        load_drill(path)
    assert str(caught.value) == (
        f"{path}: cannot be read (Permission denied); give a file that can be read"
    )


def test_an_unknown_name() -> None:
    """A name that no drill has is told with one that is near, or with all."""
    with pytest.raises(DrillError) as caught:
        load_drill("skin_alon")
    assert (
        str(caught.value) == "skin_alon: there is no drill of this name; did you mean 'skin_alone'?"
    )
    with pytest.raises(
        DrillError, match=r"^zzzz: there is no drill of this name; use one of belly_"
    ):
        load_drill("zzzz")


def test_a_sheet_that_is_wrong(tmp_path: Path) -> None:
    """What is wrong in its sheet is told of the sheet."""
    path = write(tmp_path, GOOD)
    (tmp_path / "small.sheet.yaml").write_text("title: a\n", encoding="utf-8")

    with pytest.raises(SheetError, match="line 1, items: is missing; add it"):
        load_drill(path)
