"""Codes as words, letters that cannot be seen, and the blocks of a record as data."""

import json
import sys
import unicodedata

import pytest
from report_facts import (
    HARMLESS,
    REASSURING,
    golden,
    hostile,
    whole,
)

from voicecount.count.case_events import CountResult, Difference, Incident, Settled, Step
from voicecount.count.flags import Flag
from voicecount.count.line_events import Entry
from voicecount.reasons import Reason
from voicecount.report import words
from voicecount.report.blocks import (
    Block,
    Column,
    PageBreak,
    Picture,
    Points,
    Table,
    Text,
    Title,
    as_data,
    title_of,
)
from voicecount.report.marks import bare, isolated, shown, unisolated, visible
from voicecount.report.printed import printed
from voicecount.sheet.plan import CountKind
from voicecount.words import choices
from voicecount.words.meaning import Form


def test_no_word_of_any_code_reassures() -> None:
    told_of = [
        *words.RESULTS.values(),
        *words.KINDS.values(),
        *words.FORMS.values(),
        *words.ENTRIES.values(),
        *words.HAPPENINGS.values(),
        *words.DIFFERENCES.values(),
        *words.STEPS.values(),
        *words.ANSWERS.values(),
        *words.SETTLED.values(),
    ]
    for text in told_of:
        assert not REASSURING.findall("" if text in HARMLESS else text.replace("passed off it", ""))


def test_every_code_has_words_of_its_own() -> None:
    for codes, known in (
        (CountResult, words.RESULTS),
        (CountKind, words.KINDS),
        (Entry, words.ENTRIES),
        (Incident, words.INCIDENTS),
        (Difference, words.DIFFERENCES),
        (Step, words.STEPS),
        (Settled, words.SETTLED),
    ):
        assert set(codes) == set(known)
    lines = [line for one in golden().counts for line in one.lines]
    assert {line.form for line in lines} <= set(words.FORMS) < set(Form)
    assert all(words.flag(flag) != words.plain(flag) for flag in Flag)
    assert all(words.why_asked(reason) != words.plain(reason) for reason in Reason)
    assert words.flag("later_flag") == "later flag"
    assert words.why_asked("later_reason") == "later reason"
    for answer in choices.IMAGE + choices.DECISION + choices.REMOVAL + choices.SITES:
        assert words.said(answer.id) == answer.phrases[0]
    assert words.said("behind_the_liver") == "behind the liver"
    assert words.place("side_table") == "side table"
    assert words.short_or_over(0) == "no difference"


def test_times() -> None:
    # Worked by hand: 3725 s are 1 h, 2 min and 5 s.
    assert words.clock(3725.9) == "1:02:05"
    assert words.clock(-1) == "0:00"
    assert words.date_and_time("2026-03-02T09:10:00+02:00") == "2026-03-02 07:10:00 UTC"


@pytest.mark.parametrize(
    ("numbers", "text"),
    [((), "–"), ((4,), "4"), ((1, 2), "1, 2"), ((1, 2, 3), "1–3"), ((1, 3, 4), "1, 3, 4")],
)
def test_numbers_as_heard(numbers: tuple[int, ...], text: str) -> None:
    assert words.run(numbers) == text


def test_what_cannot_be_seen_is_shown_as_its_number() -> None:
    # Unicode Character Database, as Python has it; Unicode Standard Annex 9 names the controls.
    for code in range(sys.maxunicode + 1):
        shown = visible(chr(code))
        categories = {unicodedata.category(one) for one in shown}
        assert shown
        assert not categories & {"Cc", "Cs", "Co", "Cn", "Zl", "Zp"}
        steering = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
        assert not {unicodedata.bidirectional(one) for one in shown} & steering
    assert visible("a\u202eb\x07\n\u200b") == "a[U+202E]b[U+0007] [U+200B]"
    assert visible("שלום é 日本 👩\u200d⚕") == "שלום é 日本 👩\u200d⚕"


def test_a_name_moves_nothing_of_its_sentence_and_nothing_from_outside_does() -> None:
    for plain in ("clamp 12", "pince à 3", "日本"):
        assert isolated(plain) == plain
    for name in ("שלום 12", "مشابك"):
        assert isolated(name) == f"\u2068{name}\u2069"
        assert shown(f"{isolated(name)}, 1 short") == f"\u2068{name}\u2069, 1 short"
        assert bare(isolated(name)) == name
    forged = "\u2068שלום\u2069"
    assert isolated(forged) == "\u2068[U+2068]שלום[U+2069]\u2069"
    assert unisolated(forged) == "[U+2068]שלום[U+2069]"
    # What ``isolated`` never makes is shown, whoever wrote it.
    never = ("\u2068abc\u2069", "\u2068שלום", "\u2067שלום\u2069", "\u2068\u202eשלום\u2069")
    for made in never:
        assert "\u2068" not in shown(made)
        assert "[U+206" in shown(made)


def test_facts_are_printed_with_names_apart() -> None:
    facts = hostile("שלום 12")
    made = printed(facts)
    apart = "\u2068שלום 12\u2069"
    assert made.title == facts.title == "שלום 12"
    assert {one.name for one in made.items} == {one.title for one in made.counts} == {apart}
    assert made.software == made.due[0] == made.team[0][1] == apart
    assert printed(whole()) == whole()
    forged = printed(hostile("\u2068שלום\u2069"))
    kept = forged.model_copy(update={"events": ()}).model_dump_json()
    assert kept.count("\u2068") == kept.count("\u2068[U+2068]שלום[U+2069]\u2069") > 0


def test_blocks_as_data() -> None:
    blocks: tuple[Block, ...] = (
        Title("T\x00", "k", "ab", "c", "2026-01-01T00:00:00+00:00"),
        Text("x"),
        Points(("y\u202e",)),
        Picture("<svg>\n</svg>", "alt", "cap"),
        Table("t", (Column("c", 2, number=True),), (("1",),), marked=(0,)),
        PageBreak(),
    )
    data = as_data(blocks)
    assert [one["block"] for one in data] == [
        *("title", "text", "points", "picture", "table", "pagebreak"),
    ]
    assert data[0]["text"] == "T[U+0000]"
    assert data[2]["texts"] == ["y[U+202E]"]
    assert data[3]["svg"] == "<svg>\n</svg>"
    assert data[4]["marked"] == [0]
    assert json.loads(json.dumps(data)) == data


def test_blocks_that_are_none() -> None:
    with pytest.raises(ValueError, match="a row has 2 cells"):
        Table("t", (Column("c"),), (("1", "2"),))
    for wrong in ((), (Text("x"),)):
        with pytest.raises(ValueError, match="the first block of a record is its title"):
            title_of(wrong)
