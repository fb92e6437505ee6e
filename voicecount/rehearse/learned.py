"""What is kept of a rehearsal: our own format, and how a grammar is made richer by it."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StrictStr

from voicecount.sheet.model import Sheet
from voicecount.words.graph import Grammar, Phones
from voicecount.words.pronounce import PHONES, Lexicon

FORMAT = "voicecount learned 1"
MOST_SOUNDS = 2
"""Further pronunciations of a word."""
MOST_SPELLINGS = 2
"""Further spellings of a name or a part of it."""


def _phones(text: str) -> str:
    if not text.split() or any(phone not in PHONES for phone in text.split()):
        raise ValueError(f"{text!r} is no pronunciation")
    return text


Pronunciation = Annotated[StrictStr, AfterValidator(_phones)]
Filled = Annotated[StrictStr, Field(min_length=1, max_length=200)]


class _Kept(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Learnt(_Kept):
    """What was learned of one spoken name."""

    item: Filled
    """The line's id."""
    name: Filled
    """The name, singular, as the sheet writes it."""
    sounds: dict[Filled, tuple[Pronunciation, ...]] = {}
    """Further pronunciations by word, ARPAbet without stress: ``K IH T N ER``."""
    spelled: dict[Filled, tuple[Filled, ...]] = {}
    """Further spellings by the words that they stand for."""


class Learned(_Kept):
    """The file. ``rehearsed`` and ``own`` never mix: a person's own sayings can be forgotten."""

    format: Literal["voicecount learned 1"] = "voicecount learned 1"
    names: StrictStr
    """SHA-256 of the sheet's names and sounds; expected totals are not in it."""
    hearing: StrictStr
    """Version of the recogniser's weights and of the dictionary."""
    rehearsed: tuple[Learnt, ...] = ()
    own: tuple[Learnt, ...] = ()

    @property
    def entries(self) -> tuple[Learnt, ...]:
        """Everything, a person's own first."""
        return (*self.own, *self.rehearsed)


def names_digest(sheet: Sheet) -> str:
    """Give the SHA-256 of everything of a sheet that a grammar is made of."""
    lines = [
        [line.id, [[say.one, say.many] for say in line.say], sorted(line.sounds.items())]
        for line in (*sheet.items, *sheet.not_counted)
    ]
    text = json.dumps([len(sheet.items), lines], ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def with_learned(grammar: Grammar, entries: Iterable[Learnt]) -> Grammar:
    """Give a grammar with further pronunciations and spellings; no entries, the same grammar."""
    sounds: dict[str, dict[Phones, None]] = {}
    spelled: dict[str, dict[str, None]] = {}
    for entry in entries:
        for word, ways in entry.sounds.items():
            sounds.setdefault(word, {}).update(dict.fromkeys(tuple(way.split()) for way in ways))
        for part, texts in entry.spelled.items():
            spelled.setdefault(part, {}).update(dict.fromkeys(texts))
    if not sounds and not spelled:
        return grammar
    return replace(
        grammar,
        sounds=_merged(grammar, sounds),
        spelled=tuple((part, tuple(texts)[:MOST_SPELLINGS]) for part, texts in spelled.items()),
    )


def _merged(
    grammar: Grammar, learned: Mapping[str, Mapping[Phones, None]]
) -> tuple[tuple[str, tuple[Phones, ...]], ...]:
    """Put the learned ways behind the first one that was known, which stays the first."""
    known = dict(grammar.sounds)
    lexicon = Lexicon(known)
    for word, ways in learned.items():
        first, *others = lexicon.pronounce(word)
        known[word] = tuple(dict.fromkeys((first, *list(ways)[:MOST_SOUNDS], *others)))
    return tuple(sorted(known.items()))
