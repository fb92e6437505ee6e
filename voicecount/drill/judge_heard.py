"""What can be judged of an attempt: words that were understood, with a time for every number. Pure.

Attempt ─▶ sieve ─▶ Spoken (understood), Unheard (shown, never held against anybody), talk
"""

from collections.abc import Sequence
from dataclasses import dataclass

from voicecount.drill.attempt import Attempt, Saying
from voicecount.drill.judgement import NotHeard, Number
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import in_words, words_of

SURE_WRONG = 0.02
"""Up to this probability of being wrong a reading that is asked about in any case counts as heard:
a live count asks because a stored number matters more than a question; a drill stores nothing, and
what a student did say has to be judged. Higher blames people for what was misheard."""
ASKED = frozenset({Reason.UNCLEAR_NAME, Reason.NO_NUMBER, Reason.SOUND_ALIKE})
"""What is asked about however sure it is; taken only where what came before explains it."""

_UNREAD_BEFORE, _UNREAD_AFTER = 0.3, 0.4
"""Seconds of voice before the first and after the last word of a reading from which further words
may be in it that were not understood. Where all was, less than 0.1 and 0.3 s are left (measured on
the tuning part of the benchmark of drills)."""

Token = tuple[str, float, float]
"""One spoken word: text, start and end in seconds."""


@dataclass(frozen=True)
class Spoken:
    """One utterance that was understood."""

    saying: Saying
    meaning: Meaning
    numbers: tuple[Number, ...]
    """In the order of ``meaning.numbers``."""
    timed: bool
    """Whether these times were heard; else they are spread over the utterance."""
    words: tuple[str, ...]
    asked: Reason | None = None
    """Why it is taken only where what came before explains it."""
    name_end: float = 0.0
    """Where the words before the first number end; the whole utterance's end without numbers."""
    words_before: bool = False
    """Whether there is voice before its first word: a place or a name that was not understood."""
    words_after: bool = False
    """Whether there is voice after its last word."""
    parted: bool = False
    """Whether it is what follows a long gap inside an utterance, and may be another line's."""

    @property
    def start(self) -> float:
        """Give its start in the recording."""
        return self.saying.heard.start

    @property
    def end(self) -> float:
        """Give its end."""
        return self.saying.heard.end

    @property
    def values(self) -> tuple[int, ...]:
        """Give its numbers."""
        return tuple(number.value for number in self.numbers)


@dataclass(frozen=True)
class Unheard:
    """One utterance that was not understood, with its best reading, if any."""

    start: float
    end: float
    reason: str
    meaning: Meaning | None

    def shown(self, step: str | None) -> NotHeard:
        """Give what is shown of it."""
        return NotHeard(self.start, self.end, self.reason, step)


def sieve(attempt: Attempt) -> tuple[list[Spoken], list[Unheard], list[tuple[float, float]]]:
    """Part the utterances into understood ones, others, and talk (start, end), each by start."""
    spoken: list[Spoken] = []
    unheard: list[Unheard] = []
    talk: list[tuple[float, float]] = []
    for saying in sorted(attempt.sayings, key=_place):
        heard = saying.heard
        if heard.outcome is Outcome.IGNORED:
            talk.append((heard.start, heard.end))
        elif heard.meaning is not None and (heard.outcome is Outcome.ACCEPTED or _sure(saying)):
            spoken.append(_read(saying, heard.meaning))
        else:
            unheard.append(_not_understood(saying))
    return spoken, unheard, talk


def give_up(spoken: Spoken) -> Unheard:
    """Turn what nothing explains into what was not understood."""
    return _not_understood(spoken.saying)


def _place(saying: Saying) -> tuple[float, float, str, str]:
    heard = saying.heard
    return heard.start, heard.end, heard.text, repr(heard.meaning)


def _not_understood(saying: Saying) -> Unheard:
    heard = saying.heard
    reason = Reason.WEAK_MATCH if heard.reason is None else heard.reason
    return Unheard(heard.start, heard.end, reason.value, heard.meaning)


def _sure(saying: Saying) -> bool:
    heard = saying.heard
    return heard.reason in ASKED and heard.wrong is not None and heard.wrong <= SURE_WRONG


def _read(saying: Saying, meaning: Meaning) -> Spoken:
    heard = saying.heard
    tokens = _tokens(saying)
    values = meaning.numbers
    if not values and meaning.pieces is not None and meaning.item is not None:
        values = (1,)  # "balfour, four pieces" is one of it
    spans = _spans(tokens, values, last=meaning.form is not Form.NUMBER_FIRST)
    timed = spans is not None
    if spans is None:
        share = (heard.end - heard.start) / max(len(values), 1)
        spans = [
            (heard.start + at * share, heard.start + (at + 1) * share) for at in range(len(values))
        ]
    numbers = tuple(Number(value, *span) for value, span in zip(values, spans, strict=True))
    name_end = heard.end if not numbers else numbers[0].start
    if timed and numbers:
        before = [end for _, start, end in tokens if start < numbers[0].start]
        name_end = max(before, default=numbers[0].start)
    asked = heard.reason if heard.outcome is Outcome.UNSURE else None
    words = tuple(words_of(heard.text)) or tuple(word for word, _, _ in tokens)
    return Spoken(
        saying,
        meaning,
        numbers,
        timed,
        words,
        asked,
        name_end,
        bool(tokens) and tokens[0][1] - heard.start > _UNREAD_BEFORE,
        bool(tokens) and heard.end - tokens[-1][2] > _UNREAD_AFTER,
    )


def _tokens(saying: Saying) -> list[Token]:
    """Give single words in time; one that holds several is parted evenly."""
    found: list[Token] = []
    for word in saying.heard.words or ():
        parts = words_of(word.text)
        share = (word.end - word.start) / max(len(parts), 1)
        found += [
            (part, word.start + at * share, word.start + (at + 1) * share)
            for at, part in enumerate(parts)
        ]
    return found


def _spans(
    tokens: Sequence[Token], values: Sequence[int], *, last: bool
) -> list[tuple[float, float]] | None:
    """Find where numbers are said, one after another; a name may hold number words of its own."""
    if not values:
        return []
    places = range(len(tokens))
    for at in reversed(places) if last else places:
        found = _match(tokens, at, values)
        if found is not None:
            return found
    return None


def _match(
    tokens: Sequence[Token], at: int, values: Sequence[int]
) -> list[tuple[float, float]] | None:
    found: list[tuple[float, float]] = []
    for value in values:
        for way in _ways(value):
            end = at + len(way)
            if tuple(word for word, _, _ in tokens[at:end]) == way:
                found.append((tokens[at][1], tokens[end - 1][2]))
                at = end
                break
        else:
            return None
    return found


def _ways(value: int) -> list[tuple[str, ...]]:
    """Give the ways to say a number, longest first."""
    if value == 0:
        return [("none",), ("zero",), ("no",)]
    plain = tuple(in_words(value).split())
    ways = {plain, tuple(in_words(value, use_and=True).split())}
    if value >= 100:
        ways |= {("a", *way[1:]) for way in ways}
    return sorted(ways, key=lambda way: (-len(way), way))
