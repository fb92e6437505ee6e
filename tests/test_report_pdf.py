"""The record as a PDF, read back with pypdf, which had no part in writing it."""

import io
import random
import re
from collections.abc import Callable
from typing import Any

import pytest
import typst
from pypdf import PdfReader
from report_facts import HOSTILE, case, count, damaged, golden, hostile, line, moment, whole

from voicecount.report import pdf_letters
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
from voicecount.report.marks import isolated, visible
from voicecount.report.pages import pages
from voicecount.report.pdf import Paper, pdf
from voicecount.report.pdf_letters import Letters

# ISO 216: A4 is 210 mm by 297 mm. ANSI/ASME Y14.1: size A, letter, is 8.5 in by 11 in.
# A point of PDF is 1/72 in (ISO 32000-1, 8.3.2.3).
SIZES = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "us-letter": (8.5 * 72, 11 * 72)}

CAUTION = "The two people decide. This is the record of what they said, nothing more."


def read(data: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(data), strict=True)


def texts(reader: PdfReader) -> list[str]:
    """Give the text of each page, on one line."""
    return [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]


def heights(reader: PdfReader) -> list[list[tuple[float, str]]]:
    """Give the texts of each page with their height above its lower edge, in points."""
    found: list[list[tuple[float, str]]] = []
    for page in reader.pages:
        there: list[tuple[float, str]] = []

        def keep(text: str, of_page: Any, of_text: Any, *_: Any, into: Any = there) -> None:
            if text.strip():
                into.append((of_text[4] * of_page[1] + of_text[5] * of_page[3] + of_page[5], text))

        page.extract_text(visitor_text=keep)
        found.append(there)
    return found


def small(*blocks: Block, title: str = "Small") -> bytes:
    return pdf((Title(title, "kind", "abcdef01", "c", "2026-01-02T23:30:00-05:00"), *blocks))


@pytest.fixture(scope="module", name="whole_case")
def _whole_case() -> PdfReader:
    return read(pdf(pages(golden())))


@pytest.fixture(scope="module")
def spoiled() -> PdfReader:
    return read(pdf(pages(damaged()), "us-letter"))


@pytest.mark.parametrize(("paper", "size"), SIZES.items())
def test_every_page_has_the_size_of_its_paper(paper: Paper, size: tuple[float, float]) -> None:
    for page in read(pdf(pages(whole()), paper)).pages:
        box = page.mediabox
        assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.5)


def test_header_and_footer_are_on_every_page(whole_case: PdfReader) -> None:
    every = texts(whole_case)
    assert len(every) > 5
    for number, text in enumerate(every, start=1):
        assert "Caesarean, whole case" in text
        assert "head of the record fb9c299b" in text
        assert CAUTION in text
        assert f"page {number} of {len(every)}" in text
        assert "does not verify" not in text


def test_the_journal_that_does_not_verify_is_on_every_page(spoiled: PdfReader) -> None:
    every = texts(spoiled)
    assert len(every) > 5
    for text in every:
        assert "≠ The journal does not verify: only the 41 records before the damage" in text
    assert "line 42: its content does not fit its hash" in every[0]


def test_the_whole_record_is_in_it(whole_case: PdfReader) -> None:
    text = " ".join(texts(whole_case))
    for part in (
        "What this record is",
        "Every line has the number expected.",
        "≠ Reconciled after a difference.",
        "foxtrot bravo nine charlie two nine nine bravo",
        "fb9c299b23bdbf0b0500fa0f5f1cbaa7b9fe17a7d2277d88107e0c95d0887074",
        "Signature",
    ):
        assert part in text
    facts = golden()
    for one in facts.events:
        assert re.sub(r"\s+", " ", one.text) in text


def test_the_head_of_a_table_is_on_each_of_its_pages(whole_case: PdfReader) -> None:
    with_rows = [
        text for text in texts(whole_case) if re.search(r"\d\d:\d\d:\d\d \d:\d\d Line", text)
    ]
    assert len(with_rows) >= 3
    assert all("What the record says" in text for text in with_rows)


@pytest.mark.parametrize(
    ("paper", "headings", "lines"),
    [("a4", 2, 26), ("a4", 3, 24), ("us-letter", 0, 27), ("us-letter", 1, 25)],
)
def test_a_short_table_keeps_its_note(paper: Paper, headings: int, lines: int) -> None:
    """Where a page ends just below a table, what explains the table is not left to the next page.

    With so much above it the table alone would fit on its page, and its note would not.
    """
    rows = tuple((f"row {n}", str(n)) for n in range(12))
    columns = (Column("What"), Column("Number", number=True))
    table = Table("A short table", columns, rows, note="What the numbers are.")
    title = Title("Small", "kind", "abcdef01", "c", "2026-01-02T23:30:00-05:00")
    above = (*(Heading("Part"),) * headings, *(Text("More."),) * lines)
    made = pdf((title, *above, table), paper)
    found = [text for text in texts(read(made)) if "row 11" in text or "What the" in text]

    assert len(found) == 1
    assert "A short table" in found[0]


def test_language_title_and_standards(whole_case: PdfReader) -> None:
    root: Any = whole_case.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/MarkInfo"]["/Marked"] is not None
    assert bool(root["/MarkInfo"]["/Marked"])
    assert bool(root["/ViewerPreferences"]["/DisplayDocTitle"])  # ISO 14289-1, 7.1
    assert whole_case.metadata is not None
    assert whole_case.metadata.title == "Caesarean, whole case"
    said = root["/Metadata"].get_data().decode()
    # ISO 19005-2, 6.6.4, and ISO 14289-1, 5: how a file says what it follows.
    assert "<pdfaid:part>2</pdfaid:part>" in said
    assert "<pdfaid:conformance>A</pdfaid:conformance>" in said
    assert "<pdfuaid:part>1</pdfuaid:part>" in said
    outline = [one.title for one in whole_case.outline if not isinstance(one, list)]
    assert outline[0].endswith("What this record is")
    assert outline[-1].endswith("Signatures")


def test_structure_is_tagged(whole_case: PdfReader) -> None:
    found: list[str] = []
    alternatives: list[str] = []

    def walk(node: Any) -> None:
        node = node.get_object()
        if isinstance(node, list):
            for one in node:
                walk(one)
        elif isinstance(node, dict):
            if "/S" in node:
                found.append(str(node["/S"]))
            if "/Alt" in node:
                alternatives.append(str(node["/Alt"]))
            if "/K" in node and not isinstance(node["/K"], int):
                walk(node["/K"])

    root: Any = whole_case.trailer["/Root"]
    walk(root["/StructTreeRoot"]["/K"])
    # Standard structure types (ISO 32000-1, 14.8.4).
    assert {"/H1", "/H2", "/P", "/Table", "/THead", "/TH", "/TR", "/TD", "/Figure"} <= set(found)
    assert found.count("/Figure") == 1
    assert any("6 counts: 1, initial count" in one for one in alternatives)


def test_all_fonts_are_embedded(whole_case: PdfReader) -> None:
    fonts: dict[str, bool] = {}
    for page in whole_case.pages:
        resources: Any = page["/Resources"]
        for font in resources["/Font"].values():
            one = font.get_object()
            base = one["/DescendantFonts"][0].get_object() if "/DescendantFonts" in one else one
            described = base["/FontDescriptor"].get_object()
            fonts[str(one["/BaseFont"])] = any(
                name in described for name in ("/FontFile", "/FontFile2", "/FontFile3")
            )
    assert fonts
    assert all(fonts.values())
    # Its own fonts suffice, so the file is the same on every machine.
    assert all(re.search(r"Libertinus|NewCM|DejaVuSansMono", name) for name in fonts)


def test_the_same_record_gives_the_same_bytes() -> None:
    blocks = pages(whole())
    assert pdf(blocks) == pdf(blocks)


def test_the_date_is_when_the_record_was_made() -> None:
    made = read(small()).metadata
    assert made is not None
    assert made.creation_date is not None
    assert f"{made.creation_date:%Y-%m-%d}" == "2026-01-03"  # in UTC; worked by hand


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_letters(name: str) -> None:
    reader = read(pdf(pages(hostile(name))))
    shown = Letters.of(name).shown(visible(name))
    squeezed = re.sub(r"\s", "", "".join(texts(reader)))
    letters = re.sub(r"\s", "", shown)
    if re.search(r"[\u0590-\u06ff]", name):  # read from the right: pypdf gives words in turn
        assert all(word in squeezed for word in shown.split())
    else:
        assert letters in squeezed
    assert reader.metadata is not None
    assert reader.metadata.title == shown


def test_long_words_break_inside_their_place() -> None:
    columns = (Column("first", 1), Column("second", 1))
    table = Table("t", columns, (("x" * 200, "short"),))
    reader = read(small(table, Text("w" * 300), title="t" * 200))
    text = "\n".join(page.extract_text() for page in reader.pages)
    # A line of the page is 172 mm or 488 pt long. Letters at least 2.5 pt wide at 8 pt, half of it
    # for each column, and more at 10 and at 24 pt: so many fit at most (worked by hand).
    assert 0 < max(map(len, re.findall("x+", text))) < 100
    assert 0 < max(map(len, re.findall("w+", text))) < 100
    header, *title = sorted((len(run) for run in re.findall("t+", text)), reverse=True)
    # 8 pt: the line has room for at most 488 pt less the digits and what they are called
    assert 100 < header < 200
    assert re.search("t{100,}…", text)  # the cut is seen
    assert max(title) < 100
    assert sum(one for one in title if one > 1) == 200


def test_a_long_name_can_be_looked_for_and_copied() -> None:
    name = "recording_of_theatre_four_2026_11_26.vcj"  # 40 letters: it fits its line
    part = "an_archive_of_many_cases/"
    text = "\n".join(
        page.extract_text()
        for page in read(small(Facts((("Journal", name), ("All", part * 9))))).pages
    )
    assert name in text
    assert "\u200b" not in text
    # What is wider than its line breaks after a sign, so that its words can be found.
    assert text.count("archive_") == text.count("cases/") == 9


@pytest.mark.parametrize("share", [1, 0.5])
def test_no_row_is_lost_below_its_page(share: float) -> None:
    columns = (Column("Item", share), Column("Much", 9), Column("Wide", 9))
    # 1000 letters, one below the other as far as they go, fill more than a page.
    rows = tuple((letter * 1000, "short", "short") for letter in "ij")
    notice, heading = ("x" * 6000, "y" * 2500)
    reader = read(small(Table("Rows", columns, rows), Notice("N", notice), Heading(heading)))
    foot = 20 / 25.4 * 72  # the lower margin, 20 mm
    every = heights(reader)
    for page in every:
        assert all(at > foot or not re.fullmatch(r"[ijxy]+", text.strip()) for at, text in page)
    whole_text = "".join(page.extract_text() for page in reader.pages)
    for letter, times in (("i", 1000), ("j", 1000), ("x", 6000), ("y", 2500)):
        runs = re.findall(rf"(?m)^{letter}+|{letter}{{2,}}", whole_text)
        assert sum(map(len, runs)) >= times, letter


@pytest.mark.parametrize("lines", range(18, 34, 3))
def test_what_leads_to_a_table_is_not_left_on_the_page_before(lines: int) -> None:
    columns = (Column("What"), Column("Number", number=True))
    rows = tuple((f"row {n}", str(n)) for n in range(40))
    table = Table("A table", columns, rows, note="Its note.")
    for level in (1, 2):
        led = (Heading("A"), Heading("Led", level=level), Facts((("label", "value"),)), table)
        every = texts(read(small(*(Text("More."),) * lines, *led)))
        page = next(text for text in every if "Led" in text)
        assert all(part in page for part in ("label value", "A table", "Its note.", "row 1 "))


@pytest.mark.parametrize("lines", range(18, 34, 3))
def test_a_table_begins_where_there_is_room(lines: int) -> None:
    columns = (Column("What"), Column("Number", number=True))
    rows = tuple((f"row {n}", str(n)) for n in range(30))
    led = (Heading("Led"), Facts((("label", "value"),)), Table("A table", columns, rows))
    first = heights(read(small(*(Text("More."),) * lines, *led)))[0]
    lowest = min(at for at, text in first if text.strip() != "c" and "page" not in text)
    # Heading 15 mm, facts 13 mm, head of the table and three rows 24 mm: where these do not fit,
    # that much stays empty, and the lower margin of 20 mm.
    assert lowest < (20 + 15 + 13 + 24) / 25.4 * 72


def test_times_stay_on_one_line() -> None:
    lines = (line(1, 3652, place="off_field"), line(2, 3700, place="mayo"))
    counts = (count(1, 3600, 36000, lines=lines, places=("off_field", "mayo")),)
    text = "\n".join(
        page.extract_text(extraction_mode="layout")
        for page in read(pdf(pages(case(ended=moment(9, 36000), counts=counts)), "us-letter")).pages
    )
    assert re.search(r"1:00:52 scrub +1:00:53 circulator", text)
    assert re.search(r"08:40:00 \(1:00:00\) +17:40:00 \(10:00:00\)", text)


def test_a_name_from_the_right_moves_no_number() -> None:
    name = isolated("מלחציים 12")
    text = texts(read(small(Text(f"{name}, 1 short, count 5."), Points((f"{name} {name}, 3",)))))[0]
    assert ", 1 short, count 5." in text
    assert ", 3" in text
    assert not re.search("[\u2066-\u2069]", text)  # it is in no text that is copied
    assert ", 1 short" not in texts(read(small(Text("מלחציים 12, 1 short"))))[0]


def test_letters_of_other_scripts_do_not_vanish() -> None:
    text = "".join(texts(read(small(Facts((("Hebrew", "שלום"), ("Arabic", "مرحبا")))))))
    assert "שלום" in text
    assert "مرحبا" in text


def only_own(real: Callable[..., Any]) -> Callable[..., Any]:
    """Give a typesetter on a machine that has no fonts."""

    def make(*args: Any, **options: Any) -> Any:
        return real(*args, **{**options, "ignore_system_fonts": True})

    return make


def test_a_letter_that_no_font_has_is_written_as_its_number(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(pdf_letters.typst, "Compiler", only_own(typst.Compiler))
    found = Letters.of({"texts": ["日本 clamp", "plain", 3, None]})
    assert found.lacking == {"日", "本"}
    assert not found.machine
    assert found.shown({"texts": ["日本 clamp", 3]}) == {"texts": ["[U+65E5][U+672C] clamp", 3]}
    # Within a joined sign the typesetter would drop it without a word.
    joined = "\U0001f469\u200d\u2695"
    assert "[U+1F469]" in Letters.of(joined).shown(joined)
    text = "".join(texts(read(small(Text("日本 clamp")))))
    assert "[U+65E5][U+672C] clamp" in text


def test_a_letter_that_only_the_machine_has_is_taken_from_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real = pdf_letters._complaint

    def with_one_more(some: list[str], *, machine: bool) -> str:
        """A machine that has one letter more: the second of these two."""
        return real([one for one in some if not (machine and one == "本")], machine=machine)

    monkeypatch.setattr(pdf_letters.typst, "Compiler", only_own(typst.Compiler))
    monkeypatch.setattr(pdf_letters, "_complaint", with_one_more)
    monkeypatch.setattr(pdf_letters, "_unset", lambda *_, **__: iter(()))
    found = Letters.of("日本")
    assert found == Letters(machine=True, lacking=frozenset({"日"}))


def test_a_word_that_cannot_be_set_is_written_as_its_numbers() -> None:
    odd = "]\u032b\u20dd\u0306\u0e31"
    words = ["fine", "é", odd]
    found = Letters.of(words)
    shown = [found.shown(word) for word in words]
    assert shown[:2] == ["fine", "é"]
    assert pdf_letters._complaint(shown, machine=found.machine) == ""
    assert "]" in shown[2]
    small(*(Text(word) for word in words))


def test_whatever_the_letters_a_file_is_written() -> None:
    # Random letters over many scripts, from a fixed start.
    dice = random.Random(7)  # noqa: S311
    ranges = ((0x20, 0x250), (0x300, 0x370), (0x900, 0xE80), (0x2000, 0x2070), (0x1F300, 0x1FAFF))
    for _ in range(3):
        some = [
            "".join(chr(dice.randrange(*dice.choice(ranges))) for _ in range(dice.randrange(1, 9)))
            for _ in range(30)
        ]
        blocks = (*(Text(one) for one in some), Heading(some[0]), Points(tuple(some)))
        assert read(small(*blocks, title=some[1])).pages


def test_every_block() -> None:
    rows = tuple((str(n), f"row {n}") for n in range(60))
    long = ("1", "word " * 2500)
    columns = (Column("c", 1, number=True), Column("d", 6))
    reader = read(
        small(
            Heading("Head"),
            Heading("Part", level=2),
            Text("text"),
            Points(("one", "two")),
            Notice("Look", "here"),
            Notice("Still", "there", every_page="first line"),
            Notice("Too", "there", every_page="second line"),
            Facts((("label", "value"),)),
            Table("Short", columns, (("7", "x"),), note="its note"),
            Table("Long", columns, rows, marked=(1,)),
            Table("Longer than a page", columns, (long,)),
            PageBreak(),
            Signatures("Sign", (("Scrub", "Robin"), ("", "")), (("Open", "none"),)),
            Facts((("last", "fact"),)),
        )
    )
    every = texts(reader)
    whole_text = " ".join(every)
    for part in ("Part", "Important", "its note", "row 59", "Date and time", "value", "fact"):
        assert part.lower() in whole_text.lower()
    assert whole_text.count("word") == 2500
    for text in every:
        assert "≠ first line" in text
        assert "≠ second line" in text


def test_an_empty_record_of_a_title_is_one_page() -> None:
    assert len(read(small()).pages) == 1


def test_a_record_without_a_title_is_refused() -> None:
    with pytest.raises(ValueError, match="title"):
        pdf((Text("x"),))
