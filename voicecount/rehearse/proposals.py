"""Other spoken names for lines that cannot be told apart, and the refusal of such a sheet."""

from collections.abc import Iterator

from voicecount.hear.embedded.graph import ways
from voicecount.hear.respell import distance
from voicecount.rehearse.alike import Names, Pair, confused, same_sound
from voicecount.rehearse.takes import Rehearsal
from voicecount.sheet.model import Item, NotCounted, Sheet
from voicecount.sheet.plan import Group
from voicecount.words.numbers import NUMBER_WORDS, words_of

FAR_ENOUGH = 0.3
"""A proposed name differs from every other line's in at least this share of its phones."""
_MOST = 3
_NOUNS = {
    Group.SPONGES: "sponge",
    Group.SHARPS: "sharp",
    Group.MISCELLANEOUS: "item",
    Group.INSTRUMENTS: "instrument",
}


def inseparable(rehearsal: Rehearsal) -> Pair | None:
    """Give two lines that cannot be told apart: by sound, or as they were heard; or None."""
    same = same_sound(rehearsal.pairs)
    if same is not None:
        return same
    lines = confused(rehearsal.heard_as())
    if lines is None:
        return None
    return next(pair for pair in rehearsal.pairs if {pair.first, pair.second} == set(lines))


def refusal(sheet: Sheet, names: Names, pair: Pair) -> str:
    """Tell in one line which two lines cannot be told apart, and how else they could be called."""
    one, other = f"{pair.first_name!r} ({pair.first})", f"{pair.second_name!r} ({pair.second})"
    why = "sound the same" if pair.share == 0.0 else "were taken for each other in the rehearsal"
    line = f"{one} and {other} {why}"
    for who in (pair.first, pair.second):
        found = propose(sheet, names, who, pair)
        if found:
            return f"{line}; call {who} {' or '.join(repr(name) for name in found)} instead"
    return f"{line}; give one of them another spoken name"


def propose(sheet: Sheet, names: Names, line: str, pair: Pair | None = None) -> tuple[str, ...]:
    """Give other spoken names for a line that sound unlike all other lines, the farthest first.

    Its own other names come first, then its id, then a word of its id or note with a name, then
    its kind with a name of one word. The names of ``pair`` are what is to be replaced.
    """
    lines: tuple[Item | NotCounted, ...] = (*sheet.items, *sheet.not_counted)
    entry = next(one for one in lines if one.id == line)
    own = [say.one for say in entry.say]
    clashing = {words_of(name) for name in (pair.first_name, pair.second_name)} if pair else set()
    clashing |= {words_of(say.one) for say in entry.say if words_of(say.many) in clashing}
    scored = []
    for rank, name in enumerate(dict.fromkeys(_candidates(entry))):
        words = words_of(name)
        if not words or any(not word.replace("'", "").isalpha() for word in words):
            continue
        if words[-1] in NUMBER_WORDS or words in clashing:
            continue
        apart = _apart(names, words, line)
        if apart >= FAR_ENOUGH:
            scored.append((name not in own, -round(apart, 2), rank, name))
    return tuple(name for *_, name in sorted(scored)[:_MOST])


def _candidates(entry: Item | NotCounted) -> Iterator[str]:
    yield from (say.one for say in entry.say)
    described = entry.id.replace("_", " ").replace("-", " ")
    yield described
    first = entry.say[0].one
    known = set(words_of(first))
    extra = [word for word in words_of(f"{described} {entry.note or ''}") if word not in known]
    yield from (f"{word} {first}" for word in extra if len(word) > 3)
    if isinstance(entry, Item) and len(words_of(first)) == 1:
        yield f"{first} {_NOUNS[entry.group]}"


def _apart(names: Names, words: tuple[str, ...], line: str) -> float:
    return min(
        (
            distance(mine, theirs) / max(len(mine), len(theirs))
            for mine in ways(words, names.lexicon)
            for _, _, sounds in names.others(line)
            for theirs in sounds
        ),
        default=1.0,
    )
