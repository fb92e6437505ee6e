"""What may be said, as a graph of words; shared by every recogniser.

A path from the start to a final state is one utterance. ``read_tokens`` gives its meaning, and
``parse`` finds the paths of a list of words. The graph is made of names only: it never learns
how many of an item are expected or how many a package holds.
"""

import re
from collections.abc import Iterator, Sequence
from itertools import count

from voicecount.words.graph import Arc, Grammar, Named, Names, Phones, Tag, Token
from voicecount.words.meaning import Form, Meaning
from voicecount.words.numbers import NUMBER_WORDS, joins, read_run, words_of
from voicecount.words.vocabulary import FIRST, Vocabulary

__all__ = ["Arc", "Grammar", "Named", "Names", "Tag", "Token"]
__all__ += ["build_grammar", "parse", "read_tokens"]

AND = Token(Tag.LINK, ("and",))
A = Token(Tag.LINK, ("a",))
IN = Token(Tag.LINK, ("in",))
EACH = Token(Tag.LINK, ("each",))
YES = Token(Tag.LINK, ("yes",))
NONE = Token(Tag.NONE, ("none",))
NO = Token(Tag.NONE, ("no",))
PIECES = (Token(Tag.PIECES, ("pieces",)), Token(Tag.PIECES, ("piece",)))
TOTALS = tuple(Token(Tag.TOTAL, words) for words in (("total",), ("total", "of"), ("in", "all")))
NUMBERS = {value: Token(Tag.NUMBER, (word,), value) for word, value in NUMBER_WORDS.items()}
"""Every number word by its value."""

_START, _YES, _NAME, _ONE, _RUN, _FIRST, _FIRST_NAME, _IN, _HOW_MANY = range(9)
_PIECES, _TOTAL, _NO, _NOT_COUNTED, _END = range(9, 14)
_AT, _NAME_AT = range(14, 16)
_FRESH = 16
_FINALS = frozenset(
    {_NAME, _ONE, _RUN, _FIRST, _FIRST_NAME, _PIECES, _NOT_COUNTED, _END, _AT, _NAME_AT},
)


def build_grammar(sheet: Names, vocabulary: Vocabulary = FIRST) -> Grammar:
    """Build the graph of a sheet's names, the numbers 0 to 199, and what else may be said."""
    items = tuple(_names(Tag.ITEM, sheet.items))
    not_counted = tuple(_names(Tag.NOT_COUNTED, sheet.not_counted))
    fresh = count(_FRESH)
    places = tuple(
        Token(Tag.PLACE, words_of(phrase), place.id)
        for place in vocabulary.places
        for phrase in place.phrases
    )
    after_place = ((_AT, _NAME_AT),) if places else ()
    arcs = [
        *_frame(fresh),
        *(_with_places(places, fresh) if places else ()),
        *(
            Arc(source, target, name)
            for source, target in (
                *((_START, _NAME), (_FIRST, _FIRST_NAME), (_NO, _END)),
                *after_place,
            )
            for name in items
        ),
        *(Arc(state, _NOT_COUNTED, name) for state in (_START, _FIRST) for name in not_counted),
        *(
            Arc(_START, _END, Token(Tag.COMMAND, words_of(phrase), command.id))
            for command in vocabulary.commands
            for phrase in command.phrases
        ),
        *(
            Arc(_START, _END, Token(Tag.CHOICE, words_of(phrase), choice.id))
            for choice in vocabulary.choices
            for phrase in choice.phrases
        ),
    ]
    sounds: dict[str, tuple[Phones, ...]] = {}
    for named in (*sheet.items, *sheet.not_counted):
        for word, phones in named.sounds.items():
            sounds[word] = tuple(dict.fromkeys((*sounds.get(word, ()), *phones)))
    return Grammar(
        tuple(arcs), _START, _FINALS, (*items, *not_counted), tuple(sorted(sounds.items()))
    )


def read_tokens(tokens: Sequence[Token]) -> Meaning | None:
    """Give the meaning of a whole utterance, or None if it is not one count, name or command.

    A name that begins with a number word is not read after a number that it could be part of:
    "twenty five blade" could be said of 25 as well as of 20.
    """
    shape, values = _group(tokens)
    for form, pattern in _SHAPES:
        if (match := pattern.fullmatch(shape)) is not None:
            return _meaning(form, match, values)
    return None


def parse(words: Sequence[str], grammar: Grammar) -> list[tuple[Meaning, tuple[Token, ...]]]:
    """Give every whole reading of a list of words; a good sheet has at most one."""
    paths = dict.fromkeys(_paths(tuple(words), grammar))
    read = ((read_tokens(path), path) for path in paths)
    return [(meaning, path) for meaning, path in read if meaning is not None]


_LETTERS = {Tag.ITEM: "I", Tag.PIECES: "P", Tag.NONE: "0", Tag.TOTAL: "T", Tag.COMMAND: "C"}
_LETTERS |= {Tag.NOT_COUNTED: "X", Tag.PLACE: "L", Tag.CHOICE: "A"}
_LINKS = {IN: "i", EACH: "e", YES: "y"}

_SHAPES: tuple[tuple[Form, re.Pattern[str]], ...] = tuple(
    (form, re.compile(pattern))
    for form, pattern in (
        (Form.PLACE, r"(?P<place>L)"),
        (Form.NAME, r"(?P<item>I)(?P<place>L?)|(?P<first>L)(?P<named>I)"),
        (Form.RUN, r"(?P<item>I?)(?P<place>L?)(?P<numbers>N+)"),
        (Form.RUN, r"(?P<place>L)(?P<item>I)(?P<numbers>N+)"),
        (Form.RUN, r"y(?P<item>I?)(?P<numbers>N)"),
        (Form.NUMBER_FIRST, r"y?(?P<numbers>N)(?P<item>I)(?P<place>L?)"),
        (Form.NUMBER_FIRST, r"(?P<place>L)(?P<numbers>N)(?P<item>I)"),
        (Form.RUN, r"y?(?P<item>I?)(?P<place>L?)(?P<numbers>N*)i?(?P<pieces>N)Pe?"),
        (Form.NUMBER_FIRST, r"y?(?P<numbers>N)(?P<item>I)i?(?P<pieces>N)Pe?"),
        (Form.RUN, r"(?P<place>L)(?P<item>I)(?P<numbers>N*)(?P<pieces>N)Pe?"),
        (Form.TOTAL, r"(?P<item>I)(?P<place>L?)(T(?P<numbers>N)|(?P<number>N)T)"),
        (Form.TOTAL, r"(?P<place>L)(?P<item>I)(T(?P<numbers>N)|(?P<number>N)T)"),
        (Form.NONE, r"(?P<item>I?)(?P<place>L?)0|(?P<first>L)(?P<named>I)0|0(?P<other>I)"),
        (Form.NOT_COUNTED, r"y?(?P<numbers>N?)(?P<item>X)(?P<number>N*)"),
        (Form.COMMAND, r"(?P<command>C)"),
        (Form.CHOICE, r"(?P<choice>A)"),
    )
)
"""Whole utterances, one letter a token; each number, however many words, is one N."""


def _names(tag: Tag, lines: Sequence[Named]) -> Iterator[Token]:
    """Give every name of every line, singular and plural, each once a line."""
    for line in lines:
        spoken = (words_of(text) for say in line.say for text in (say.one, say.many))
        yield from dict.fromkeys(Token(tag, words, line.id) for words in spoken)


def _with_places(places: Sequence[Token], fresh: Iterator[int]) -> Iterator[Arc]:
    """Give what a place adds: before or after a name, before its numbers, or alone."""
    for place in places:
        yield Arc(_START, _AT, place)
        yield Arc(_NAME, _NAME_AT, place)
        yield Arc(_FIRST_NAME, _END, place)
    for state in (_START, _AT, _NAME_AT):
        yield Arc(state, _END, NONE)
    yield from _numbers(_AT, _FIRST, fresh)
    yield from _numbers(_NAME_AT, _ONE, fresh)
    for token in TOTALS:
        yield Arc(_NAME_AT, _TOTAL, token)


def _frame(fresh: Iterator[int]) -> list[Arc]:
    """Give everything but names and commands."""
    return [
        Arc(_START, _YES, YES),
        Arc(_START, _NO, NO),
        Arc(_NAME, _END, NONE),
        *(Arc(state, _IN, IN) for state in (_START, _NAME, _ONE, _RUN, _FIRST, _FIRST_NAME)),
        *(
            Arc(state, _PIECES, token)
            for state in (_ONE, _RUN, _FIRST, _HOW_MANY)
            for token in PIECES
        ),
        Arc(_PIECES, _END, EACH),
        *(Arc(_NAME, _TOTAL, token) for token in TOTALS),
        *(Arc(_ONE, _END, token) for token in TOTALS if token.words != ("total", "of")),
        *_numbers(_START, _FIRST, fresh),
        *_numbers(_YES, _FIRST, fresh),
        *_numbers(_FIRST, _RUN, fresh),
        *_numbers(_NAME, _ONE, fresh),
        *_numbers(_ONE, _RUN, fresh),
        *_numbers(_RUN, _RUN, fresh),
        *_numbers(_TOTAL, _END, fresh),
        *_numbers(_IN, _HOW_MANY, fresh),
        *_numbers(_FIRST_NAME, _HOW_MANY, fresh),
        *_numbers(_NOT_COUNTED, _NOT_COUNTED, fresh),
    ]


def _numbers(source: int, target: int, fresh: Iterator[int]) -> Iterator[Arc]:
    """Give the arcs of exactly one number between two states.

    A word that may end the number or go on has two arcs; so whatever follows a number hangs on
    one state only.
    """
    after_tens, hundred, joined, below = (next(fresh) for _ in range(4))
    for value, token in NUMBERS.items():
        if value < 100:
            yield Arc(source, target, token)
        if 1 <= value <= 9:
            yield Arc(after_tens, target, token)
        if 1 <= value < 100:
            yield Arc(below, target, token)
        if 20 <= value < 100:
            yield Arc(source, after_tens, token)
            yield Arc(below, after_tens, token)
    yield Arc(source, hundred, NUMBERS[1])
    yield Arc(source, hundred, A)
    for state in (target, joined, below):
        yield Arc(hundred, state, NUMBERS[100])
    yield Arc(joined, below, AND)


def _paths(words: tuple[str, ...], grammar: Grammar) -> Iterator[tuple[Token, ...]]:
    """Walk every path that says exactly these words."""
    stack: list[tuple[int, int, tuple[Token, ...]]] = [(grammar.start, 0, ())]
    seen = set(stack)
    while stack:
        state, at, path = stack.pop()
        if at == len(words):
            if state in grammar.finals:
                yield path
            continue
        for arc in grammar.by_first_word.get((state, words[at]), ()):
            end = at + len(arc.token.words)
            if words[at:end] == arc.token.words:
                step = (arc.target, end, (*path, arc.token))
                if step not in seen:
                    seen.add(step)
                    stack.append(step)


def _group(tokens: Sequence[Token]) -> tuple[str, list[str | int | None]]:
    """Give one letter and one value for each token, each whole number being one."""
    shape = ""
    values: list[str | int | None] = []
    number_words: list[str] = []
    for token in (*tokens, None):
        if token is not None and (token.tag is Tag.NUMBER or token in {A, AND}):
            number_words.extend(token.words)
            continue
        if number_words:
            numbers = read_run(number_words)
            if numbers is None or (token is not None and _runs_into(number_words, token)):
                return "?", []
            shape += "N" * len(numbers)
            values.extend(numbers)
            number_words = []
        if token is not None:
            shape += _LETTERS.get(token.tag) or _LINKS.get(token, "?")
            values.append(token.value)
    return shape, values


def _runs_into(number_words: Sequence[str], token: Token) -> bool:
    """Tell whether a number and the name after it could be grouped in another way."""
    first = NUMBER_WORDS.get(token.words[0], 0) if token.tag is Tag.ITEM else 0
    return joins(NUMBER_WORDS.get(number_words[-1], 0), first)


def _meaning(
    form: Form, match: re.Match[str], values: Sequence[str | int | None]
) -> Meaning | None:
    """Fill the meaning of a form from the places that its shape names."""

    def at(*groups: str) -> list[str | int | None]:
        known = (group for group in groups if group in match.re.groupindex)
        spans = (match.span(group) for group in known if match[group])
        return [value for start, end in spans for value in values[start:end]]

    ids = {
        group: next((value for value in at(*groups) if isinstance(value, str)), None)
        for group, groups in _IDS.items()
    }
    numbers = tuple(value for value in at("numbers", "number") if isinstance(value, int))
    pieces = next((value for value in at("pieces") if isinstance(value, int)), None)
    name, place = ids["item"], ids["place"]
    if form is Form.COMMAND:
        return Meaning(form, command=ids["command"])
    if form is Form.CHOICE:
        return Meaning(form, choice=ids["choice"])
    if pieces == 0:
        return None
    nothing = name is not None and form is not Form.NOT_COUNTED and numbers == (0,)
    if form is Form.NONE or nothing:
        return Meaning(Form.NONE, name, (0,), place=place) if pieces is None else None
    return Meaning(form, name, numbers, pieces, place=place)


_IDS = {
    "item": ("item", "named", "other"),
    "place": ("place", "first"),
    "command": ("command",),
    "choice": ("choice",),
}
"""Which groups of a shape hold which id."""
