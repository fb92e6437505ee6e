"""The table and the JSON of a whole case: places, what is expected now, differences in words."""

import io

import pytest
from playing import Play, sheet_of
from rich.console import Console

from voicecount.show.case_table import case_table
from voicecount.show.json_out import replay_object

FIVE = "one two three four five"
ITEMS = (
    {"id": "lap", "say": ["lap sponge"], "pack": 5, "expect": 5},
    {"id": "clamp", "say": ["Kelly clamp"], "group": "instruments", "expect": 2},
)
PLAN = [
    {"id": "initial", "kind": "initial", "say": "initial count"},
    {"id": "womb", "kind": "cavity", "say": "womb count", "leaves_out": ["instruments"]},
]


def begun() -> Play:
    """A case after its initial count and a cut sponge, in a count by places."""
    played = Play(sheet_of(*ITEMS, plan=PLAN))
    return played.go(
        *(f"scrub: lap sponge {FIVE}", "(wait)", "circ: five"),
        *("scrub: Kelly clamp one two", "(wait)", "circ: two", "circ: the count is finished"),
        *("scrub: something was cut", "scrub: lap sponge one", "circ: one"),
        "circ: begin the womb count",
    )


def shown(played: Play) -> str:
    """Print the table as text."""
    out = Console(file=io.StringIO(), width=120)
    out.print(case_table(played.ledger))
    return out.file.getvalue()  # type: ignore[attr-defined, no-any-return]


def row(text: str, name: str) -> list[str]:
    """Give the cells of a line."""
    (line,) = [line for line in text.splitlines() if name in line]
    return [cell.strip() for cell in line.strip("│").split("│")]


def test_every_place_has_its_column() -> None:
    """An item shows initial, other and expected now, then its places, their sum, and its state."""
    played = begun().go("scrub: lap sponge on the field one two", "(wait)", "circ: two")
    cells = row(shown(played), "lap sponge")

    assert cells == ["lap sponge", "5", "-", "+1", "6", "2", "-", "-", "-", "-", "-", cells[-1]]
    assert "not counted" in cells[-1]


def test_what_a_count_leaves_out_is_said() -> None:
    """A line of a group that the count leaves out shows no numbers of places."""
    assert "not in this count" in row(shown(begun()), "Kelly clamp")[-1]


def test_a_difference_is_told_in_words_and_shape() -> None:
    """A short line has a sign at its sum and says how many are missing."""
    played = begun().go(
        *("scrub: lap sponge on the field one two", "(wait)", "circ: two"),
        *("scrub: none anywhere else", "circ: none"),
    )
    cells = row(shown(played), "lap sponge")

    assert cells[-2:] == ["≠ 2", "△ 4 short"]


def test_how_it_was_closed_is_told() -> None:
    """A difference that both closed is shown as what they said, not as agreement."""
    played = begun().go(
        *("scrub: lap sponge on the field one two", "(wait)", "circ: two"),
        *("scrub: none anywhere else", "circ: none", "circ: we have found it"),
        *("circ: on the floor", "circ: four", "scrub: four"),
    )

    assert row(shown(played), "lap sponge")[-1] == "◆ found"


@pytest.mark.parametrize("word", ["safe", "correct", "complete", "ok"])
def test_the_table_never_reassures(word: str) -> None:
    """No word of the table says that a count is right."""
    assert word not in shown(begun()).lower()


def test_json_holds_the_whole_case() -> None:
    """Accounts, places, counts held and due, and open differences stand in the report."""
    played = begun().go(
        *("scrub: lap sponge on the field one two", "(wait)", "circ: two"),
        *("scrub: none anywhere else", "circ: none"),
    )
    report = replay_object(played.ledger, [], __file__)  # type: ignore[arg-type]
    lap = report["items"]["lap"]

    assert (lap["initial"], lap["changed"], lap["expected_now"], lap["together"]) == (5, 1, 6, 2)
    assert lap["places"] == {"field": 2, "mayo": 0, "back_table": 0, "off_field": 0}
    assert report["count"] == {"number": 2, "id": "womb", "title": "womb count", "open": True}
    assert report["held"] == {"initial": "baseline"}
    assert report["due"] == ["womb"]
    (open_,) = report["discrepancies"]
    assert (open_["counted"], open_["expected"], open_["off"]) == (2, 6, -4)
