"""The keyboard as a fall-back: what the circulator types counts as said, and is kept the same way.

A line is the circulator's words; one that begins with ``scrub:`` is the scrub's. It is read by a
thread of its own, because a keyboard has no end that could be waited for.
"""

import threading
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from typing import TextIO

import numpy as np

from voicecount.commands.script import ScriptRecogniser, Typed
from voicecount.count.roles import Role
from voicecount.hear.heard import Heard
from voicecount.hear.port import Follower, Recogniser, still_open
from voicecount.sound.frame import Utterance
from voicecount.sound.moments import Moment
from voicecount.words.grammar import Grammar

_BEFORE = 0.01
"""Seconds that a typed line lasts: it is said when it is sent."""


class Keyboard:
    """Lines as they are typed."""

    def __init__(self, lines: TextIO) -> None:
        self._lines = lines
        self._typed: deque[str] = deque()

    def start(self) -> None:
        """Begin to read; the thread ends with the program."""
        threading.Thread(target=self._read, daemon=True).start()

    def take(self) -> list[str]:
        """Give the lines typed since, without empty ones."""
        taken = []
        while self._typed:
            taken.append(self._typed.popleft())
        return taken

    def _read(self) -> None:
        for line in self._lines:
            if line.strip():
                self._typed.append(line.strip())


def with_keyboard(
    stream: Iterator[Moment],
    keyboard: Keyboard,
    roles: Mapping[int, Role],
    now: Callable[[], float],
) -> Iterator[Moment]:
    """Give a stream's moments, and among them each typed line as an utterance of its person."""
    channels = {role: channel for channel, role in roles.items()}
    for moment in stream:
        for line in keyboard.take():
            head, colon, words = line.partition(":")
            role = Role.SCRUB if colon and head.strip().lower() == "scrub" else Role.CIRCULATOR
            if not colon or head.strip().lower() not in {"scrub", "circulator"}:
                words = line
            at = now()
            nothing = np.zeros(0, np.float32)
            yield Typed(channels.get(role, 0), at - _BEFORE, at, nothing, at, words=words.strip())
        yield moment


class EarsAndKeyboard:
    """A recogniser of sound that takes typed lines as well."""

    def __init__(self, ears: Recogniser) -> None:
        self._ears = ears
        self._typed = ScriptRecogniser()

    @property
    def name(self) -> str:
        """Name of the recogniser of sound, for the record."""
        return self._ears.name

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand an utterance, spoken or typed."""
        typed = isinstance(utterance, Typed)
        return (self._typed if typed else self._ears).hear(utterance, grammar)

    def follow(self, so_far: Utterance, grammar: Grammar) -> Heard:
        """Give what the ears hear of an open utterance; nothing where they cannot follow."""
        if isinstance(self._ears, Follower):
            return self._ears.follow(so_far, grammar)
        return still_open(so_far)
