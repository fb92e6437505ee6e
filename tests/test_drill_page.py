"""The page of an attempt: it tells what was judged and nothing else, and every text is only text.

Outside: the HTML Living Standard's parser as html5lib has it; Content Security Policy Level 3 for
the hashes, computed here anew; Media Fragments URI 1.0 for addresses of moments; SVG 2.
"""

import base64
import hashlib
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from drill_attempts_made import called, faulty, given, nothing, write_sound
from test_report_html import Reader

from voicecount.drill.attempt import Attempt
from voicecount.drill.judgement import Fault, Finding, Judgement
from voicecount.drill.model import Criterion
from voicecount.drill.page import attempt_page
from voicecount.drill.past import Past
from voicecount.drill.strip_layout import cut, fitting, free, in_order, rows, slots
from voicecount.drill.strips import strips
from voicecount.drill.svg import shape
from voicecount.drill.view import MARKERS, ROWS, letters, view
from voicecount.drill.waveform import STEP, Envelope, envelope
from voicecount.drill.wording import told
from voicecount.errors import RecordingError
from voicecount.report.marks import visible
from voicecount.show.console import clock_time

MADE = "2026-11-26T18:50:00+00:00"
LOADED = given()
HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(2)>',
    "{{7*7}}",
    "a" * 200,
    "\N{RIGHT-TO-LEFT OVERRIDE}egnops pal",
    "\N{HEBREW LETTER ALEF}\N{HEBREW LETTER BET} 12",
    "\N{SYRINGE}" * 60,
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("attempt")
    write_sound(made / "sound.wav", faulty(LOADED)[1])
    return made


def page(
    judged: tuple[Judgement, Attempt], sound: Path | None = None, before: tuple[Past, ...] = ()
) -> str:
    return attempt_page(*judged, LOADED, student="k7", made=MADE, sound=sound, before=before)


@pytest.fixture(scope="module")
def whole(folder: Path) -> str:
    """Give the page of the attempt with faults, and its recording."""
    return page(faulty(LOADED), folder / "sound.wav")


def words(text: str) -> str:
    """Give what can be read, in one line."""
    return " ".join(Reader(text).text().split())


def test_every_finding_stands_there_with_its_moment_sentence_and_row(whole: str) -> None:
    judgement, attempt = faulty(LOADED)
    text = whole
    for letter, one in zip("ABCDEFG", judgement.findings, strict=True):
        part = re.search(rf'<li id="finding-{letter}">.*?</li>', text, re.DOTALL)
        assert part is not None
        read = words(part[0])
        assert clock_time(one.start) in read
        assert " ".join(visible(told(one, LOADED.drill, LOADED.sheet)).split()) in read
        assert ROWS[one.criterion] in read
        button = re.search(r'data-from="([\d.]+)" data-to="([\d.]+)"', part[0])
        assert button is not None
        assert float(button[1]) == pytest.approx(max(0.0, one.start - 0.5), abs=0.001)
        assert float(button[2]) == pytest.approx(min(attempt.seconds, one.end + 0.5), abs=0.001)
    assert 'id="finding-H"' not in text


def test_rows_and_steps_say_what_was_judged(whole: str) -> None:
    judgement, _ = faulty(LOADED)
    text = whole
    tables = re.findall(r"<tbody>(.*?)</tbody>", text, re.DOTALL)
    for mark, row in zip(judgement.marks, tables[0].split("</tr>"), strict=False):
        read = words(row + "</tr>")
        assert ROWS[mark.criterion] in read
        if mark.share is None:
            assert "nothing to judge" in read
        else:
            assert f"{mark.right} of {mark.of}" in read
            assert f"{100 * mark.share:.0f} %" in read
            assert f'width="{100 * mark.share:.1f}"' in row
    steps = tables[1].split("</tr>")
    for step, row in zip(judgement.steps, steps, strict=False):
        assert words(row + "</tr>").count("not held against you") == (step.result == "not_heard")
        if step.numbers:
            assert " ".join(str(one.value) for one in step.numbers) in words(row + "</tr>")
    assert f"{100 * (judgement.score or 0):.0f} %" in words(text)


def test_what_was_not_heard_stands_apart(whole: str) -> None:
    text = whole
    apart = re.search(r'<section class="quietly".*?</section>', text, re.DOTALL)
    assert apart is not None
    assert "Not heard: not held against you" in words(apart[0])
    assert "too weak to store" in words(apart[0])
    assert "Not heard: not held against you" not in page(called(LOADED))


def test_it_is_html_to_a_strict_parser(whole: str) -> None:
    html5lib = pytest.importorskip("html5lib")
    for text in (whole, page(nothing(LOADED))):
        html5lib.HTMLParser(strict=True).parse(text)


def test_nothing_is_asked_of_anybody_and_only_our_script_runs(whole: str) -> None:
    text = whole
    read = Reader(text)
    assert not {"link", "img", "iframe", "object", "embed", "form"} & {
        tag for tag, _ in read.elements
    }
    for tag, attributes in read.elements:
        assert not {name for name in attributes if name.startswith("on")}
        assert "style" not in attributes
        if tag != "audio":
            assert "src" not in attributes
    assert [one["src"] for one in read.of("audio")] == ["./sound.wav"]
    assert not re.findall(r"@import|url\((?!#)", text)
    outside = {"http://www.w3.org/1999/xlink", "http://www.w3.org/2000/svg"}
    assert set(re.findall(r"https?://[^\s\"'<>)]+", text)) <= outside
    policy = next(
        one["content"]
        for one in read.of("meta")
        if one.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy is not None
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    for tag, directive in (("style", "style-src"), ("script", "script-src")):
        body = re.search(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
        assert body is not None
        made = base64.b64encode(hashlib.sha256(body[1].encode()).digest()).decode()
        assert f"{directive} 'sha256-{made}'" in policy


def test_without_a_recording_there_is_no_script_and_no_button(tmp_path: Path) -> None:
    broken = tmp_path / "sound.flac"
    broken.write_bytes(b"no sound at all")
    for sound, why in ((None, "not kept"), (broken, "cannot be read"), (tmp_path / "x", "no such")):
        text = page(faulty(LOADED), sound)
        assert why in words(text)
        assert "script-src &#39;none&#39;" in text
        assert not {"script", "audio", "button"} & {tag for tag, _ in Reader(text).elements}


def test_moments_can_be_followed_without_a_script(whole: str) -> None:
    """Media Fragments URI 1.0, 4.2.1: ``t=begin,end`` in seconds."""
    text = whole
    links = re.findall(r'<noscript><a href="(.*?)"', text)
    assert len(links) == text.count('<button type="button" class="play" hidden')
    assert all(re.fullmatch(r"\./sound\.wav#t=\d+\.\d{3},\d+\.\d{3}", one) for one in links)


def test_an_address_is_never_a_scheme(folder: Path) -> None:
    odd = folder / 'javascript:a"b #1.wav'
    write_sound(odd, faulty(LOADED)[1])
    text = page(faulty(LOADED), odd)
    assert 'src="./javascript%3Aa%22b%20%231.wav"' in text


@pytest.mark.parametrize("name", [HOSTILE[0], HOSTILE[4]])
def test_hostile_names_are_only_text(name: str) -> None:
    """All of them as names of the sheet, and one as the title and the student as well."""
    loaded = given(names=HOSTILE, title=name)
    judgement, attempt = faulty(loaded)
    first = replace(judgement.steps[0], words=name)
    said = tuple(replace(one, words=f"{name} two") for one in attempt.said)
    judgement = replace(judgement, steps=(first, *judgement.steps[1:]))
    attempt = replace(attempt, said=said)
    text = attempt_page(judgement, attempt, loaded, student=name, made=MADE, sound=None, before=())
    assert not {"script", "img"} & {tag for tag, _ in Reader(text).elements}
    read = Reader(text).text()
    for item in loaded.sheet.items:
        assert visible(item.name(2)) in read
    assert "\N{RIGHT-TO-LEFT OVERRIDE}" not in text
    assert "{{7*7}}" in read


def test_every_picture_has_its_words_and_is_the_same_twice(folder: Path, whole: str) -> None:
    text = whole
    assert text == page(faulty(LOADED), folder / "sound.wav")
    pictures = [one for one in Reader(text).of("div") if one.get("role") == "img"]
    assert len(pictures) == 4  # two strips, pace, loudness
    assert all((one["aria-label"] or "").endswith(".") for one in pictures)
    for drawing in re.findall(r'<div role="img".*?>(<svg.*?</svg>)</div>', text, re.DOTALL):
        root = ET.fromstring(drawing)  # noqa: S314 - made by the program under test
        names = [one.get("id") for one in root.iter() if one.get("id")]
        assert len(names) == len(set(names))
        assert "nan" not in drawing
        assert "style=" not in drawing
    names = [one["id"] for _, one in Reader(text).elements if "id" in one]
    assert len(names) == len(set(names))


def test_the_words_of_the_strips_hold_what_is_drawn() -> None:
    judgement, attempt = faulty(LOADED)
    shown = view(judgement, attempt, LOADED)
    told_of = " ".join(one.plot.alternative for one in strips(shown, None))
    for found in shown.found:
        assert f"{found.letter} {clock_time(found.start)}" in told_of
    for cue in attempt.said:
        assert cue.words.rstrip(".") in told_of
    assert "Not heard, at: 0:" in told_of
    assert "Missing in the whole attempt: skin blades" in told_of


def test_an_attempt_in_which_nothing_was_called() -> None:
    text = page(nothing(LOADED))
    read = words(text)
    assert "0 of 7 steps right" in read
    assert "Nothing was called." in text
    assert "no line has two numbers" in text.lower()
    nothing_judged = replace(nothing(LOADED)[0], marks=())
    assert "nothing could be judged" in words(page((nothing_judged, nothing(LOADED)[1])))


@pytest.mark.parametrize(("lines", "pause"), [(60, 1.0), (60, 5.0), (1, 1.0)])
def test_long_and_short_attempts(lines: int, pause: float) -> None:
    loaded = given(lines)
    judgement, attempt = called(loaded, pause=pause)
    shown = view(judgement, attempt, loaded)
    drawn = strips(shown, None)
    assert len(drawn) <= 12
    assert drawn[0].start == 0
    assert drawn[-1].end == pytest.approx(attempt.seconds)
    for one in drawn:
        ET.fromstring(one.plot.svg)  # noqa: S314
        assert 0 < one.left < one.right < 1
    each = " ".join(one.plot.alternative for one in drawn)
    assert all(f"step {one.number}, {one.name}:" in each for one in shown.lines)


def test_findings_at_the_start_and_at_the_end_are_drawn_once() -> None:
    judgement, attempt = called(LOADED)
    ends = (
        Finding(Fault.SKIPPED, 0.0, 0.0, "item0", "item0", heard=(1,)),
        Finding(Fault.MISSED_ITEM, attempt.seconds, attempt.seconds, None, "item1"),
        Finding(Fault.MISSED_ITEM, attempt.seconds + 5, attempt.seconds + 5, None, "item1"),
    )
    shown = view(replace(judgement, findings=ends), attempt, LOADED)
    each = [one.plot.alternative for one in strips(shown, None)]
    for letter in "ABC":
        assert sum(f" {letter} 0:" in one for one in each) == 1
    assert " A 0:00.0" in each[0]
    assert " C 0:" in each[-1]


def test_earlier_attempts_of_this_drill_are_shown() -> None:
    judgement, attempt = faulty(LOADED)
    marks = judgement.marks
    before = (
        Past("2026-11-20T10:00:00+00:00", "First count", 0.41, marks),
        Past("2026-11-21T10:00:00+00:00", "Another drill", 0.13, marks),
    )
    read = words(page((judgement, attempt), before=before))
    assert "2026-11-20 10:00:00 UTC 41 %" in read
    assert "13 %" not in read
    assert "Earlier attempts" not in words(page((judgement, attempt), before=before[1:]))


def test_what_the_page_says_of_itself() -> None:
    read = words(page(called(LOADED)))
    assert "For practice and teaching only" in read
    assert "The instructor judges" in read
    assert "nothing about any patient" in read
    unknown = replace(called(LOADED)[1], cues_known=False)
    assert "not known for this recording" in words(page((called(LOADED)[0], unknown)))


def test_each_row_of_the_rubric_has_a_name_and_a_shape_of_its_own() -> None:
    assert set(ROWS) == set(MARKERS) == set(Criterion)
    assert len({shape(one) for one in MARKERS.values()}) == len(Criterion)


def test_letters_go_on() -> None:
    made = [one for one, _ in zip(letters(), range(703), strict=False)]
    assert made[0] == "A"
    assert made[25:27] == ["Z", "AA"]
    assert made[702] == "AAA"
    assert len(set(made)) == 703


def test_the_longest_part_in_order_is_kept() -> None:
    """By hand: of 5, 1, 2, 9, 3 the longest rising part is 1, 2, 3."""
    assert in_order([5.0, 1.0, None, 2.0, 9.0, 3.0]) == {1, 3, 5}
    assert in_order([]) == frozenset()
    assert in_order([None, None]) == frozenset()


@pytest.mark.parametrize(
    "moments",
    [
        [(1.0, 2.0), None, (5.0, 6.0)],
        [None, None, (0.2, 3.0)],
        [(1.0, 2.0), None, None, None, (2.1, 4.0), None],
        [None] * 9,
        [(5.0, 6.0), (1.0, 2.0), (3.0, 4.0)],
        [(9.9, 10.0), None],
    ],
)
def test_slots_follow_each_other_and_none_is_empty(
    moments: list[tuple[float, float] | None],
) -> None:
    found = slots(moments, 10.0)
    assert len(found) == len(moments)
    assert all(left < right for left, right in found)
    assert all(one[1] <= after[0] + 1e-9 for one, after in pairwise(found))


def test_a_strip_is_cut_in_even_parts() -> None:
    assert [(one.start, one.end) for one in cut(75.0)] == [(0.0, 30.0), (30.0, 60.0), (60.0, 75.0)]
    assert len(cut(600.0)) <= 12
    assert len(cut(7200.0)) <= 12
    assert cut(0.0)[0].holds(0.0)


def test_rows_and_labels_do_not_touch() -> None:
    spans = [(0.0, 1.0), (0.5, 2.0), (1.2, 3.0), (2.5, 4.0)]
    assert rows(spans, 0.1) == [0, 1, 0, 1]
    assert free(spans, 0.1) == [True, False, True, False]
    assert fitting("lap sponge", 4, len) == "lap…"
    assert fitting("lap sponge", 2, len) == ""
    assert fitting("lap", 3, len) == "lap"


def test_an_envelope_keeps_every_peak(tmp_path: Path) -> None:
    """A click of 0.8 at 1.0 s is in the step that holds it, however few are asked for."""
    import numpy as np  # noqa: PLC0415
    import soundfile  # noqa: PLC0415

    sound = np.zeros(32_000, dtype=np.float32)
    sound[16_000] = 0.8
    soundfile.write(tmp_path / "click.wav", sound, 16_000, subtype="FLOAT")
    found = envelope(tmp_path / "click.wav")
    assert found.peaks[int(1.0 / STEP)] == pytest.approx(0.8)
    assert found.seconds == pytest.approx(2.0, abs=STEP)
    for most in (1, 5, 1000):
        few = found.between(0.0, 2.0, most)
        assert len(few) <= max(most, 1)
        assert max(peak for _, peak in few) == pytest.approx(0.8)
    assert Envelope(()).loudest() == 0
    with pytest.raises(RecordingError, match="no such file"):
        envelope(tmp_path / "none.wav")
