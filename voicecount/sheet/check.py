"""What a well-formed sheet can still get wrong: names that clash, or cannot be told from a count.

A name may hold a number word ("number ten blade") as long as nothing that can be said has two
meanings. That is proved over the whole language of the sheet, see voicecount/words/ambiguity.py.
"""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from voicecount.sheet.model import Sheet, Spoken
from voicecount.sheet.vocabularies import of_sheet
from voicecount.words.ambiguity import Ambiguity, find_ambiguity
from voicecount.words.commands import COMMANDS
from voicecount.words.grammar import build_grammar
from voicecount.words.graph import Tag, Token
from voicecount.words.numbers import LARGEST, NUMBER_WORDS, joins, words_of

_WORD = re.compile(r"[a-z]+(?:'[a-z]+)*'?")
_RUN_ON = "every count begins with 'one', and the two would run into one number"


@dataclass(frozen=True)
class Problem:
    """Something to be put right."""

    place: tuple[str | int, ...]
    """The path in the sheet: field names and places in lists, from 0."""
    what: str
    """What is wrong and what to do."""


@dataclass(frozen=True)
class _Name:
    """One way of saying a line, and where it stands."""

    owner: str
    place: tuple[str | int, ...]
    words: tuple[str, ...]


def check_sheet(sheet: Sheet) -> tuple[Problem, ...]:
    """Give every problem, in the order they are looked for; none for a sheet that can be used."""
    names = tuple(_names(sheet))
    problems = (
        *(*_same_ids(sheet), *_words(names), *_same_names(names), *_sounds(sheet)),
        *_case_words(sheet),
    )
    if problems:
        return problems
    ambiguity = find_ambiguity(build_grammar(sheet))
    if ambiguity is not None:
        return (_two_readings(ambiguity, names),)
    for field, vocabulary in of_sheet(sheet):
        ambiguity = find_ambiguity(build_grammar(sheet, vocabulary))
        if ambiguity is not None:
            return (_clash(field, ambiguity, names),)
    return ()


def _names(sheet: Sheet) -> Iterator[_Name]:
    """Give every name, singular and plural."""
    for field in ("items", "not_counted"):
        lines = sheet.items if field == "items" else sheet.not_counted
        for at, line in enumerate(lines):
            for which, spoken in enumerate(line.say):
                for words in dict.fromkeys((words_of(spoken.one), words_of(spoken.many))):
                    yield _Name(line.id, (field, at, "say", which), words)


def _same_ids(sheet: Sheet) -> Iterator[Problem]:
    """Give ids that stand twice."""
    seen: set[str] = set()
    for field, lines in (("items", sheet.items), ("not_counted", sheet.not_counted)):
        for at, line in enumerate(lines):
            if line.id in seen:
                what = f"{line.id!r} is the id of another line too; give each line its own"
                yield Problem((field, at, "id"), what)
            seen.add(line.id)


def _words(names: tuple[_Name, ...]) -> Iterator[Problem]:
    """Give names whose words cannot be spoken, or would run into the count."""
    told: set[tuple[str | int, ...]] = set()
    for name in names:
        what = _bad_words(name.words)
        if what is not None and name.place not in told:
            told.add(name.place)
            yield Problem(name.place, what)


def _bad_words(words: tuple[str, ...]) -> str | None:
    """Tell what is wrong with the words of one name."""
    text = " ".join(words)
    if not words:
        return "a name needs a word; write it as it is said"
    for word in words:
        if word.isdigit():
            return f"{word} cannot be said here (0 to {LARGEST}); write it in words as it is said"
        if _WORD.fullmatch(word) is None:
            return (
                f"{word!r} in {text!r} cannot be spoken; write the name as it is said, with"
                " letters a to z, apostrophes and hyphens"
            )
    if all(word in NUMBER_WORDS for word in words):
        return f"{text!r} is nothing but a number; add a word, such as 'number {text} blade'"
    if joins(NUMBER_WORDS.get(words[-1], 0), 1):
        return f"{text!r} ends with {words[-1]!r}, and {_RUN_ON}; put a word after it"
    return None


def _case_words(sheet: Sheet) -> Iterator[Problem]:
    """Give counts, sites and people whose words cannot be spoken."""
    fields = {
        "plan": [count.say for count in sheet.plan],
        "sites": [site.say for site in sheet.sites],
        "team": [person.say for person in sheet.team],
    }
    for field, said in fields.items():
        for at, text in enumerate(said):
            words = words_of(text)
            if not words or not all(_WORD.fullmatch(word) for word in words):
                what = f"{text!r} cannot be spoken; write it in words, as it is said"
                yield Problem((field, at, "say"), what)


def _same_names(names: tuple[_Name, ...]) -> Iterator[Problem]:
    """Give names that mean two lines, or a line and a command."""
    commands = {words_of(phrase): command.id for command in COMMANDS for phrase in command.phrases}
    owners: dict[tuple[str, ...], str] = {}
    told: set[tuple[str | int, ...]] = set()
    for name in names:
        text = " ".join(name.words)
        other = owners.setdefault(name.words, name.owner)
        what = None
        if other != name.owner:
            what = f"{text!r} is a name of {other!r} too; a spoken name can mean one line only"
        elif name.words in commands:
            what = f"{text!r} is what the command {commands[name.words]!r} is called; use another"
        if what is not None and name.place not in told:
            told.add(name.place)
            yield Problem(name.place, what)


def _sounds(sheet: Sheet) -> Iterator[Problem]:
    """Give pronunciations of words that the line's names do not have."""
    for field, lines in (("items", sheet.items), ("not_counted", sheet.not_counted)):
        for at, line in enumerate(lines):
            words = {word for say in line.say for word in _spoken_words(say)}
            for word in line.sounds:
                if word not in words:
                    what = (
                        f"{word!r} is in none of the names; use one of {', '.join(sorted(words))}"
                    )
                    yield Problem((field, at, "sounds", word), what)


def _spoken_words(say: Spoken) -> tuple[str, ...]:
    """Give the words of a name, singular and plural."""
    return (*words_of(say.one), *words_of(say.many))


def _two_readings(ambiguity: Ambiguity, names: tuple[_Name, ...]) -> Problem:
    """Tell of words with two meanings, at the longer of the names that they hold."""
    first, second = _shown(ambiguity.first), _shown(ambiguity.second)
    said = [token for token in (*ambiguity.first, *ambiguity.second) if _is_name(token)]
    token = max(said, key=lambda token: len(token.words))
    name = next(name for name in names if (name.owner, name.words) == (token.value, token.words))
    what = (
        f"{' '.join(name.words)!r} cannot be told from a count: {ambiguity.text!r} could be"
        f" {first} or {second}; add a word to the name, such as 'number' before a number"
    )
    return Problem(name.place, what)


def _clash(field: str, ambiguity: Ambiguity, names: tuple[_Name, ...]) -> Problem:
    """Tell of words of the case with two meanings: at a line's name if one is in it."""
    tokens = (*ambiguity.first, *ambiguity.second)
    answer = any(token.tag is Tag.CHOICE for token in tokens)
    if not answer and any(_is_name(token) for token in tokens):
        return _two_readings(ambiguity, names)
    text = ambiguity.text
    return Problem((field,), f"{text!r} has two meanings there; say one of them in another way")


def _is_name(token: Token) -> bool:
    """Tell whether a token is a name from the sheet."""
    return token.tag in {Tag.ITEM, Tag.NOT_COUNTED}


def _shown(tokens: tuple[Token, ...]) -> str:
    """Show how words are grouped."""
    kinds = Counter(token.tag for token in tokens)
    if kinds == Counter({Tag.COMMAND: 1}):
        return f"the command {tokens[0].value!r}"
    parts = (
        f"[{' '.join(token.words)}]" if _is_name(token) else " ".join(token.words)
        for token in tokens
    )
    return " ".join(parts)
