"""A whole case on the board, record by record, and every word that a board can say.

Numbers are those of a second way from the journal's lines to them (``second_fold.py``), which
shares no code with the first. That no word says that a count is right is the project's promise.
"""

import json
import re
from collections import Counter
from collections.abc import Iterator
from html import unescape
from itertools import chain, product
from pathlib import Path
from typing import Any

import html5lib
import pytest
from board_rig import WHOLE, now
from second_fold import Case, read

from voicecount.board import page, words
from voicecount.board.follow import Following, Known
from voicecount.board.view import Board, board
from voicecount.commands.journals import CODEC
from voicecount.count.discrepancy import Discrepancy
from voicecount.count.events import Difference, DiscrepancyOpened
from voicecount.keep.now import FORM, NowFile
from voicecount.testing.clock import FakeClock
from voicecount.words.places import BY_ID

FORBIDDEN = re.compile(
    r"\b(correct|safe(ly)?|ok|okay|all good|complete|completed|success(ful)?|cleared|clear|done|"
    r"right|fine|good|reconciled|verified|accurate|approved|passed|you (can|may) close|close now)"
    r"\b",
    re.IGNORECASE,
)
"""Words that would say, or could be read to say, that a count is right or that it is safe."""


@pytest.fixture(scope="module")
def records() -> list[dict[str, Any]]:
    return read(WHOLE)


@pytest.fixture(scope="module")
def walk(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Known, Board]]:
    """Give the board after every record, while an assistant is alive beside it."""
    path = tmp_path_factory.mktemp("walk") / "a.vcj"
    path.write_bytes(b"")
    file = NowFile(path)
    file.write(now(beat=0))
    clock = FakeClock()
    following = Following(path, CODEC, clock.monotonic)
    following.look()
    found = []
    for beat, one in enumerate(WHOLE.read_bytes().splitlines(keepends=True), 1):
        with path.open("ab") as journal:
            journal.write(one)
        file.write(now(beat=beat))
        clock.advance(0.4)
        following.look()
        known = following.known
        assert known.fresh
        found.append((known, board(known)))
    file.close()
    return found


def number(n: int | None) -> str:
    return "-" if n is None else str(n)


def rows(shown: Board) -> dict[str, Any]:
    return {row.item: row for group in shown.groups for row in group.rows}


def test_one_board_a_record(walk: list[tuple[Known, Board]], records: list[Any]) -> None:
    """Every record is told with its number and the first digits of its own hash."""
    lines = [json.loads(line) for line in WHOLE.read_bytes().splitlines()]
    assert len(walk) == len(records) == len(lines)
    for at, ((known, shown), raw) in enumerate(zip(walk, lines, strict=True), 1):
        assert (shown.records, shown.digits) == (at, raw["hash"][:8])
        assert shown.written == raw["wall"]
        assert (known.trouble, shown.trouble) == (None, "")


def test_places_and_sums(walk: list[tuple[Known, Board]], records: list[Any]) -> None:
    """What stands of each item of the count that is open or was the last, at every place.

    Every row that has changed is looked at, and all of them at every tenth record.
    """
    seen = Counter[str]()
    last: dict[str, Any] = {}
    for at, (_, shown) in enumerate(walk, 1):
        count = Case(records[:at]).counts[-1]
        found = {
            item: row for item, row in rows(shown).items() if at % 10 == 0 or row != last.get(item)
        }
        last = rows(shown)
        sums = count.numbers()["sums"] if count.places and found else {}
        assert shown.place_names == tuple(BY_ID[place].label for place in count.places)
        for item, one in found.items():
            if item not in count.items:
                assert (one.counted, one.places) == ("", ())
                assert one.state in {"outside", "differs"}
                continue
            stands = [count.place(item, place) for place in count.places or (None,)]
            if count.places:
                for shown_n, (n, both) in zip(one.places, stands, strict=True):
                    again = shown_n == "↻"  # stored, and no longer said by both
                    assert (n is not None and not both) if again else shown_n == number(n)
                    seen["again"] += again
                inside = sums[item]["inside"] + sums[item]["tucked"]
                total = sum(n or 0 for n, _ in stands) + inside
                both = all(both for _, both in stands)
                assert one.counted == (str(total) if both else "-")
                seen["places"] += both
            else:
                ((n, _),) = stands
                assert one.counted == ("↻" if one.state == "recount" else number(n))
                seen["lines"] += stands[0][0] is not None
            if one.state in {"confirmed", "unlike_sheet"}:
                assert all(both for _, both in stands)
            if one.state == "left":
                assert any(n is None for n, _ in stands)
    assert seen["places"] > 50
    assert seen["again"] > 5
    assert seen["lines"] > 5


def test_what_is_expected(walk: list[tuple[Known, Board]], records: list[Any]) -> None:
    """The sheet's number in the initial count; then what both gave, with what came and went."""
    seen = 0
    for at, (_, shown) in enumerate(walk, 1):
        case = Case(records[:at])
        initial = case.counts[-1].kind == "initial"
        for item, one in rows(shown).items():
            told = case.account(item, at + 1)["expected"]
            if told is None and initial:
                told = case.items[item]["expect"]
            assert one.expected == number(told), (at, item)
            seen += not initial
    assert seen > 100


def test_what_is_in_the_patient_and_what_differs(
    walk: list[tuple[Known, Board]], records: list[Any]
) -> None:
    """As many lines as there are sites with something in them, and differences that are open."""
    most = 0
    for at, (_, shown) in enumerate(walk, 1):
        case = Case(records[:at])
        inside = sorted(
            f"{n} {case.items[item]['name']}" for (item, *_), n in case.in_patient(at + 1).items()
        )
        assert sorted(line.partition(",")[0].partition(" (")[0] for line in shown.inside) == inside
        opened = case.of("discrepancy_opened", before=at + 1)
        ended = {one["discrepancy"]: one for one in case.of("discrepancy_closed", before=at + 1)}
        open_ones = [one for one in opened if one["number"] not in ended]
        names = [case.items[one["item"]]["name"] for one in open_ones]
        shown_open = [line for line in shown.differences if "not found" not in line]
        assert [
            line.partition(":")[0].removesuffix(" off the field") for line in shown_open
        ] == names
        most = max(most, len(names))
    assert most > 0


def texts(markup: str) -> str:
    """Give the words of a page, and those that are read aloud, as a browser would parse them."""
    tree = html5lib.parseFragment(markup, namespaceHTMLElements=False)
    labels = [one.get("aria-label", "") for one in tree.iter() if isinstance(one.tag, str)]
    return " ".join([*tree.itertext(), *labels])


def test_no_board_of_it_says_that_it_is_right(walk: list[tuple[Known, Board]]) -> None:
    """Neither the page nor what is read aloud, at any record; both say that two people decide."""
    for _, shown in walk:
        said = texts(page.parts(shown))
        found = FORBIDDEN.search(said)
        assert found is None, said[max(0, found.start() - 40) : found.end() + 40]
        assert "The two people decide." in said
        assert "wound exploration or imaging" in said
        message = json.loads(page.message(shown, 1.0).partition(b"\ndata: ")[2])
        assert FORBIDDEN.search(unescape(" ".join([*message["told"], message["alarm"]]))) is None


def of_lines() -> Iterator[str]:
    """Give what is said of people, places and rows."""
    for roles in (["scrub"], ["circulator", "scrub"], [None], []):
        yield words.unheard(roles)
    for place in (None, *BY_ID):
        yield words.search(place)
    for by_place, adding in product((True, False), repeat=2):
        yield words.counted(by_place=by_place, adding=adding)
    yield words.in_part(2, 4)
    yield words.unlike(4)


def vocabulary() -> Iterator[str]:
    """Give every sentence that ``words`` can make."""
    for value in vars(words).values():
        if isinstance(value, str) and value != words.__doc__:
            yield value
    yield from words.CAUTIONS
    yield from chain(*(one.values() for one in (words.HEARS, words.LINE, words.TITLES, words.ROW)))
    yield from words.STEPS.values()
    yield from chain(*words.NEXT.values())
    yield from map(words.who, ("scrub", "circulator", None, "other"))
    yield from of_lines()
    for say in (words.call, words.call_again, words.calling, words.count_together, words.then):
        yield from (say("lap sponge"), say(""))
    yield words.planned("final count")
    yield words.after("final count")
    yield words.more(dict.fromkeys(words.ROW, 2))
    for seconds in (0.0, 3.4, float("inf")):
        yield words.silent(seconds)
    yield words.late(3)
    for state in ("fine", "loud", "too_loud"):
        yield words.noise(state, 12.3)
    for on_purpose in (True, False):
        yield words.in_patient("lap sponge", 1, "upper_left", on_purpose=on_purpose)
    for differs, counted in product(Difference, (1, 2, 3)):
        opened = DiscrepancyOpened(
            at=1.0, number=1, item="lap", differs=differs, counted=counted, expected=2
        )
        one = Discrepancy(opened, 2, counted, 2)
        yield words.difference("lap sponge", one)
        yield words.not_found("lap sponge", one)
        yield words.off(one)
        yield words.of_expected(one)


def test_no_word_of_a_board_says_that_it_is_right() -> None:
    """The whole vocabulary, also what no case of a test has come to."""
    for said in vocabulary():
        assert FORBIDDEN.search(said) is None, said
    for folder in ("templates", "static"):
        for file in sorted((Path(page.HERE) / folder).iterdir()):
            if file.suffix == ".html":
                said = texts(re.sub(r"{[%{].*?[%}]}", " ", file.read_text()))
                assert FORBIDDEN.search(said) is None, file
            if file.suffix == ".js":
                for one in re.findall(r"[`\"]([^`\"]* [^`\"]*)[`\"]", file.read_text()):
                    assert FORBIDDEN.search(one) is None, one


def test_a_name_of_the_sheet_is_never_markup() -> None:
    """Texts of sheets and journals stay text (OWASP Cross Site Scripting Prevention)."""
    evil = '</bdi><script>alert(1)</script><img src=x onerror="x">\x1b[2J'
    known = Following(WHOLE, CODEC, FakeClock().monotonic)
    known.look()
    found = known.known
    assert found.ledger.opened is not None
    said = {"text": evil, "kind": "alert", "next": None, "at": 1.0, "spoken": False}
    bad = Known(found.ledger, 1, 1, "01234567", None, evil, {"form": FORM, **now(said=said)}, 1.0)
    for markup in (page.parts(board(bad)), page.page(board(bad))):
        tree = html5lib.parse(markup, namespaceHTMLElements=False)
        assert not list(tree.iter("img"))
        assert all(one.get("src") == "/static/board.js" for one in tree.iter("script"))
        assert "<script>alert" not in markup
        assert "\x1b" not in markup


def test_messages_are_one_event_each() -> None:
    """HTML Living Standard, 9.2.5: lines of fields, ended by an empty line, nothing between."""
    following = Following(WHOLE, CODEC, FakeClock().monotonic)
    following.look()
    for message, name in (
        (page.message(board(following.known), None), "board"),
        (page.still(2.5), "still"),
    ):
        text = message.decode("utf-8")
        event, data, *rest = text.split("\n")
        assert rest == ["", ""]
        assert event == f"event: {name}"
        assert "\r" not in text
        json.loads(data.removeprefix("data: "))


@pytest.mark.parametrize(
    ("text", "told"),
    [("a" * 72, "a" * 72), ("a" * 73, "a" * 71 + "…"), ("a\nb\x00\u202ec", "a b  c")],
)
def test_long_and_odd_texts(text: str, told: str) -> None:
    assert page.short(text) == told
