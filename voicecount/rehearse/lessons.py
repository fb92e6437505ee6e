"""From sayings that were examined to what is kept: candidates, their proof, and who they harm."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from voicecount.hear.embedded.graph import ways
from voicecount.hear.embedded.spell import respellings, spellings
from voicecount.rehearse import pronounced, respelled
from voicecount.rehearse.alike import Names
from voicecount.rehearse.ears import Examined
from voicecount.rehearse.learned import MOST_SOUNDS, MOST_SPELLINGS, Learnt
from voicecount.words.grammar import parse
from voicecount.words.graph import Grammar, Phones, Token

LEAST_GAIN = 1.0
"""Nats that a candidate must bring on the sayings kept for the proof, on average; what fits as
well as all that is known already brings 0.7."""
CLEAR = 3.0
"""Nats by which the right name must stay ahead of a candidate on another line's saying."""
_TRIED = 6
"""Spellings of a name that are proved, the most frequent first; pronunciations twice as many."""


@dataclass(frozen=True)
class Example:
    """One saying that was examined."""

    line: str
    before: tuple[str, ...]
    name: tuple[str, ...]
    after: tuple[str, ...]
    written: str
    """What the text decoder wrote."""
    ear: Examined
    teaches: bool = True

    def tokens(self, grammar: Grammar) -> tuple[Token, ...]:
        """Give the right reading's tokens."""
        read = parse((*self.before, *self.name, *self.after), grammar)
        return next(tokens for meaning, tokens in read if meaning.item == self.line)


@dataclass
class Lesson:
    """What one spoken name has taught, and what was refused and why."""

    sounds: dict[str, tuple[str, ...]] = field(default_factory=dict)
    spelled: dict[str, tuple[str, ...]] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)

    def learnt(self, line: str, name: str) -> Learnt:
        """Give it as it is kept."""
        return Learnt(item=line, name=name, sounds=self.sounds, spelled=self.spelled)


def learn(
    examples: Sequence[Example], others: Sequence[Example], grammar: Grammar, names: Names
) -> Lesson:
    """Learn from the sayings of one spoken name.

    ``others`` are sayings of other lines, at least of those that sound nearest: nothing is kept
    that comes near to the right name there.
    """
    lesson = Lesson()
    _learn_sounds(lesson, examples, others, names)
    _learn_spellings(lesson, examples, others, grammar, names)
    return lesson


def _learn_sounds(
    lesson: Lesson, examples: Sequence[Example], others: Sequence[Example], names: Names
) -> None:
    heard: Counter[tuple[str, Phones]] = Counter()
    plurals = _plurals(examples)
    for example in examples:
        if example.teaches:
            for word, way in _heard(example, names):
                heard[word, way] += 1
                other = pronounced.sibling(word, way, plurals, names.lexicon)
                if other is not None:
                    heard[plurals[word], other] += 1
    for (word, way), _ in heard.most_common(2 * _TRIED):
        whole = next(e for e in examples if word in e.name)
        if len(lesson.sounds.get(word, ())) >= MOST_SOUNDS:
            continue
        why = pronounced.why_refused(way, word, (whole.line, whole.name), names)
        if why is None:
            why = _unproved_sound(word, way, examples, others, names)
        shown = " ".join(way)
        if why is None:
            lesson.sounds[word] = (*lesson.sounds.get(word, ()), shown)
        elif why != pronounced.KNOWN:
            lesson.refused.append(f"{word} as {shown}: {why}")


def _heard(example: Example, names: Names) -> Iterator[tuple[str, Phones]]:
    """Give each word of the name with the phones that were heard in its place."""
    before, after = (_phones(part, names) for part in (example.before, example.after))
    best = pronounced.likeliest(
        example.name, names.lexicon, (before, after), example.ear.fit_sounds
    )
    parts = [part for part in (before, *best, after) if part]
    found = example.ear.phones_in(parts)
    first = 1 if before else 0
    for word, way in zip(example.name, found[first : first + len(best)], strict=True):
        if way:
            yield word, way


def _unproved_sound(
    word: str, way: Phones, examples: Sequence[Example], others: Sequence[Example], names: Names
) -> str | None:
    gains = []
    for example in (e for e in examples if not e.teaches and word in e.name):
        known = _strings(example, example.name, names)
        said = pronounced.said_with(example.name, names.lexicon, word, way)
        new = _around(example, names, said)
        scores = example.ear.fit_sounds([*known, new])
        gains.append(pronounced.gain(scores[:-1], scores[-1:]))
    if not gains:
        return "nothing to prove it by"
    if sum(gains) / len(gains) < LEAST_GAIN:
        return "it helps too little"
    own = next(e for e in examples if word in e.name)
    said = pronounced.said_with(own.name, names.lexicon, word, way)
    for other in others:
        known = _strings(other, other.name, names)
        scores = other.ear.fit_sounds([*known, _around(other, names, said)])
        if max(scores[:-1]) - scores[-1] < CLEAR:
            return f"it takes over {' '.join(other.name)}"
    return None


def _learn_spellings(
    lesson: Lesson,
    examples: Sequence[Example],
    others: Sequence[Example],
    grammar: Grammar,
    names: Names,
) -> None:
    known = {part: set(map(str.lower, texts)) for part, texts in respellings(grammar).items()}
    plurals = _plurals(examples)
    found: dict[respelled.Found, int] = {}
    for example in examples:
        if not example.teaches:
            continue
        words = respelled.name_part(example.written, example.before, example.after)
        left = respelled.difference(example.name, words) if words else None
        if left is not None and left[1].lower() not in known.get(left[0], ()):
            found[left] = found.get(left, 0) + 1
            other = " ".join(plurals.get(word, word) for word in left[0].split())
            if other != left[0]:
                several = (other, left[1] + "s")
                found[several] = found.get(several, 0) + 1
    for part, text in sorted(found, key=lambda one: -found[one])[:_TRIED]:
        whole = next(e for e in examples if _holds(part, e.name))
        if len(lesson.spelled.get(part, ())) >= MOST_SPELLINGS:
            continue
        why = respelled.why_refused((part, text), whole.line, whole.name, names)
        if why is None:
            why = _unproved_spelling(part, text, examples, others, grammar)
        if why is None:
            lesson.spelled[part] = (*lesson.spelled.get(part, ()), text)
        else:
            lesson.refused.append(f'{part} as "{text}": {why}')


def _unproved_spelling(
    part: str,
    text: str,
    examples: Sequence[Example],
    others: Sequence[Example],
    grammar: Grammar,
) -> str | None:
    known = respellings(grammar)
    gains = []
    for example in (e for e in examples if not e.teaches and _holds(part, e.name)):
        tokens = example.tokens(grammar)
        old = spellings(tokens, known)
        new = [t for t in spellings(tokens, {part: (text,)}) if t not in old]
        scores = example.ear.fit_texts([*old, *new])
        gains.append(pronounced.gain(scores[: len(old)], scores[len(old) :]))
    if not gains:
        return "nothing to prove it by"
    if sum(gains) / len(gains) < LEAST_GAIN:
        return "it helps too little"
    own = next(e for e in examples if _holds(part, e.name))
    for other in others:
        right = spellings(other.tokens(grammar), known)
        tokens = tuple(
            Token(token.tag, own.name, token.value) if token.words == other.name else token
            for token in other.tokens(grammar)
        )
        wrong = [t for t in spellings(tokens, {part: (text,)}) if t not in spellings(tokens)]
        scores = other.ear.fit_texts([*right, *wrong])
        if max(scores[: len(right)]) - max(scores[len(right) :]) < CLEAR:
            return f"it takes over {' '.join(other.name)}"
    return None


def _holds(part: str, name: Sequence[str]) -> bool:
    return f" {part} " in f" {' '.join(name)} "


def _strings(example: Example, name: tuple[str, ...], names: Names) -> list[Phones]:
    return [_around(example, names, way) for way in ways(name, names.lexicon)]


def _around(example: Example, names: Names, said: Phones) -> Phones:
    return (*_phones(example.before, names), *said, *_phones(example.after, names))


def _phones(words: Sequence[str], names: Names) -> Phones:
    return tuple(phone for word in words for phone in names.lexicon.pronounce(word)[0])


def _plurals(examples: Sequence[Example]) -> Mapping[str, str]:
    """Map the words of a name's singular to those of its plural and back, where they differ."""
    forms = sorted({example.name for example in examples})
    found: dict[str, str] = {}
    for one in forms:
        for other in forms:
            if one != other and len(one) == len(other):
                found |= {a: b for a, b in zip(one, other, strict=True) if a != b}
    return found
