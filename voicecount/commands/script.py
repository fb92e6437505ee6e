"""A script: a count as typed lines, so that everything but the sound can be run.

One utterance a line, ``SECONDS scrub: words`` or ``SECONDS circulator: words``; or, where the two
are not told apart, ``SECONDS: words`` throughout. Empty lines and lines that begin with ``#`` are
passed over. A word is taken to last a third of a second.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from voicecount.count.roles import Role
from voicecount.errors import RecordingError
from voicecount.hear.heard import Heard
from voicecount.hear.typed import TypedRecogniser
from voicecount.keep.clock import Clock
from voicecount.sound.frame import Utterance
from voicecount.sound.moments import Moment, Quiet
from voicecount.words.grammar import Grammar

_LINE = re.compile(r"(?P<start>\d+(?:\.\d+)?)(?:\s+(?P<who>scrub|circulator))?\s*:\s*(?P<words>.+)")
_WORD_SECONDS = 0.35
_LARGEST_FILE = 1_000_000
"""Bytes; a day's talk is less."""
_CHANNELS = {None: 0, Role.SCRUB.value: 0, Role.CIRCULATOR.value: 1}


@dataclass(frozen=True, eq=False)
class Typed(Utterance):
    """One line of a script: an utterance without sound that brings its words along."""

    words: str = ""


@dataclass(frozen=True)
class Script:
    """All lines, by the order of their ends; ``channels`` is 2 when the roles are given."""

    lines: tuple[Typed, ...]
    channels: int

    @property
    def seconds(self) -> float:
        """When the last word ends."""
        return max(line.end for line in self.lines)

    def moments(self, clock: Clock | None = None) -> Iterator[Moment]:
        """Give the lines; with a clock, each when it would have ended."""
        begun = clock.monotonic() if clock is not None else 0.0
        for place, line in enumerate(self.lines):
            if clock is not None:
                clock.sleep(begun + line.end - clock.monotonic())
            yield Quiet(min(later.start for later in self.lines[place:]))
            yield line


class ScriptRecogniser:
    """The typed recogniser behind the port."""

    def __init__(self) -> None:
        self._typed = TypedRecogniser()

    @property
    def name(self) -> str:
        """Name and version, for the record."""
        return self._typed.name

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand a line of a script; TypeError for sound."""
        if not isinstance(utterance, Typed):
            raise TypeError("the typed recogniser hears no sound")
        return self._typed.understand(
            utterance.words,
            grammar,
            channel=utterance.channel,
            start=utterance.start,
            end=utterance.end,
        )


def read_script(path: Path) -> Script:
    """Read a script; RecordingError names the line that is none."""
    try:
        with path.open("rb") as file:
            text = file.read(_LARGEST_FILE + 1).decode("utf-8-sig")
    except OSError as error:
        raise RecordingError(f"{path}: cannot be read ({error.strerror}); check the name") from None
    except UnicodeDecodeError:
        raise RecordingError(
            f"{path}: no text; the typed recogniser reads lines such as '12.5 scrub: gauze, one'"
        ) from None
    if len(text) > _LARGEST_FILE:
        raise RecordingError(f"{path}: too long for a script; give a shorter file")
    lines: list[Typed] = []
    roles: set[bool] = set()
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        match = _LINE.fullmatch(line.strip())
        if match is None:
            raise RecordingError(
                f"{path}, line {number}: not of the form '12.5 scrub: gauze, one'; write seconds, "
                "scrub or circulator, a colon, and the words"
            )
        roles.add(match["who"] is not None)
        start = float(match["start"])
        end = round(start + _WORD_SECONDS * len(match["words"].split()), 3)
        channel, nothing = _CHANNELS[match["who"]], np.zeros(0, np.float32)
        typed = Typed(channel, start, end, nothing, offset=start, words=match["words"])
        if any((typed.channel, typed.start) == (other.channel, other.start) for other in lines):
            raise RecordingError(
                f"{path}, line {number}: the same person already speaks at {start:g}; "
                "give it another time"
            )
        lines.append(typed)
    if not lines:
        raise RecordingError(f"{path}: holds no line; write one such as '12.5 scrub: gauze, one'")
    if len(roles) > 1:
        raise RecordingError(
            f"{path}: some lines name who speaks and some do not; name all or none"
        )
    return Script(tuple(sorted(lines, key=lambda line: line.end)), 2 if roles == {True} else 1)
