"""Which lines of a sheet are sent to the board: none is lost, and the pressing ones come first."""

from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import pytest
from board_rig import known, now

from benchmarks.long_case import Talk, made_sheet
from voicecount.board import lines, page, words
from voicecount.board.lines import Tables, tables
from voicecount.board.rows import Row
from voicecount.board.view import Board, board
from voicecount.count.roles import Role


def shown(n: int, *, by_place: bool = False, called: int = 0, **more: Any) -> Board:
    """Give the board of a sheet of so many lines, of which some are called."""
    talk = Talk(made_sheet(n))
    if by_place:
        talk.initial()
        talk.command(Role.CIRCULATOR, "ask_count")
    for item in talk.sheet.items[:called]:
        talk.both(item.id, talk.due(item.id, "field") if by_place else 4, *talk.ledger.places[:1])
    return board(known(talk.events, now(), **more))


def rows(found: Tables) -> list[Row]:
    return [one.row for part in found.parts for one in part]


@pytest.mark.parametrize("by_place", [False, True])
@pytest.mark.parametrize("n", [1, 2, 5, 20, 60, 200])
def test_every_line_is_sent_or_told(n: int, *, by_place: bool) -> None:
    """As rows and as a number of each state they are the lines of the sheet, in its order."""
    it = shown(n, by_place=by_place, called=min(n, 3))
    found = tables(it)
    all_rows = [row for group in it.groups for row in group.rows]
    states = Counter(row.state for row in rows(found)) + Counter(found.hidden)
    assert states == Counter(row.state for row in all_rows)
    assert [row for row in all_rows if row in rows(found)] == rows(found)
    assert len(found.parts) == 1
    assert len(rows(found)) == min(n, lines.MOST)
    assert sorted(one.rank for part in found.parts for one in part) == list(range(len(rows(found))))
    assert [row.current for row in rows(found)].count(True) == 1
    told = words.more(found.hidden)
    assert (told == "") is (sum(found.hidden.values()) == 0)


def test_what_presses_goes_last() -> None:
    """What differs, then the row in hand, then what waits, before what both have said."""
    it = shown(120, called=30)
    (group, *_) = it.groups
    hurt = [replace(row, state="differs") if row is group.rows[5] else row for row in group.rows]
    it = replace(it, groups=(replace(group, rows=tuple(hurt)), *it.groups[1:]))
    found = tables(it)
    first, second, *rest = sorted(rows(found), key=lambda row: ranks_of(found)[row.item])
    assert first.item == hurt[5].item
    assert second.current
    order = ["differs", "recount", "waiting", "unlike_sheet", "left", "confirmed"]
    states = [order.index(row.state) for row in rest]
    assert states == sorted(states)
    assert states[-1] <= min(order.index(state) for state in found.hidden)


def ranks_of(found: Tables) -> dict[str, int]:
    return {one.row.item: one.rank for part in found.parts for one in part}


def test_what_stands_above_leaves_out_none() -> None:
    """Differences and banners do not: only a page can tell what has room beside them."""
    it = shown(60, by_place=True)
    many = replace(it, differences=("a: 1 short",) * 4, fresh=False)
    assert len(rows(tables(many))) == len(rows(tables(it))) == 60
    assert tables(replace(it, groups=())).parts == ()


def test_a_group_is_named_where_it_begins() -> None:
    for part in tables(shown(20)).parts:
        names = [one.group for one in part]
        assert names[0]
        assert all(names.count(name) == 1 for name in names if name)
        assert [one.of for one in part if one.group] == [one.group for one in part if one.group]
        assert all(one.of for one in part)


class _Found(HTMLParser):
    """Reads what a page needs to leave rows out by itself."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[tuple[str, str]] = []
        self.more = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002
        found = dict(attrs)
        if "data-rank" in found:
            self.rows.append((found["data-rank"] or "", found["data-words"] or ""))
        self.more = found.get("data-more") or self.more


def test_a_page_can_tell_what_it_leaves_out() -> None:
    """Each row has its rank and its words, and what was not sent is told with it (html.parser)."""
    it = shown(90, called=2)
    found = _Found()
    found.feed(page.parts(it))
    sent = tables(it)
    assert found.rows == [
        (str(one.rank), words.ROW[one.row.state]) for part in sent.parts for one in part
    ]
    assert page.json.loads(found.more) == words.by_words(sent.hidden)
    assert set(lines._FIRST) == set(words.ROW)
