"""Hearing again what was cut at the wrong place: a slow count, and lines called without a pause.

A number alone is heard worse than in its run. So where part of a slow line was not understood, its
pieces are put together, with the pauses shortened, and heard as one. And an utterance that was not
understood, or whose numbers are out of order, is cut at its long pauses, or from name to name, in
case there are several lines in it. Only an answer that the recogniser is sure of takes the place of
others; where the whole is of no use, a line that is clear stands beside one that is not heard.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from voicecount.drill.attempt import LIKELY, Said
from voicecount.drill.judge_readings import doubted, is_doubtful
from voicecount.drill.level_cut import cut_at_long_pauses, cut_at_pauses
from voicecount.drill.number_steps import FURTHEST, in_order, steps
from voicecount.hear.heard import Heard, Outcome, Word
from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.words.meaning import Form

Hear = Callable[[Utterance], Heard]

_LONGEST = 25.0
"""Seconds of sound that are heard as one."""
_BEFORE, _AFTER = 0.2, 0.25
"""Seconds around the voice of each piece that are kept where two are put together."""
_BESIDE = 2
"""Pieces on each side with which one is heard again."""
_SEVERAL = 2.0
"""Seconds from which an utterance may hold several lines."""


@dataclass(frozen=True, eq=False)
class Piece:
    """An utterance with its answer; ``heard`` is on the time of the utterance's own sound."""

    utterance: Utterance
    heard: Heard
    at: tuple["Stretch", ...] = ()
    """Where the sound comes from, if it was put together."""

    @property
    def understood(self) -> bool:
        """Whether the recogniser was sure."""
        return self.heard.outcome is Outcome.ACCEPTED

    @property
    def begins_line(self) -> bool:
        """Whether it says by itself that something new begins: a name, a place, a command."""
        meaning = self.heard.meaning
        return meaning is not None and (
            meaning.item is not None or meaning.form not in {Form.RUN, Form.TOTAL, Form.NONE}
        )

    @property
    def numbers(self) -> tuple[int, ...]:
        """The numbers that were heard."""
        return () if self.heard.meaning is None else self.heard.meaning.numbers

    @property
    def not_ignored(self) -> "Piece":
        """The piece as one that was meant, whatever it said."""
        if self.heard.outcome is not Outcome.IGNORED:
            return self
        return replace(self, heard=replace(self.heard, outcome=Outcome.UNSURE))

    @property
    def doubted(self) -> "Piece":
        """The piece as one that was not understood."""
        return replace(self, heard=doubted(self.heard))

    @property
    def on_stream(self) -> Heard:
        """The answer with its words on the time of the stream."""
        if not self.at or self.heard.words is None:
            return self.heard
        words = tuple(_moved(word, self.at) for word in self.heard.words)
        return replace(self.heard, words=words)


@dataclass(frozen=True)
class Stretch:
    """A stretch of sound that was put together from the stream."""

    first: float
    last: float
    """Seconds in the sound that was put together."""
    later: float
    """Seconds that the stream is ahead of that."""


def mend(
    pieces: Sequence[Piece], hear: Hear, said: Sequence[Said], *, longest_pause: float
) -> list[Piece]:
    """Give the pieces by their starts, those that became clear together put into one.

    Pieces with a pause of more than ``longest_pause`` seconds between them, or with words of the
    partner, belong to different lines.
    """
    ordered = sorted(pieces, key=lambda piece: piece.utterance.start)
    parted = [part for piece in ordered for part in _parted(piece, hear)]
    mended: list[Piece] = []
    for line in _lines(parted, said, longest_pause):
        mended += _joined(line, hear)
    return mended


def _is_odd(numbers: Sequence[int]) -> bool:
    """Tell whether numbers leap or fall back as people hardly do."""
    return any(not 0 <= step <= 1 + FURTHEST for step in steps(numbers))


def _lines(
    pieces: Sequence[Piece], said: Sequence[Said], longest_pause: float
) -> Iterator[list[Piece]]:
    line: list[Piece] = []
    for at, piece in enumerate(pieces):
        if line and (_is_new(line[-1], piece, said, longest_pause) or _restarts(line, pieces[at:])):
            yield line
            line = []
        line.append(piece)
    if line:
        yield line


def _is_new(before: Piece, piece: Piece, said: Sequence[Said], longest_pause: float) -> bool:
    end, start = before.utterance.end, piece.utterance.start
    if piece.begins_line or start - end > longest_pause:
        return True
    return any(one.start < start and one.end > end for one in said)


def _restarts(line: Sequence[Piece], rest: Sequence[Piece]) -> bool:
    """Tell whether a piece that was not understood was a name: the numbers after it fall back."""
    if rest[0].understood:
        return False
    before = [number for piece in line if piece.understood for number in piece.numbers]
    after = next((piece for piece in rest[1:] if piece.understood), None)
    if after is None or after.begins_line or not (before and after.numbers):
        return False
    return after.numbers[0] <= before[-1]


def _joined(line: list[Piece], hear: Hear) -> list[Piece]:
    """Hear a line's pieces as one, if one of them was not understood; keep a sure answer.

    The same where the numbers of the pieces do not follow. Where the whole line is not clear, each
    such piece is heard with its neighbours. What is still taken for talk, in the middle of a line,
    is at least no silence: it is unsure; and so is a piece that does not follow.
    """
    numbers = [number for piece in line for number in piece.numbers]
    odd = _is_odd(numbers)
    if len(line) < 2 or (all(piece.understood for piece in line) and not odd):
        return line
    whole = _as_one(line, hear)
    if whole is not None and not _is_odd(whole.numbers):
        return [whole]
    if whole is not None and list(whole.numbers) == numbers:
        return line
    found = list(line)
    at = 0
    while at < len(found):
        first, stop = max(0, at - _BESIDE), min(len(found), at + 1 + _BESIDE)
        if not found[at].understood and stop - first < len(line):
            part = _as_one(found[first:stop], hear)
            if part is not None:
                found[first:stop] = [part]
                at = first
        at += 1
    if not any(piece.understood for piece in found):
        return found
    return [piece.not_ignored for piece in _without_odd(found)]


def _without_odd(line: Sequence[Piece]) -> Iterator[Piece]:
    """Doubt the pieces of a line whose numbers do not follow those before."""
    last: int | None = None
    for piece in line:
        before = () if last is None else (last,)
        if piece.understood and _is_odd((*before, *piece.numbers)):
            yield piece.doubted
            continue
        yield piece
        if piece.understood and piece.numbers:
            last = piece.numbers[-1]


def _as_one(pieces: Sequence[Piece], hear: Hear) -> Piece | None:
    """Hear pieces as one; None where that is not clear, or too long, or was put together before."""
    if len(pieces) < 2 or any(piece.at for piece in pieces):
        return None
    together = put_together([piece.utterance for piece in pieces])
    if len(together.utterance.samples) > _LONGEST * RATE:
        return None
    piece = replace(together, heard=hear(together.utterance))
    return piece if piece.understood else None


def _parted(piece: Piece, hear: Hear) -> list[Piece]:
    """Look for several lines in an utterance that was not understood, or is out of order.

    It is cut at its long pauses first, so that each line is heard whole.
    """
    utterance = piece.utterance
    clear = piece.understood and in_order(piece.numbers)
    if clear or utterance.end - utterance.start < _SEVERAL:
        return [piece]
    ways: list[list[Piece]] = []
    for way in (_by_long_pauses, _by_names):
        found = way(utterance, hear)
        if found and all(part.understood or part.utterance.cut for part in found):
            return found
        ways.append(found)
    return next((found for found in ways if _says_more(found, piece)), [piece])


def _by_long_pauses(utterance: Utterance, hear: Hear) -> list[Piece]:
    """Hear what lies between the long pauses of an utterance; nothing where it has none."""
    cut = cut_at_long_pauses(utterance)
    return [Piece(part, hear(part)) for part in cut] if len(cut) > 1 else []


def _by_names(utterance: Utterance, hear: Hear) -> list[Piece]:
    """Hear an utterance from each name to the next; nothing where there is no second one."""
    cut = cut_at_pauses(utterance)
    if len(cut) < 2:
        return []
    parts = [Piece(part, hear(part)) for part in cut]
    if sum(part.begins_line for part in parts) < 2:
        return []
    found: list[Piece] = []
    for line in _lines(parts, (), _LONGEST):
        whole = _as_one(line, hear)
        found += line if whole is None else [whole]
    return found


def _says_more(parts: Sequence[Piece], piece: Piece) -> bool:
    """Tell whether lines that are clear stand beside others, where the whole is of no use."""
    wrong = piece.heard.wrong
    of_use = wrong is not None and wrong <= LIKELY and in_order(piece.numbers)
    lines = sum(part.understood and part.begins_line for part in parts)
    sure = piece.understood and not is_doubtful(piece.heard)
    return lines > 0 and not sure and not of_use


def put_together(parts: Sequence[Utterance]) -> Piece:
    """Put utterances into one, with short pauses; the answer is that of nothing heard."""
    sounds: list[Samples] = []
    at: list[Stretch] = []
    now = 0
    for place, part in enumerate(parts):
        first = 0 if place == 0 else _sample(part, part.start - _BEFORE)
        last = len(parts) - 1
        stop = len(part.samples) if place == last else _sample(part, part.end + _AFTER)
        if place and parts[place - 1].end + _AFTER > part.start - _BEFORE:
            first = _sample(part, (parts[place - 1].end + part.start) / 2)
        if place < last and parts[place + 1].start - _BEFORE < part.end + _AFTER:
            stop = _sample(part, (part.end + parts[place + 1].start) / 2)
        sound = part.samples[first:stop]
        later = part.offset + first / RATE - now / RATE
        at.append(Stretch(now / RATE, (now + len(sound)) / RATE, later))
        sounds.append(sound)
        now += len(sound)
    whole = np.concatenate(sounds)
    utterance = replace(
        parts[0],
        end=parts[-1].end,
        samples=whole,
        offset=0.0,
        lost=any(part.lost for part in parts),
        cut=any(part.cut for part in parts),
    )
    nothing = Heard(utterance.channel, utterance.start, utterance.end, Outcome.IGNORED, None, "")
    return Piece(utterance, nothing, tuple(at))


def _sample(part: Utterance, at: float) -> int:
    return min(max(0, round((at - part.offset) * RATE)), len(part.samples))


def _moved(word: Word, at: Sequence[Stretch]) -> Word:
    """Put a word back to where it was said; it ends in the stretch in which it begins."""
    stretch = next((one for one in at if word.start < one.last), at[-1])
    end = min(word.end, stretch.last)
    return replace(
        word, start=round(word.start + stretch.later, 3), end=round(end + stretch.later, 3)
    )
