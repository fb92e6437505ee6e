"""The phrase list for Vosk, with a spelling for every word, and the way back to our words."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from voicecount.errors import ModelError
from voicecount.hear.respell import Respeller, Respelling
from voicecount.hear.vosk_model import Timed
from voicecount.words.graph import Grammar, Tag, Token
from voicecount.words.pronounce import Lexicon

UNKNOWN = "[unk]"
"""What the model writes for a word that is not on the list, where it knows this mark."""

_NAMED = 5


@dataclass(frozen=True)
class Spelling:
    """How one word of the grammar is given to the model; for a person to look at."""

    word: str
    used_by: str
    """What the word is part of: the item's id, the command's, or "numbers"."""
    respelling: Respelling | None = None
    """None where the model knows the word itself."""


@dataclass(frozen=True)
class WordList:
    """What a grammar becomes for one model."""

    phrases: tuple[str, ...]
    spellings: tuple[Spelling, ...]
    """Every word once, in the order of the sheet."""

    def original(self, words: Sequence[Timed]) -> tuple[Timed, ...]:
        """Put our own words back in the place of their respellings."""
        ways = sorted(
            (entry.respelling for entry in self.spellings if entry.respelling is not None),
            key=lambda respelling: -len(respelling.words),
        )
        texts = [word.text for word in words]
        result: list[Timed] = []
        at = 0
        while at < len(words):
            for way in ways:
                end = at + len(way.words)
                if tuple(texts[at:end]) == way.words:
                    result.append(Timed(way.word, words[at].start, words[end - 1].end))
                    break
            else:
                end = at + 1
                result.append(words[at])
            at = end
        return tuple(result)


def word_list(grammar: Grammar, knows: Callable[[str], bool], model: str) -> WordList:
    """Make the phrase list of a grammar for a model that knows some words.

    Names and commands are phrases. Numbers are single words on purpose: a phrase "one two three"
    would make the model expect the next number, and hide one that was skipped. Raises ModelError
    naming each item that has a word for which no spelling was found; nothing is ever left out.
    """
    uses = _uses(grammar)
    unknown = [word for word in uses if not knows(word)]
    numbers = [word for word in unknown if Tag.NUMBER in {token.tag for token in uses[word]}]
    if numbers:
        raise ModelError(
            f"the Vosk model '{model}' does not know the number word '{numbers[0]}'; it needs an "
            "English model"
        )
    ways = _respell(unknown, grammar, knows) if unknown else {}
    _refuse(unknown, uses, ways, model)
    phrases = dict.fromkeys(
        " ".join(part for word in arc.token.words for part in _spelled(word, ways))
        for arc in grammar.arcs
    )
    if knows(UNKNOWN):
        phrases[UNKNOWN] = None
    spellings = tuple(
        Spelling(word, _used_by(tokens[0]), ways.get(word)) for word, tokens in uses.items()
    )
    return WordList(tuple(phrases), spellings)


def _uses(grammar: Grammar) -> dict[str, list[Token]]:
    """Give every word with the tokens that hold it: first the names, then the rest."""
    uses: dict[str, list[Token]] = {}
    for token in dict.fromkeys((*grammar.names, *(arc.token for arc in grammar.arcs))):
        for word in token.words:
            uses.setdefault(word, []).append(token)
    return uses


def _respell(
    unknown: Iterable[str], grammar: Grammar, knows: Callable[[str], bool]
) -> dict[str, Respelling]:
    """Find respellings; of two words with the same one, both stay without."""
    respeller = Respeller(knows, grammar.words, Lexicon(dict(grammar.sounds)))
    found = {word: way for word in unknown if (way := respeller.respell(word)) is not None}
    spelled = [way.words for way in found.values()]
    return {word: way for word, way in found.items() if spelled.count(way.words) == 1}


def _spelled(word: str, ways: dict[str, Respelling]) -> tuple[str, ...]:
    return ways[word].words if word in ways else (word,)


def _refuse(
    unknown: Iterable[str],
    uses: dict[str, list[Token]],
    ways: dict[str, Respelling],
    model: str,
) -> None:
    problems = [f"'{word}' ({_used_by(uses[word][0])})" for word in unknown if word not in ways]
    if not problems:
        return
    more = f" and {len(problems) - _NAMED} more" if len(problems) > _NAMED else ""
    raise ModelError(
        f"the Vosk model '{model}' does not know, and cannot spell by sound: "
        f"{', '.join(problems[:_NAMED])}{more}; give the item other words in say:, or its sound "
        "in sounds:"
    )


def _used_by(token: Token) -> str:
    if token.tag is Tag.ITEM:
        return f"item {token.value}"
    if token.tag is Tag.NOT_COUNTED:
        return f"not counted: {token.value}"
    if token.tag is Tag.COMMAND:
        return f"command {token.value}"
    return "numbers" if token.tag is Tag.NUMBER else "counting"
