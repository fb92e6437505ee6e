"""The drawing of a case over time: parsed as XML, measured, and the same in words."""

import re
from datetime import datetime, timedelta
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from PIL import ImageFont
from report_facts import HOSTILE, case, count, golden, line, long_case, moment, told, whole

from voicecount.report.facts import CaseFacts, EventFacts
from voicecount.report.timeline import alternative, timeline
from voicecount.report.timeline_draw import LEFT, RIGHT, WIDTH, shapes
from voicecount.report.timeline_lanes import (
    CLOCK,
    HATCHES,
    MEANINGS,
    Lane,
    kinds,
    lanes,
)
from voicecount.report.timeline_rows import Scale, jumps, scale, ticks
from voicecount.report.timeline_text import SIZE, drawable, font, width

SVG = "{http://www.w3.org/2000/svg}"


def along(facts: CaseFacts) -> Scale:
    return scale(facts, LEFT, WIDTH - RIGHT)


def lanes_of(facts: CaseFacts) -> dict[str, Lane]:
    return {lane.title: lane for lane in lanes(facts, along(facts))}


def tree(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314 - drawn by this program


def names(svg: str) -> list[str]:
    return [one.attrib["id"] for one in tree(svg).iter() if "id" in one.attrib]


@pytest.mark.parametrize("facts", [case(), whole(), golden(), long_case(), long_case(0.1, 60)])
def test_it_is_xml_with_every_count_and_difference(facts: CaseFacts) -> None:
    svg = timeline(facts)
    assert tree(svg).tag == f"{SVG}svg"
    found = names(svg)
    assert len(found) == len(set(found))
    assert {n for n in found if n.startswith("count-")} == {
        f"count-{one.number}" for one in facts.counts
    }
    assert {n for n in found if n.startswith("difference-")} == {
        f"difference-{one.number}" for one in facts.discrepancies
    }


def test_bars_last_as_long_as_their_counts() -> None:
    facts = golden()
    root = tree(timeline(facts))
    scale_ = along(facts)
    for one in facts.counts:
        group = next(g for g in root.iter(f"{SVG}g") if g.get("id") == f"count-{one.number}")
        path = next(iter(group)).attrib["d"]
        xs = [float(x) for x in re.findall(r"[ML] (\S+) ", path)]
        assert one.finished is not None
        assert min(xs) / 72 == pytest.approx(scale_.x(one.opened.at), abs=1e-3)
        assert max(xs) / 72 == pytest.approx(scale_.x(one.finished.at), abs=1e-3)


def test_the_same_facts_give_the_same_text_without_a_date() -> None:
    assert timeline(whole()) == timeline(whole())
    svg = timeline(whole())
    assert "metadata" not in svg
    assert "matplotlib" not in svg.lower()
    assert "<!--" not in svg
    assert svg.startswith("<svg")


def test_nothing_in_it_is_loaded_or_run() -> None:
    tags = {one.tag.removeprefix(SVG) for one in tree(timeline(whole())).iter()}
    assert tags <= {"svg", "defs", "style", "g", "path", "use", "clipPath", "rect", "pattern"}
    links = re.findall(r'href="([^"]*)"', timeline(whole()))
    assert links
    assert all(link.startswith("#") for link in links)


@pytest.mark.parametrize(
    "facts", [whole(), golden(), long_case(), long_case(0.1, 60), long_case(12, 400)]
)
def test_labels_never_overlap(facts: CaseFacts) -> None:
    for lane in lanes_of(facts).values():
        for row in range(lane.rows):
            reaches = sorted(
                bar.reach(width(bar.label)) for bar in lane.bars if bar.row == row and bar.label
            )
            assert all(one[1] <= after[0] for one, after in pairwise(reaches))
            assert all(left >= 0 and right <= WIDTH for left, right in reaches)
        for row in range(lane.rows):
            marks = sorted(
                (one.text_at, one.text_at + width(one.label))
                for one in lane.marks
                if one.row == row and one.label
            )
            assert all(one[1] <= after[0] for one, after in pairwise(marks))
            assert all(left >= 0 and right <= WIDTH for left, right in marks)


def test_sixty_counts_are_numbered_and_what_has_no_room_loses_its_label() -> None:
    sixty = lanes_of(long_case())["Counts"].bars
    assert sorted(int(bar.label) for bar in sixty) == list(range(1, 61))
    many = lanes_of(long_case(12, 400))["Counts"]
    assert len(many.bars) == 400
    assert {bar.label for bar in many.bars} >= {""}
    assert many.rows <= 8
    few = lanes_of(golden())["Counts"].bars
    assert next(bar.label for bar in few) == "1 initial count"


def test_a_label_goes_where_there_is_room() -> None:
    by_name = {bar.name: bar for bar in lanes_of(golden())["Counts"].bars}
    assert by_name["count-5"].inside
    assert not by_name["count-1"].inside
    assert by_name["count-1"].text_at > by_name["count-1"].right
    last = next(bar for bar in lanes_of(whole())["Counts"].bars if bar.name == "count-6")
    assert last.text_at < last.left
    long = case(ended=moment(1, 60), counts=(count(1, 0, 60, title="t" * 200),))
    assert lanes_of(long)["Counts"].bars[0].label == f"1 {'t' * 29}…"


def test_the_axis_is_in_minutes_with_the_time_of_day() -> None:
    facts = whole()
    found = ticks(facts, along(facts))
    # Worked by hand: the case began at 07:40 UTC.
    assert [(t.minutes, t.time) for t in found][:3] == [
        ("0", "07:40"),
        ("10", "07:50"),
        ("20", "08:00"),
    ]
    assert found[-1].minutes == "90"
    short = [(t.minutes, t.time) for t in ticks(case(), along(case()))]
    assert short[:2] == [("0:00", "07:40:00"), ("0:02", "07:40:02")]
    for hours in (0.01, 0.2, 3, 12, 100, 20000):
        assert 2 <= len(ticks(case(ended=moment(2, hours * 3600)), along(whole()))) < 20
        long = case(ended=moment(2, hours * 3600))
        assert 2 <= len(ticks(long, along(long))) <= 12


def test_a_clock_that_was_set_goes_on_from_there() -> None:
    back = moment(2, 600).model_copy(update={"wall": "2026-03-02T03:00:00+00:00"})
    facts = case(
        ended=moment(3, 1200),
        events=(
            EventFacts(when=moment(1, 1), kind="case_opened", text=""),
            EventFacts(when=back, kind="journal.resumed", text=""),
        ),
    )
    found = {t.minutes: t.time for t in ticks(facts, along(facts))}
    assert (found["0"], found["10"], found["15"]) == ("07:40", "03:00", "03:05")


def jumped(facts: CaseFacts) -> CaseFacts:
    """Give a case in which the clock is set back by two hours, and later on by five."""

    def at(record: int, seconds: float, hours: int) -> EventFacts:
        when = moment(record, seconds)
        shifted = datetime.fromisoformat(when.wall) + timedelta(hours=hours)
        when = when.model_copy(update={"wall": shifted.isoformat()})
        return EventFacts(when=when, kind="line_stored", text="")

    events = (at(1, 0, 0), at(2, 600, 0), at(3, 768, -2), at(4, 900, -2), at(5, 2388, 3))
    others = tuple(one for one in facts.events if one.kind in {"stood_by", "carried_on"})
    late = tuple(at(60 + n, one.when.at, 3).when for n, one in enumerate(others))
    moved = tuple(
        one.model_copy(update={"when": when}) for one, when in zip(others, late, strict=True)
    )
    return facts.model_copy(update={"events": (*events, *moved)})


def test_where_the_time_of_day_does_not_go_on_is_told() -> None:
    facts = jumped(whole())
    found = [(one.at, round(one.by)) for one in jumps(facts)]
    assert found == [(768, -7200), (2388, 18000)]
    lane = lanes_of(facts)["Time of day"]
    assert [one.label for one in lane.marks] == ["≠ back by 2:00:00", "≠ ahead by 5:00:00"]
    assert "at 12:48 back by 2:00:00; at 39:48 ahead by 5:00:00." in alternative(facts)
    # Nobody waited while this case was written: all of it is of one second by the clock.
    marks = lanes_of(golden())["Time of day"].marks
    many = len(jumps(golden()))
    assert many > 6
    assert [one.label for one in marks] == [f"≠ {many} jumps from here on"]
    assert f"{many} times from 0:31 on." in alternative(golden())
    for steady in (whole(), case(), long_case()):
        assert "Time of day" not in lanes_of(steady)
        assert "does not go on" not in alternative(steady)


def test_every_mark_that_stands_for_several_things_is_named() -> None:
    close = ("packed", "tucked", "broken", "turned_open", "dropped", "packed")
    facts = case(
        ended=moment(9, 3600),
        happenings=(
            *(told(1000 + 20 * n, f"incident.{code}") for n, code in enumerate(close)),
            told(3590, "incident.packed"),  # at the end of the paper
            *(told(3000 + n, "people_changed", role="scrub") for n in range(3)),
        ),
    )
    found = lanes_of(facts)
    marks = found["Additions,\nincidents"].marks
    assert [one.label for one in marks[:3]] == ["left on purpose", "tucked in", "broken"]
    assert all(one.label for one in (*marks, *found["People"].marks))
    assert len({(one.row, one.x) for one in marks}) == 7
    assert marks[-1].text_at < marks[-1].x
    assert tree(timeline(facts)).tag == f"{SVG}svg"
    # Of very many at one moment some lose their labels, and none its place.
    crowd = case(
        ended=moment(9, 3600), happenings=tuple(told(5, "incident.cut") for _ in range(30))
    )
    lane = lanes_of(crowd)["Additions,\nincidents"]
    assert len(lane.marks) == 30
    assert lane.rows <= 8


@pytest.mark.parametrize(
    "facts",
    [
        case(),
        case(events=(EventFacts(when=moment(1, 0), kind="case_opened", text=""),)),
        case(counts=(count(1, 0, 0, lines=(line(1, 0),)),)),
        case(counts=(count(1, 0, None),), happenings=(told(0, "incident.dropped"),)),
    ],
)
def test_a_case_of_no_length(facts: CaseFacts) -> None:
    assert tree(timeline(facts)).tag == f"{SVG}svg"
    assert "lasted 0:00" in alternative(facts)


def test_what_was_called_as_added_within_a_count_is_an_addition() -> None:
    """It is in no count of its own, and stands only while its line does."""
    gone = line(3, 80, entry="addition", stands=False)
    lines = (line(1, 40), line(2, 60, entry="addition"), gone)
    facts = case(ended=moment(9, 300.0), counts=(count(1, 30, 300, lines=lines),))
    added = [one for one in lanes_of(facts)["Additions,\nincidents"].marks if one.kind == "added"]
    assert [one.x for one in added] == [along(facts).x(60)]


def test_what_was_open_at_the_end_reaches_the_end() -> None:
    facts = whole()
    end = along(facts).x(facts.ended.at)
    found = lanes_of(facts)
    assert next(b for b in found["Counts"].bars if b.name == "count-5").right == end
    open_ = next(b for b in found["Differences"].bars if b.name == "difference-2")
    assert open_.right == end
    assert open_.label == "≠ 2 open"
    pauses = found["Standing by"].bars
    assert [round(b.right - b.left, 3) for b in pauses] == [
        round(along(facts).x(2300) - along(facts).x(2200), 3),
        round(end - along(facts).x(5390), 3) if end - along(facts).x(5390) > 0.03 else 0.03,
    ]


def test_each_kind_can_be_told_without_colour() -> None:
    looks = {kind: tuple(map(str, shape)) for kind, shape in shapes().items()}
    assert set(looks) | set(HATCHES) == set(MEANINGS)
    assert len(set(looks.values())) == len(looks)
    assert len(set(HATCHES.values())) == len(HATCHES)
    svg = timeline(whole())
    greys = set(re.findall(r"#[0-9a-f]{6}\b", svg))
    for colour in greys:  # so near to grey that a printer in black and white loses nothing
        parts = [int(colour[n : n + 2], 16) for n in (1, 3, 5)]
        assert max(parts) - min(parts) <= 0x18, colour


def test_the_legend_has_what_is_drawn_and_nothing_else() -> None:
    drawn = kinds(list(lanes_of(whole()).values()))
    assert drawn == [kind for kind in MEANINGS if kind != CLOCK]
    assert kinds(list(lanes_of(jumped(whole())).values())) == list(MEANINGS)
    assert kinds(list(lanes_of(case()).values())) == []


def test_the_alternative_tells_the_same() -> None:
    text = alternative(whole())
    assert "6 counts: 1, initial count, from 0:30 to 5:00" in text
    assert "5, count, from 1:23:20 not finished" in text
    assert "≠ Difference 1 from 43:20 to 48:20." in text
    assert "≠ Difference 2 from 58:20 to the end, open." in text
    assert "15:00 left in the patient on purpose" in text
    assert "Stood by 3 times." in text
    assert "36:40" not in text  # told by the sentence before, not twice
    assert len(lanes_of(whole())["Additions,\nincidents"].marks) == 7
    assert "30:00 It is getting loud" in text
    assert "No count was opened." in alternative(case())
    assert "\n" not in text


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_titles_are_drawn_as_letters(name: str) -> None:
    facts = case(ended=moment(9, 600), counts=(count(1, 0, 300, title=name),))
    svg = timeline(facts)  # a letter that the font lacks would be a warning, and so a failure
    assert names(svg).count("count-1") == 1
    assert "<text" not in svg
    assert "script" not in svg


def test_letters_that_the_font_lacks_become_their_numbers() -> None:
    assert drawable("日 a\u202e") == "[U+65E5] a[U+202E]"
    assert drawable("שלום é ≠") == "שלום é ≠"
    assert width("") == 0


def test_text_is_as_wide_as_it_is_drawn() -> None:
    # Pillow with the same font file, as an outside ruler.
    ruler = ImageFont.truetype(font().get_file(), 200)
    for text in ("1 initial count", "≠ 2 open", "WWW"):
        box = ruler.getbbox(text)
        assert width(text) == pytest.approx(box[2] / 200 * SIZE / 72, rel=0.03)
