"""Plurals of spoken names, derived by a few rules; whatever is irregular is listed in the sheet."""

from voicecount.words.numbers import NUMBER_WORDS, words_of

_SAME = frozenset({"forceps", "gauze", "pliers", "scissors", "shears", "tweezers"})
_IRREGULAR = {"foot": "feet", "knife": "knives", "leaf": "leaves", "tooth": "teeth"}
_LINKS = frozenset({"of", "with", "without", "for", "on", "in", "from", "to"})
_HISSES = ("s", "x", "z", "ch", "sh")


def plural(name: str) -> str:
    """Give the plural of a name: of the noun before "of", "with" and the like, else of the last.

    Both halves of "tip and pad" are plural. A name with a capital keeps its "y": "Kellys".
    """
    for at, word in enumerate(words := name.split()):
        if at > 0 and word in _LINKS:
            return " ".join([plural(" ".join(words[:at])), *words[at:]])
        if 0 < at < len(words) - 1 and word == "and":
            first, second = " ".join(words[:at]), " ".join(words[at + 1 :])
            return f"{plural(first)} and {plural(second)}"
    last = len(words) - 1
    while last > 0 and all(word in NUMBER_WORDS for word in words_of(words[last])):
        last -= 1
    return " ".join([*words[:last], _plural_word(words[last]), *words[last + 1 :]])


def _plural_word(word: str) -> str:
    """Give the plural of one noun."""
    small = word.lower()
    if small in _SAME:
        return word
    if small in _IRREGULAR:
        return word[0] + _IRREGULAR[small][1:]
    if small.endswith(_HISSES):
        return word + "es"
    if small.endswith("y") and small[-2:-1] not in set("aeiou") and word == small:
        return word[:-1] + "ies"
    return word + "s"
