"""The typed recogniser: words from text, so that every rule can be tried without sound.

What a sheet allows is taken as it is. A misspelled name is taken if it is near one line and far
from all others. Numbers are never guessed, and nothing is cut off or filled in to make a count.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz

from voicecount import __version__
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.words.grammar import parse
from voicecount.words.graph import Grammar, Tag
from voicecount.words.match import NEAR, NameMatch, Pronounces, match_name
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import NUMBER_WORDS, words_of

_LONGEST_NAME = 6
"""Words of a name that is not on the sheet; more are talk."""
_WIDEN = 2
"""Words of the grammar that a misspelled name may have at either end: "number ten blaid"."""

_ROOM = frozenset(
    (
        *("ago", "am", "are", "at", "be", "can", "could", "degrees", "did", "do", "for", "from"),
        *("grams", "hours", "i", "is", "it", "let", "litres", "me", "milligrams", "millilitres"),
        *("minute", "minutes", "moment", "more", "my", "need", "not", "okay", "on", "our"),
        *("percent", "please", "second", "seconds", "she", "so", "some", "that", "the", "them"),
        *("then", "there", "they", "this", "times", "to", "us", "want", "was", "we", "were"),
        *("what", "when", "where", "will", "with", "would", "years", "you", "your"),
    )
)
"""Words that no name is made of: a number beside one of them is talk ("two more minutes")."""


@dataclass(frozen=True)
class _Reading:
    """What an utterance may mean once some of its words are taken for a name."""

    match: NameMatch
    meaning: Meaning
    text: str


@dataclass(frozen=True)
class _Judged:
    """What became of a list of words."""

    meaning: Meaning | None
    text: str
    reason: Reason | None
    """None when they are accepted."""


class TypedRecogniser:
    """Understands text. A lexicon makes names match by sound too, not by spelling alone."""

    def __init__(self, lexicon: Pronounces | None = None) -> None:
        self._lexicon = lexicon

    @property
    def name(self) -> str:
        """Name and version, for the record."""
        return f"typed {__version__}"

    def understand(
        self, text: str, grammar: Grammar, *, channel: int = 0, start: float = 0.0, end: float = 0.0
    ) -> Heard:
        """Understand one utterance. ``start`` and ``end`` are seconds, as given."""
        judged = self._judge(words_of(text), grammar)
        outcome = Outcome.ACCEPTED if judged.reason is None else Outcome.UNSURE
        if judged.reason in {Reason.NO_SPEECH, Reason.NOT_FOR_US}:
            outcome = Outcome.IGNORED
        return Heard(
            channel, start, end, outcome, judged.meaning, judged.text, reason=judged.reason
        )

    def _judge(self, words: tuple[str, ...], grammar: Grammar) -> _Judged:
        """Understand a list of words."""
        text = " ".join(words)
        meanings = list(dict.fromkeys(meaning for meaning, _ in parse(words, grammar)))
        if len(meanings) == 1:
            return _whole(meanings[0], text)
        if meanings:
            return _Judged(meanings[0], text, Reason.CLOSE_CALL)
        readings = sorted(self._near(words, grammar), key=lambda reading: -reading.match.score)
        if not readings:
            return _Judged(None, text, _why_not(words, grammar))
        best = readings[0]
        rivals = (other for other in readings if other.match.score == best.match.score)
        if best.match.clear and all(other.meaning == best.meaning for other in rivals):
            return _whole(best.meaning, best.text)
        return _Judged(best.meaning, text, Reason.UNCLEAR_NAME)

    def _near(self, words: tuple[str, ...], grammar: Grammar) -> Iterator[_Reading]:
        """Give the readings with some words taken for a name that they are near to."""
        for start, end in _unknown(words, grammar):
            said = words[start:end]
            if grammar.name_words.issuperset(said):
                continue  # nothing is misspelled: it is another name, not a bad one
            match = match_name(said, grammar, self._lexicon)
            if match is None or not match.near:
                continue
            respelled = (*words[:start], *match.name.words, *words[end:])
            for meaning, _ in parse(respelled, grammar):
                yield _Reading(match, meaning, " ".join(respelled))


def _whole(meaning: Meaning, text: str) -> _Judged:
    """Judge what has one meaning: a name alone is no count."""
    return _Judged(meaning, text, Reason.NO_NUMBER if meaning.form is Form.NAME else None)


def _why_not(words: tuple[str, ...], grammar: Grammar) -> Reason:
    """Tell why words have no meaning."""
    if not words:
        return Reason.NO_SPEECH
    name = next(token for token in grammar.names if token.tag is Tag.ITEM).words
    if parse((*name, *words), grammar):
        return Reason.NO_ITEM
    numbered, named = _holds_number(words), _holds_name(words, grammar)
    for start, end in _unknown(words, grammar):
        said = words[start:end]
        if _holds_name(said, grammar) or _holds_number(said):
            continue
        if numbered and parse((*words[:start], *name, *words[end:]), grammar):
            if len(said) > _LONGEST_NAME or not _ROOM.isdisjoint(said):
                return Reason.NOT_FOR_US
            return Reason.UNCLEAR_NAME if _part_of_two(said, grammar) else Reason.UNKNOWN_NAME
    known = sum(_is_known(word, grammar) for word in words)
    if ((numbered or named) and 2 * known > len(words)) or _near_command(words, grammar):
        return Reason.NOT_A_COUNT
    return Reason.NOT_FOR_US


def _unknown(words: tuple[str, ...], grammar: Grammar) -> Iterator[tuple[int, int]]:
    """Give the places that a name would have to take: all that is not the grammar's own words.

    They may be a little wider, since a name may hold words of the grammar too.
    """
    strange = [at for at, word in enumerate(words) if word not in grammar.frame_words]
    if not strange:
        return
    first, last = strange[0], strange[-1] + 1
    for start in range(first, max(first - _WIDEN, 0) - 1, -1):
        for end in range(last, min(last + _WIDEN, len(words)) + 1):
            yield start, end


def _is_known(word: str, grammar: Grammar) -> bool:
    """Tell whether a word is a number, stands around names, or is part of one."""
    return word.isdigit() or word in grammar.frame_words or word in grammar.name_words


def _holds_number(words: Sequence[str]) -> bool:
    """Tell whether a number is among the words, also one that is too large to be said."""
    return any(word in NUMBER_WORDS or word.isdigit() for word in words)


def _near_command(words: Sequence[str], grammar: Grammar) -> bool:
    """Tell whether the words are a misspelled command; asked for again, never carried out."""
    commands = [arc.token.words for arc in grammar.arcs if arc.token.tag is Tag.COMMAND]
    if {word for command in commands for word in command}.issuperset(words):
        return False
    said = " ".join(words)
    return any(fuzz.ratio(said, " ".join(command)) >= NEAR for command in commands)


def _holds_name(words: Sequence[str], grammar: Grammar) -> bool:
    """Tell whether a whole name from the sheet is among the words."""
    said = f" {' '.join(words)} "
    return any(f" {' '.join(name.words)} " in said for name in grammar.names)


def _part_of_two(words: Sequence[str], grammar: Grammar) -> bool:
    """Tell whether all words are words of names of two lines: "Kelly" of curved and straight."""
    lines = {name.value for name in grammar.names if set(words) <= set(name.words)}
    return len(lines) > 1
