"""What can be judged of an attempt: words that were understood, with a time for every number. Pure.

Attempt ─▶ sieve ─▶ Spoken (understood), Unheard (shown, never held against anybody), talk
"""

from dataclasses import dataclass
from math import inf
from statistics import median

from voicecount.drill.attempt import Attempt, Saying
from voicecount.drill.judgement import NotHeard, Number
from voicecount.drill.number_times import spans_of, tokens_of
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import words_of

SURE_WRONG = 0.02
"""Up to this probability of being wrong a reading that is asked about in any case counts as heard:
a live count asks because a stored number matters more than a question; a drill stores nothing, and
what a student did say has to be judged. Higher blames people for what was misheard."""
ASKED = frozenset({Reason.UNCLEAR_NAME, Reason.NO_NUMBER, Reason.SOUND_ALIKE})
"""What is asked about however sure it is; taken only where what came before explains it."""

_FAINT_DB = 12.0
"""So far under what was understood nobody calls a line. Measured on two seeds of the benchmark of
drills: noise that was taken for voice lay 14 to 19 under it, the student's words at most 7."""
_UNREAD_BEFORE, _UNREAD_AFTER = 0.3, 0.4
"""Seconds of voice before the first and after the last word of a reading from which further words
may be in it that were not understood. Where all was, less than 0.1 and 0.3 s are left (measured on
the tuning part of the benchmark of drills)."""


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
    faint: bool = False
    """Whether it is so much weaker than the student's voice that it is the room's."""

    def shown(self, step: str | None) -> NotHeard:
        """Give what is shown of it."""
        return NotHeard(self.start, self.end, self.reason, step)


def sieve(attempt: Attempt) -> tuple[list[Spoken], list[Unheard], list[tuple[float, float]]]:
    """Part the utterances into understood ones, others, and talk (start, end), each by start."""
    known = [one.loud_db for one in attempt.sayings if one.heard.outcome is Outcome.ACCEPTED]
    faint = median(known) - _FAINT_DB if known else -inf
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
            unheard.append(_not_understood(saying, faint=saying.loud_db < faint))
    return spoken, unheard, talk


def give_up(spoken: Spoken) -> Unheard:
    """Turn what nothing explains into what was not understood."""
    return _not_understood(spoken.saying)


def _place(saying: Saying) -> tuple[float, float, str, str]:
    heard = saying.heard
    return heard.start, heard.end, heard.text, repr(heard.meaning)


def _not_understood(saying: Saying, *, faint: bool = False) -> Unheard:
    heard = saying.heard
    reason = Reason.WEAK_MATCH if heard.reason is None else heard.reason
    return Unheard(heard.start, heard.end, reason.value, heard.meaning, faint)


def _sure(saying: Saying) -> bool:
    heard = saying.heard
    return heard.reason in ASKED and heard.wrong is not None and heard.wrong <= SURE_WRONG


def _read(saying: Saying, meaning: Meaning) -> Spoken:
    heard = saying.heard
    tokens = tokens_of(saying.heard.words or ())
    values = meaning.numbers
    if not values and meaning.pieces is not None and meaning.item is not None:
        values = (1,)  # "balfour, four pieces" is one of it
    spans = spans_of(tokens, values, last=meaning.form is not Form.NUMBER_FIRST)
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
