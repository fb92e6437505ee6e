"""The record as one HTML file: parsed, nothing outside of it, and no text in it is markup."""

import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest
from report_facts import HOSTILE, damaged, golden, hostile, whole

from voicecount.report.blocks import (
    Block,
    Column,
    Facts,
    Heading,
    Notice,
    PageBreak,
    Points,
    Signatures,
    Table,
    Text,
    Title,
)
from voicecount.report.html import html
from voicecount.report.marks import visible
from voicecount.report.pages import pages

VOID = frozenset({"meta", "col", "br", "hr", "img", "input", "link"})
"""Elements without an end (HTML Living Standard, 13.1.2)."""

Attributes = dict[str, str | None]


class Reader(HTMLParser):
    """Reads a file, complains of elements that are not closed in order, and keeps the texts."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, Attributes]] = []
        self.texts: list[tuple[str, str]] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert not self._open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append((self._open[-1] if self._open else "", data))

    def of(self, tag: str) -> list[Attributes]:
        return [attributes for name, attributes in self.elements if name == tag]

    def text(self) -> str:
        return "\n".join(text for tag, text in self.texts if tag != "style")


WHOLE = html(pages(whole()))
DAMAGED = html(pages(damaged()), "us-letter")


def small(*blocks: Block) -> str:
    return html((Title("T", "k", "abcdef01", "c", "2026-01-01T00:00:00+00:00"), *blocks))


def test_it_is_html_to_a_strict_parser() -> None:
    html5lib = pytest.importorskip("html5lib")
    for text in (WHOLE, DAMAGED, *(html(pages(hostile(name))) for name in HOSTILE[:3])):
        # The HTML Living Standard's parser, as html5lib has it: any parse error raises.
        html5lib.HTMLParser(strict=True).parse(text)


def test_nothing_is_loaded_run_or_sent() -> None:
    read = Reader(WHOLE)
    tags = {tag for tag, _ in read.elements}
    assert not tags & {
        "script",
        "link",
        "img",
        "iframe",
        "object",
        "embed",
        "form",
        "base",
        "video",
    }
    for _, attributes in read.elements:
        assert not {name for name in attributes if name.startswith("on")}
        assert "src" not in attributes
        for name in ("href", "xlink:href"):
            assert (attributes.get(name) or "#").startswith("#")
    assert not re.findall(r"@import|url\((?!#)", WHOLE)
    outside = {"http://www.w3.org/1999/xlink", "http://www.w3.org/2000/svg"}
    assert set(re.findall(r"https?://[^\s\"'<>)]+", WHOLE)) <= outside  # names of forms only


def test_landmarks_headings_and_tables() -> None:
    read = Reader(WHOLE)
    assert read.of("html") == [{"lang": "en"}]
    for tag in ("header", "nav", "main", "footer", "h1", "title"):
        assert len(read.of(tag)) == 1, tag
    levels = [int(tag[1]) for tag, _ in read.elements if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after - one <= 1 for one, after in pairwise(levels))
    assert all(one.get("scope") == "col" for one in read.of("th"))
    tables = sum(isinstance(block, Table) for block in pages(whole()))
    assert len(read.of("caption")) == tables
    assert len(read.of("table")) == tables + 1  # the lines to sign
    targets = {one["href"] for one in read.of("a")}
    ids = {f"#{attributes['id']}" for _, attributes in read.elements if "id" in attributes}
    assert targets <= ids
    names = [attributes["id"] for _, attributes in read.elements if "id" in attributes]
    assert len(names) == len(set(names))


def test_the_picture_is_there_with_its_alternative() -> None:
    read = Reader(WHOLE)
    pictures = [one for one in read.of("div") if one.get("role") == "img"]
    assert len(pictures) == len(read.of("svg")) == 1
    assert "6 counts: 1, initial count" in (pictures[0]["aria-label"] or "")


def test_light_dark_and_paper() -> None:
    assert "prefers-color-scheme: dark" in WHOLE
    assert "@page { size: A4;" in WHOLE
    assert "@page { size: letter;" in DAMAGED
    assert "@media print" in WHOLE


def test_the_journal_that_does_not_verify_is_on_every_page() -> None:
    read = Reader(DAMAGED)
    strip = [n for n, (_, one) in enumerate(read.elements) if one.get("class") == "every"]
    title = [n for n, (tag, _) in enumerate(read.elements) if tag == "h1"]
    assert len(strip) == 1
    assert strip < title
    assert "≠ The journal does not verify: only the 41 records" in read.text()
    # A table's head stands on every page of a print (CSS 2.2, 17.2: table-header-group).
    assert re.search(r"@media print.*\.every \{ display: table-header-group", DAMAGED, re.DOTALL)
    assert not [one for _, one in Reader(WHOLE).elements if one.get("class") == "every"]


def test_marked_rows_say_in_words_what_differs() -> None:
    blocks = pages(whole())
    marked = [
        block.rows[row] for block in blocks if isinstance(block, Table) for row in block.marked
    ]
    assert marked
    assert WHOLE.count('<tr class="marked">') == len(marked)
    assert all(any("≠" in cell for cell in row) for row in marked)


def test_every_block() -> None:
    text = small(
        Heading("One & two"),
        Heading("Part", level=2),
        Text("a < b"),
        Points(("p", "q")),
        Notice("N", "n"),
        Facts((("Hash", "0123abcd"), ("Word", "cafe"))),
        Table("t", (Column("c", 1, number=True), Column("d", 3)), (("1", "x"),), note="the note"),
        Signatures("s", (("Scrub", "Robin"), ("", "")), (("Open", "none"),)),
        PageBreak(),
    )
    read = Reader(text)
    assert "<code>0123abcd</code>" in text
    assert "<code>cafe</code>" not in text
    assert [one["style"] for one in read.of("col")] == ["width:25.00%", "width:75.00%"]
    for shown in ("One & two", "a < b", "the note", "Scrub", "Important"):
        assert shown in read.text()
    assert 'class="page"' in text


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_text(name: str) -> None:
    text = html(pages(hostile(name)))
    read, plain = Reader(text), Reader(html(pages(hostile("plain"))))
    shown = visible(name)
    assert shown in read.text()
    drawn = {"path", "use", "g", "defs", "bdi"}
    assert [tag for tag, _ in read.elements if tag not in drawn] == [
        tag for tag, _ in plain.elements if tag not in drawn
    ]  # the same elements but for the letters that are drawn, and the names that stand apart
    assert any(shown in data for tag, data in read.texts if tag == "h1")


RIGHT_TO_LEFT = "מלחציים 12"


def test_a_sentence_keeps_its_direction_and_a_name_its_own() -> None:
    text = html(pages(hostile(RIGHT_TO_LEFT)))
    read = Reader(text)
    assert f"<bdi>{RIGHT_TO_LEFT}</bdi>, 1 too many, " in text
    for tag in ("p", "li", "h2", "h3", "caption"):
        assert not [one for one in read.of(tag) if "dir" in one], tag
    assert "bdi" not in {tag for tag, _ in Reader(html(pages(hostile("plain")))).elements}
    assert not re.search("[\u2066-\u2069]", "".join(data for _, data in read.texts))


def test_what_isolates_from_outside_is_a_mark() -> None:
    forged = f"\u2068{RIGHT_TO_LEFT}\u2069"
    text = html(pages(hostile(forged).model_copy(update={"events": ()})))
    assert f"<bdi>[U+2068]{RIGHT_TO_LEFT}[U+2069]</bdi>" in text
    assert f"<bdi>{RIGHT_TO_LEFT}</bdi>" not in text
    assert not re.search("[\u2066-\u2069]", re.sub('aria-label="[^"]*"', "", text))


def test_the_golden_case() -> None:
    read = Reader(html(pages(golden())))
    assert "Caesarean, whole case · fb9c299b" in read.text()
    assert "≠ Reconciled after a difference." in read.text()


def test_a_record_without_a_title_is_refused() -> None:
    with pytest.raises(ValueError, match="title"):
        html((Text("x"),))
