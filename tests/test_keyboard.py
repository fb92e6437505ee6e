"""The keyboard as a fall-back: typed words are an utterance of their person."""

import io
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

import numpy as np
import pytest

from voicecount.commands.keyboard import EarsAndKeyboard, Keyboard, with_keyboard
from voicecount.commands.script import Typed
from voicecount.count.roles import Role
from voicecount.hear.heard import Heard, Outcome
from voicecount.room import NOT_TOLD_APART, TOLD_APART
from voicecount.sheet.load import load_sheet
from voicecount.sound.frame import Utterance
from voicecount.sound.moments import Moment, Quiet
from voicecount.testing.recogniser import FakeRecogniser
from voicecount.words.grammar import build_grammar

SHEET = load_sheet(Path(__file__).parent.parent / "grammars" / "first_try.yaml")


def lines_of(keyboard: Keyboard, many: int) -> list[str]:
    """Wait for a number of lines; the thread that reads them is another one."""
    found: list[str] = []
    for _ in range(200):
        found += keyboard.take()
        if len(found) >= many:
            break
        time.sleep(0.01)
    return found


def keyboard_of(text: str) -> Keyboard:
    keyboard = Keyboard(io.StringIO(text))
    keyboard.start()
    return keyboard


def test_lines_are_taken_once_and_without_empty_ones() -> None:
    """What was typed is given once; blank lines are nothing."""
    keyboard = keyboard_of("ten\n\n  \nscrub: gauze, one\n")

    assert lines_of(keyboard, 2) == ["ten", "scrub: gauze, one"]
    assert keyboard.take() == []


@pytest.mark.parametrize(
    ("line", "channel", "words"),
    [
        ("ten", 1, "ten"),
        ("circulator: ten", 1, "ten"),
        ("Scrub: gauze, one two", 0, "gauze, one two"),
        ("note: ten", 1, "note: ten"),
    ],
)
def test_a_line_is_said_by_its_person(line: str, channel: int, words: str) -> None:
    """A line alone is the circulator's; a role before a colon names who said it."""

    class Typing(Keyboard):
        def take(self) -> list[str]:
            return [line]

    def stream() -> Iterator[Moment]:
        yield Quiet(1.0)

    lines: TextIO = io.StringIO()
    typed, quiet = with_keyboard(stream(), Typing(lines), TOLD_APART, lambda: 7.0)

    assert isinstance(typed, Typed)
    assert (typed.channel, typed.words, typed.end) == (channel, words, 7.0)
    assert TOLD_APART[typed.channel] is (Role.CIRCULATOR if channel else Role.SCRUB)
    assert isinstance(quiet, Quiet)
    (alone, _) = with_keyboard(stream(), Typing(lines), NOT_TOLD_APART, lambda: 7.0)
    assert isinstance(alone, Typed)
    assert alone.channel == 0


def test_sound_and_typed_lines_go_to_their_own_recogniser() -> None:
    """A typed line is read, sound is heard; the record names the recogniser of sound."""
    answer = Heard(0, 0.0, 1.0, Outcome.IGNORED, None, "")
    both = EarsAndKeyboard(FakeRecogniser([answer]))
    grammar = build_grammar(SHEET)
    nothing = np.zeros(1, np.float32)
    typed = both.hear(Typed(1, 0.0, 1.0, nothing, 0.0, words="gauze, one two"), grammar)

    assert typed.meaning is not None
    assert typed.meaning.numbers == (1, 2)
    assert both.hear(Utterance(0, 0.0, 1.0, nothing, 0.0), grammar) is answer
    assert both.name == "fake recogniser"
