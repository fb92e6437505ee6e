"""The page of an attempt in a real Chromium: moments are played, it can be read, nobody is asked.

Outside: WCAG 2.1 for contrast (as in test_board_browser), axe-core for the structure. Skipped with
the reason "optional: ..." where there is no browser, or nothing to fetch axe-core with.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from browser import MISSING, Page, browsing, chromium
from drill_attempts_made import NAMES, called, faulty, given, write_sound
from test_board_browser import axe, weak

from voicecount.drill.page import attempt_page
from voicecount.drill.past import Past
from voicecount.drill.progress import progress_page

__all__ = ["axe"]

pytestmark = pytest.mark.skipif(chromium() is None, reason=MISSING)

MADE = "2026-11-26T18:50:00+00:00"
LOADED = given()
LONG = "a name of many words that nobody would say while counting " * 4
HOSTILE = (
    "<script>alert(1)</script>",
    "a" * 200,
    LONG,
    "\N{RIGHT-TO-LEFT OVERRIDE}egnops pal",
    "\N{SYRINGE}" * 60,
    "e" + "\N{COMBINING ACUTE ACCENT}" * 60,
)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with browsing() as found:
        yield found


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with the pages that are looked at, and their recording."""
    made = tmp_path_factory.mktemp("pages")
    judgement, attempt = faulty(LOADED)
    sound = write_sound(made / "sound.flac", attempt)
    before = [Past("2026-11-20T10:00:00+00:00", "First count", 0.4, judgement.marks)]
    texts = {
        "faulty": attempt_page(
            judgement, attempt, LOADED, student="k7", made=MADE, sound=sound, before=before
        ),
        "silent": attempt_page(
            judgement, attempt, LOADED, student="k7", made=MADE, sound=sound, before=(),
            href="gone.flac",
        ),
        "progress": progress_page([*before, *before], made=MADE, student="k7"),
    }  # fmt: skip
    for at, name in enumerate(HOSTILE):
        other = given(names=(name, *NAMES), title=name)
        texts[f"hostile{at}"] = attempt_page(
            *faulty(other), other, student=name, made=MADE, sound=sound, before=()
        )
    many = given(60)
    texts["many"] = attempt_page(
        *called(many), many, student="k7", made=MADE, sound=sound, before=()
    )
    for name, text in texts.items():
        (made / f"{name}.html").write_text(text, "utf-8")
    return made


def seen(browser: Any, folder: Path, name: str, width: int = 1024, **more: Any) -> Page:
    look = {"viewport": {"width": width, "height": 900}, **more}
    with patch("browser.SIGNS", "0"):  # these are signs of the board
        return Page(browser, (folder / f"{name}.html").as_uri(), **look)


READY = "document.getElementById('sound').readyState >= 1"


def test_a_button_plays_its_moment_and_no_more(browser: Any, folder: Path) -> None:
    with seen(browser, folder, "faulty") as page:
        page.until(READY)
        page.page.evaluate(
            """() => {
              window.heard = [];
              const sound = document.getElementById('sound');
              sound.addEventListener('timeupdate', () => window.heard.push(sound.currentTime));
            }"""
        )
        button = page.page.locator("#finding-B button.play")
        first, last = (float(button.get_attribute(f"data-{name}")) for name in ("from", "to"))
        finding = faulty(LOADED)[0].findings[1]
        assert first == pytest.approx(finding.start - 0.5, abs=0.001)
        # At once, in the page: on a busy machine a short moment is over before it is asked for.
        assert button.evaluate(
            """(one) => {
              one.click();
              return [document.getElementById('sound').paused, one.getAttribute('aria-pressed')];
            }"""
        ) == [False, "true"]
        page.until("document.getElementById('sound').paused && window.heard.length > 0")
        heard = page.page.evaluate("window.heard")
        assert min(heard) >= first - 0.05
        assert last - 0.05 <= page.page.evaluate("document.getElementById('sound').currentTime")
        # It stops when it is next looked at, however late that is.
        assert len({at for at in heard if at > last + 0.05}) <= 2
        assert button.get_attribute("aria-pressed") == "false"
        assert page.complaints == []
        assert page.violations == []


def test_a_second_press_stops_and_another_button_takes_over(browser: Any, folder: Path) -> None:
    with seen(browser, folder, "faulty") as page:
        page.until(READY)
        other = page.page.locator("#finding-D button.play")
        first = float(other.get_attribute("data-from"))
        before, taken, at, after = page.page.evaluate(
            """() => {
              const [one, other] = ['F', 'D'].map(
                (name) => document.querySelector(`#finding-${name} button.play`));
              const sound = document.getElementById('sound');
              const pressed = (button) => button.getAttribute('aria-pressed');
              const state = () => [sound.paused, pressed(one), pressed(other)];
              one.click();
              const before = state();
              other.click();
              const [taken, at] = [state(), sound.currentTime];
              other.click();
              return [before, taken, at, state()];
            }"""
        )
        assert before == [False, "true", "false"]
        assert taken == [False, "false", "true"]
        assert at == pytest.approx(first, abs=0.5)
        assert after == [True, "false", "false"]


def test_a_click_into_a_strip_plays_from_there(browser: Any, folder: Path) -> None:
    with seen(browser, folder, "faulty") as page:
        page.until(READY)
        strip = page.page.locator(".strip").nth(1)
        box = strip.bounding_box()
        shares = [float(strip.get_attribute(f"data-{name}")) for name in ("left", "right")]
        strip.click(position={"x": box["width"] * sum(shares) / 2, "y": box["height"] / 2})
        page.until("document.getElementById('sound').currentTime > 0")
        start, end = (float(strip.get_attribute(f"data-{name}")) for name in ("from", "to"))
        at = page.page.evaluate("document.getElementById('sound').currentTime")
        assert (start + end) / 2 - 0.3 <= at
        page.until("document.querySelector('.cursor.here') !== null")


def test_a_recording_that_is_gone_is_told(browser: Any, folder: Path) -> None:
    with seen(browser, folder, "silent") as page:
        page.page.locator("#finding-A button.play").click()
        page.until("document.getElementById('player-note').textContent !== ''")
        assert "has to lie beside this page" in page.text("#player-note")


def test_it_can_be_read_without_its_script(browser: Any, folder: Path) -> None:
    with seen(browser, folder, "faulty", java_script_enabled=False) as page:
        content = page.page.inner_text("body")
        assert "What was found" in content
        assert "Not heard: not held against you" in content
        assert content.count("listen") >= 7
        assert page.page.locator("button.play:visible").count() == 0
        link = page.page.locator("#finding-B noscript a, #finding-B a").first
        assert link.get_attribute("href").startswith("./sound.flac#t=")


@pytest.mark.parametrize("width", [800, 1920])
@pytest.mark.parametrize(
    "name", ["faulty", "many", "progress", *(f"hostile{at}" for at in range(len(HOSTILE)))]
)
def test_nothing_is_wider_than_the_screen(
    browser: Any, folder: Path, name: str, width: int
) -> None:
    with seen(browser, folder, name, width) as page:
        over = page.page.evaluate(
            """() => {
              const root = document.documentElement;
              const wide = root.scrollWidth > root.clientWidth ? ['page ' + root.scrollWidth] : [];
              for (const one of document.querySelectorAll('body *:not(svg *)')) {
                const box = one.getBoundingClientRect();
                if (box.width && !one.matches('.skip')
                    && (box.right > root.clientWidth + 1 || box.left < -1))
                  wide.push(`${one.tagName} ${one.className} ${box.left} ${box.right}`);
              }
              return wide;
            }"""
        )
        assert over == []
        assert page.complaints == []
        assert page.violations == []
        assert {one.partition(":")[0] for one in page.asked} == {"file"}
        assert page.page.evaluate("document.scripts.length") == (0 if name == "progress" else 1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["faulty", "progress"])
def test_every_text_has_contrast(browser: Any, folder: Path, name: str, scheme: str) -> None:
    """WCAG 2.1, 1.4.3; the drawings take the same colours from the style sheet."""
    with seen(browser, folder, name, color_scheme=scheme) as page:
        # the shared check asks for a colour that only the board has
        page.page.evaluate("document.documentElement.style.setProperty('--hatch', '#888')")
        assert weak(page) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["faulty", "progress"])
def test_axe_finds_nothing(
    browser: Any, folder: Path, axe: str, name: str, scheme: str
) -> None:  # fmt: skip
    with seen(browser, folder, name, color_scheme=scheme, bypass_csp=True) as page:
        page.page.add_script_tag(content=axe)
        found = page.page.evaluate("axe.run()")
        wrong = {
            one["id"]: [node["html"][:160] for node in one["nodes"]] for one in found["violations"]
        }
        assert len(found["passes"]) > 10
        assert wrong == {}, json.dumps(wrong, indent=1)
