"""The pictures of many records: what is drawn, that it is the same twice, and the same in words."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from many_facts import case, cases, count, difference

from voicecount.report import plots
from voicecount.report.facts import CaseFacts
from voicecount.report.many import Summary
from voicecount.report.many_figures import Times
from voicecount.report.plots import HATCHES, Plot

SVG = "{http://www.w3.org/2000/svg}"
LINK = "{http://www.w3.org/1999/xlink}href"
ALL: list[Callable[[Summary], Plot]] = [plots.differences, plots.times, plots.interruptions]


def _full() -> Summary:
    return Summary.of(
        case(
            f"{n}.vcj",
            counts=(
                count(1, lasted=200.0 + n, interruptions=n % 2),
                count(2, "closing", lasted=100.0 + 7 * n, result="agrees"),
                *((count(3, "asked", lasted=40),) if n == 0 else ()),
            ),
            discrepancies=(
                difference(1, "needle", count=2),
                difference(2, "lap", differs="place", count=2),
                *((difference(3, "clamp", differs="piece", count=2),) if n < 2 else ()),
            ),
        )
        for n in range(6)
    )


def _rings(svg: str) -> int:
    """Count the white rings that are drawn, each one a finished count."""
    root = ET.fromstring(svg)  # noqa: S314 - made by the program under test
    uses = [one for one in root.iter(f"{SVG}use") if "fill: #ffffff" in one.get("style", "")]
    return len(uses)


@pytest.mark.parametrize("draw", ALL)
@pytest.mark.parametrize("found", [[], [case("a")], [case("b", counts=(count(),))]])
def test_nothing_and_one_can_be_drawn(
    draw: Callable[[Summary], Plot], found: list[CaseFacts]
) -> None:
    plot = draw(Summary.of(found))
    ET.fromstring(plot.svg)  # noqa: S314
    assert plot.alternative.endswith(".")


@pytest.mark.parametrize("draw", ALL)
def test_the_same_figures_give_the_same_bytes(draw: Callable[[Summary], Plot]) -> None:
    assert draw(_full()) == draw(_full())


@pytest.mark.parametrize("draw", ALL)
def test_it_can_stand_in_a_page(draw: Callable[[Summary], Plot]) -> None:
    """No file head, style sheet, metadata, comment, nothing fetched; every name is there once."""
    svg = draw(_full()).svg
    assert svg.startswith("<svg ")
    assert svg.endswith("</svg>")
    assert not re.search(r"<style|<metadata|<!--|<script|<image|<text|<!DOCTYPE|\bdate\b", svg)
    addresses = set(re.findall(r"https?://[^\"']+", svg))
    assert addresses == {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    root = ET.fromstring(svg)  # noqa: S314
    names = [one.get("id") for one in root.iter() if one.get("id")]
    assert len(names) == len(set(names))
    wanted = {one.get(LINK, "").removeprefix("#") for one in root.iter(f"{SVG}use")}
    wanted |= set(re.findall(r"url\(#([^)]+)\)", svg))
    assert wanted <= set(names)


def test_no_two_pictures_share_a_name() -> None:
    names = [re.findall(r'\bid="([^"]+)"', draw(_full()).svg) for draw in ALL]
    assert len(set().union(*names)) == sum(map(len, names))


def test_every_finished_count_is_a_ring() -> None:
    assert _rings(plots.times(_full()).svg) == 13


@given(cases(most=4))
@settings(max_examples=6, deadline=None)
def test_whatever_came_is_drawn(found: list[CaseFacts]) -> None:
    summary = Summary.of(found)
    assert _rings(plots.times(summary).svg) == summary.all_counts.times.n
    for draw in ALL:
        ET.fromstring(draw(summary).svg)  # noqa: S314


def test_too_many_counts_are_a_box_only(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plots, "MOST_POINTS", 5)
    assert _rings(plots.times(_full()).svg) == 1  # 6, 6 and 1


def test_a_time_far_beyond_the_others_leaves_them_room() -> None:
    """Rings of usual times stay apart although one count was left open for a night."""
    lasted = [60, 90, 120, 150, 180, 40_000]
    counts = tuple(count(n, lasted=float(one)) for n, one in enumerate(lasted, 1))
    svg = plots.times(Summary.of([case(counts=counts)])).svg
    root = ET.fromstring(svg)  # noqa: S314
    at = sorted(
        float(one.get("x", "0"))
        for one in root.iter(f"{SVG}use")
        if "fill: #ffffff" in one.get("style", "")
    )
    assert len(at) == 6
    assert at[4] - at[0] > 20  # points of 489; on an even scale it would be 1


def test_what_differed_is_told_by_hatches() -> None:
    """Three kinds of difference: one plain, two hatched, each hatch another; all shades grey."""
    svg = plots.differences(_full()).svg
    root = ET.fromstring(svg)  # noqa: S314
    hatches = {
        "".join(ET.tostring(path, encoding="unicode") for path in pattern.iter(f"{SVG}path"))
        for pattern in root.iter(f"{SVG}pattern")
    }
    assert len(hatches) == 2
    assert len(set(HATCHES)) == len(HATCHES)


@pytest.mark.parametrize("draw", ALL)
def test_no_meaning_is_in_a_colour(draw: Callable[[Summary], Plot]) -> None:
    for shade in set(re.findall(r"#([0-9a-f]{6})\b", draw(_full()).svg)):
        parts = [int(shade[at : at + 2], 16) for at in (0, 2, 4)]
        assert max(parts) - min(parts) <= 0x1A, shade  # near enough to grey for any eye


def test_differences_in_words() -> None:
    assert plots.differences(_full()).alternative == (
        "14 differences in 6 cases, by group of items: "
        "sponges 6 (fewer counted off the field than were passed off it); "
        "sharps 6 (the item over all places); miscellaneous none; "
        "instruments 2 (pieces of one item)."
    )


def test_times_in_words() -> None:
    told = plots.times(_full()).alternative
    assert "initial: n = 6: median 3 min 22 s, middle half 3 min 21 s to 3 min 24 s" in told
    assert "asked for: n = 1: 40 s." in told
    assert plots.times_in_words(Times()) == "none"


def test_interruptions_in_words() -> None:
    told = plots.interruptions(_full()).alternative
    assert "initial: 3 of 6 (50.0 %, 95 % interval 18.8 to 81.2 %)" in told
    assert "asked for: 0 of 1." in told


def test_a_small_part_of_a_long_bar_has_no_room_for_its_number() -> None:
    many = tuple(difference(n, "lap") for n in range(1, 100))
    summary = Summary.of([case(discrepancies=(*many, difference(100, "lap", differs="piece")))])
    told = plots.differences(summary).alternative
    assert "99 (the item over all places), 1 (pieces of one item)" in told


def test_a_group_in_letters_that_cannot_be_drawn_is_marked() -> None:
    """A journal may hold any group; letters that the font lacks would otherwise warn or vanish."""
    facts = case(discrepancies=(difference(item="x"),))
    items = (facts.items[0].model_copy(update={"id": "x", "group": "\u4e2d<b>"}),)
    summary = Summary.of([facts.model_copy(update={"items": items})])
    plot = plots.differences(summary)
    ET.fromstring(plot.svg)  # noqa: S314
    assert "<b>" not in plot.svg
    assert "\u4e2d<b> 1" in plot.alternative
