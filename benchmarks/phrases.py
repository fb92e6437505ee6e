"""What the benchmark's voices say: counts of every form, commands, and talk in the room.

The tuning part and the test part share no sheet, no name, no voice and no sentence of talk.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.sheet.vocabularies import begin_commands
from voicecount.words.commands import CASE_COMMANDS, COMMANDS, When
from voicecount.words.grammar import Grammar, build_grammar, parse
from voicecount.words.meaning import Meaning
from voicecount.words.numbers import in_words, words_of
from voicecount.words.soundalike import twins
from voicecount.words.vocabulary import Vocabulary

GRAMMARS = Path(__file__).parent.parent / "grammars"
TEST_SHEET = Path(__file__).parent / "sheet_test.yaml"

TALK = {
    "tune": [
        "could you turn the light a little to the left",
        "we are waiting for the lab results",
        "she went home early yesterday",
        "the next case is in room seven",
        "what time did they call",
        "i think it is going to rain tonight",
        "hold this for me please",
        "is the patient warm enough",
        "can somebody answer the phone",
        "that was a good game last weekend",
        "more suction please",
        "the blood pressure is stable",
        "let me see the picture again",
        "did you get lunch already",
        "we need two units from the blood bank",
        "open the window please",
        "he will be back in ten minutes",
        "my daughter starts school this year",
        "please adjust the table height",
        "keep the music down a bit",
        "i will take the next one",
        "there were five of us in the car",
        "give me the long one please",
        "no not that one",
        "she is four centimetres dilated",
        "one more and we are through",
        "it is nearly three o'clock",
    ],
    "test": [
        "the lift has been stuck since breakfast",
        "i counted nineteen stairs up to the canteen",
        "they moved his appointment to the twelfth",
        "warm the blanket before you bring it in",
        "the sponge cake in the lounge is for everyone",
        "she will need a bed on the fourth floor",
        "it felt like looking for a needle in a haystack",
        "do not clamp it until i tell you",
        "potassium is four point two",
        "his mother is eighty seven and still drives",
        "we start again at half past eight",
        "the heating failed in two of the wards",
        "nobody has fed the fish in the waiting room",
        "fifteen minutes on the bypass machine so far",
        "i would rather have the other stool",
        "the lamp is shining in my eyes",
        "there are thirty people on the waiting list",
        "who took the charger from the desk",
        "the needle on that gauge is stuck at zero",
        "set the pump to sixty an hour",
        "he has two left shoes in his locker",
        "my neighbour is building a shed",
        "can you squeeze the bag for me",
        "oxygen is at ninety eight percent",
        "we had three sunny days in a row",
        "the knife in the kitchen would not cut butter",
        "let it drain for a while",
        "that plate of sandwiches went quickly",
        "take the tape off gently or it will hurt",
        "tell me when the heart rate drops under fifty",
        "the bus takes about twenty five minutes",
        "irrigate a little more over here",
        "could you tie my gown at the back",
        "my sister bought a house by the river",
        "the second year students have an exam",
        "give him another ten of the usual",
        "i dropped a screw behind the bookcase",
        "they want the theatre cleared by seven",
        "this glove has a hole in it",
        "the scan shows nothing new",
        "he ran the whole race in under four hours",
        "the last train was full again",
        "pass it across when you are ready",
        "there was one seat left at the front",
        "the urine output is forty in the last hour",
        "did the courier bring the box yet",
        "it takes two to carry that table",
        "six weeks in plaster and then we will see",
        "someone is knocking at the side door",
        "her temperature is thirty six and a half",
        "we ran out of the brown envelopes",
        "tip the head down a few degrees",
        "the chest is clear on both sides",
        "i slept about five hours last night",
        "can we swap places for a moment",
        "the next patient is allergic to latex",
        "a sponge would soak that up in no time",
        "hand it to the person behind you",
        "eleven of us share one fridge",
        "my pen has run out of ink again",
        "put the phone on the loudspeaker",
        "stay there and do not move the retractor",
        "we will close the road for nine days",
        "the wire fence came down in the storm",
        "are the relatives still in the corridor",
        "it cost seventy and broke within a week",
    ],
}


@dataclass(frozen=True)
class Phrase:
    """Something to say and what it means; None is talk that must not be taken."""

    text: str
    meaning: Meaning | None
    kind: str


def sheet_for(part: str) -> Sheet:
    """Load the sheet of a part: the long one for tuning, the benchmark's own for the test."""
    return load_sheet(GRAMMARS / "laparotomy.yaml" if part == "tune" else TEST_SHEET)


def names_for(part: str) -> list[tuple[str, str]]:
    """Give all spoken names of a part's sheet, one and many."""
    return [(way.one, way.many) for item in sheet_for(part).items for way in item.say]


def _spoken(values: list[int]) -> str:
    return ", ".join(in_words(value) for value in values)


def _run(rng: random.Random) -> tuple[list[int], str]:
    last = min(1 + int(rng.expovariate(1 / 4)), 12)
    values = list(range(1, last + 1))
    pick = rng.random()
    if len(values) > 2 and pick < 0.12:
        del values[rng.randrange(1, len(values))]
        return values, "skipped"
    if len(values) > 1 and pick < 0.24:
        at = rng.randrange(len(values))
        values.insert(at, values[at])
        return values, "repeated"
    return values, "run"


def _draw(rng: random.Random, names: list[tuple[str, str]]) -> tuple[str, str]:  # noqa: PLR0911
    """Draw a text and its kind."""
    one, many = rng.choice(names)
    name = many if rng.random() < 0.5 else one
    pick = rng.random()
    if pick < 0.40:
        values, kind = _run(rng)
        return f"{name}, {_spoken(values)}", kind
    if pick < 0.50:
        first = rng.randint(2, 24)
        values = list(range(first, first + rng.randint(2, 6)))
        return _spoken(values), "going on"
    if pick < 0.62:
        value = rng.choice((*range(1, 7), *range(1, 7), *range(1, 13), rng.randint(1, 40)))
        return f"{in_words(value)} {one if value == 1 else many}", "number first"
    if pick < 0.74:
        value = rng.choice(
            (*range(1, 13), *range(1, 13), *range(13, 21), 30, 40, rng.randint(21, 99))
        )
        return in_words(value), "sound-alike number" if twins(value) else "number"
    if pick < 0.80:
        return f"{many}, total {in_words(rng.randint(2, 40))}", "total"
    if pick < 0.85:
        return f"{one}, one, {in_words(rng.randint(2, 5))} pieces", "pieces"
    if pick < 0.88:
        return f"{many}, none", "none"
    return rng.choice(rng.choice(COMMANDS).phrases), "command"


def phrases(part: str, count: int, seed: int) -> Iterator[Phrase]:
    """Draw ``count`` phrases that mean something."""
    rng = random.Random(f"{part} {seed}")
    names, grammar = names_for(part), grammar_for(part)
    made = 0
    while made < count:
        text, kind = _draw(rng, names)
        read = parse(words_of(text), grammar)
        if len(read) == 1:
            made += 1
            yield Phrase(text, read[0][0], kind)


FOREIGN = {
    "tune": (
        "bone wax",
        "rongeur",
        "curette",
        "trocar",
        "bougie",
        "osteotome",
        "drill",
        "wire twister",
        "stapler",
        "dermatome",
        "periosteal",
        "speculum",
    ),
    "test": (
        "mouth gag",
        "tongue plate",
        "laryngeal mirror",
        "cystoscope",
        "stone basket",
        "lid clamp",
        "tenaculum",
        "trephine",
        "lens loop",
        "caliper",
        "bone file",
        "tracheal dilator",
    ),
}
"""Names of things that are on the sheet of neither part: a count of one must never be taken."""


def foreign(part: str) -> list[Phrase]:
    """Give counts of things that are not on the sheet."""
    rng = random.Random(part)
    said = []
    for name in FOREIGN[part]:
        values = list(range(1, rng.randint(2, 6)))
        said.append(Phrase(f"{name}, {_spoken(values)}", None, "not on the sheet"))
        said.append(Phrase(f"{in_words(rng.randint(2, 9))} {name}s", None, "not on the sheet"))
    return said


def talk(part: str) -> list[Phrase]:
    """Give the talk in the room of a part."""
    return [Phrase(text, None, "talk") for text in TALK[part]]


def grammar_for(part: str, *, whole_case: bool = False) -> Grammar:
    """Build the grammar of a part's sheet; with all that can be said beside lines in a case."""
    sheet = sheet_for(part)
    if not whole_case:
        return build_grammar(sheet)
    during = tuple(command for command in CASE_COMMANDS if command.when is When.CASE)
    return build_grammar(sheet, Vocabulary((*COMMANDS, *during, *begin_commands(sheet.plan))))
