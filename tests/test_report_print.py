"""The record's HTML on paper, as a real browser prints it, read back with pypdf."""

import io
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from browser import browsing
from pypdf import PdfReader
from report_facts import damaged, golden, hostile, whole

from voicecount.report.blocks import Block, Column, Facts, Heading, Table, Text, Title
from voicecount.report.html import html
from voicecount.report.pages import pages

CAUTION = "The two people decide. This is the record of what they said, nothing more."
# A4 less 17 mm on each side, in CSS pixels of 1/96 in.
ACROSS = round((210 - 2 * 17) / 25.4 * 96)

Print = Callable[[str], list[str]]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    try:
        with browsing() as found:
            yield found
    except LookupError as missing:
        pytest.skip(str(missing))


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    page = browser.new_page(viewport={"width": ACROSS, "height": 1000})
    page.emulate_media(media="print")
    yield page
    page.close()


@pytest.fixture
def printed(page: Any) -> Print:
    """Print a file; give the text of each page on one line."""

    def on_paper(text: str) -> list[str]:
        page.set_content(text)
        reader = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
        return [re.sub(r"\s+", " ", one.extract_text()) for one in reader.pages]

    return on_paper


def small(*blocks: Block) -> str:
    return html((Title("Small", "k", "abcdef01", "c", "2026-01-01T00:00:00+00:00"), *blocks))


def test_every_page_has_its_number_the_digits_and_the_caution(printed: Print) -> None:
    every = printed(html(pages(golden())))
    assert len(every) > 5
    for number, text in enumerate(every, start=1):
        assert f"page {number} of {len(every)}" in text
        assert "Head of the record fb9c299b" in text
        assert "Caesarean, whole case" in text
        assert CAUTION in text


def test_the_journal_that_does_not_verify_is_on_every_page(printed: Print) -> None:
    every = printed(html(pages(damaged())))
    assert len(every) > 5
    assert all("The journal does not verify: only the 41 records" in text for text in every)
    assert all(CAUTION in text for text in every)


@pytest.mark.parametrize("name", ["w" * 80, "ward_" * 30, "x" * 2000])
@pytest.mark.parametrize("facts", [hostile, lambda name: damaged(title=name)])
def test_no_word_is_so_long_that_columns_leave_the_paper(
    page: Any, facts: Callable[[str], Any], name: str
) -> None:
    page.set_content(html(pages(facts(name))))
    across = "Math.max(...[...document.querySelectorAll('*')].map((one) => one.scrollWidth))"
    assert page.evaluate("document.documentElement.scrollWidth") <= ACROSS
    # Also nothing is cut off within what holds it; the sign line reaches out on both sides.
    assert page.evaluate(across) <= ACROSS + 28


@pytest.mark.parametrize("title", ['</style><b>"', "a\\b { } ; @page", "“é” ≠ שלום", "t" * 500])
def test_a_title_in_the_margin_is_text(printed: Print, title: str) -> None:
    every = printed(html(pages(whole(title=title))))
    margin = re.sub(r"\s", "", every[3].partition("Head of the record")[0])
    if "ש" not in title:  # pypdf gives such letters in the order of the page
        assert re.sub(r"\s", "", title)[:40] in margin
        assert margin.startswith("CaseK2041,Theatre4·")
    assert ("…" in margin) == (len(title) > 70)


@pytest.mark.parametrize("lines", range(20, 32, 3))
@pytest.mark.parametrize("level", [1, 2])
def test_what_leads_to_a_table_stays_with_it_and_no_row_is_alone(
    printed: Print, level: int, lines: int
) -> None:
    rows = tuple((f"row {n} of it", str(n)) for n in range(20))
    table = Table("A table", (Column("What"), Column("Number", number=True)), rows, note="Noted.")
    facts = Facts((("label", "value"), ("last", "fact")))
    led = (Heading("A"), Heading("Led", level=level), facts, table)
    every = printed(small(*(Text("More."),) * lines, *led))
    first = next(text for text in every if "Led" in text)
    for part in ("label", "last", "A table", "row 0 of it", "row 1 of it"):
        assert part in first
    final = next(text for text in every if "row 19 of it" in text)
    assert "row 18 of it" in final
    assert "Noted." in final
