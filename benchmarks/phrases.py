"""What the benchmark's voices say: counts of every form, commands, and talk in the room.

The tuning part and the test part share no sheet, no voice, no noise and no sentence of talk.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.words.commands import COMMANDS
from voicecount.words.grammar import Grammar, build_grammar, parse
from voicecount.words.meaning import Meaning
from voicecount.words.numbers import in_words, words_of
from voicecount.words.soundalike import twins

GRAMMARS = Path(__file__).parent.parent / "grammars"

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
        "the anaesthetist would like a word with you",
        "is there any more warm saline",
        "his flight was delayed for six hours",
        "could we have the door closed please",
        "the baby is doing very well",
        "someone left their pager on the desk",
        "turn that song off would you",
        "i am on call again on sunday",
        "how much did she weigh",
        "pressure is ninety over sixty",
        "has the family been told",
        "start the antibiotics now please",
        "i can not see anything from here",
        "lift the drape on your side",
        "that clock is two minutes fast",
        "the coffee machine is broken again",
        "are you coming to the meeting at four",
        "we used to do these in forty minutes",
        "ask them to send the porter",
        "a bit more traction on your side",
        "there is a little bleeding at the corner",
        "what was the name of that film",
        "she has three brothers and one sister",
        "the tourniquet has been up for an hour",
        "dictate the note when you are done",
        "could i have a stool to stand on",
        "who is covering tomorrow night",
        "that is much better thank you",
        "the drain goes to gravity",
        "watch the bladder just there",
        "it was thirteen degrees this morning",
        "put the specimen in formalin please",
        "we will wait for the frozen section",
        "my back hurts after that one",
        "can you page the resident",
    ],
}


@dataclass(frozen=True)
class Phrase:
    """Something to say and what it means; None is talk that must not be taken."""

    text: str
    meaning: Meaning | None
    kind: str


def sheet_for(part: str) -> Sheet:
    """Load the sheet of a part: the demo's for tuning, the long one for the test."""
    return load_sheet(GRAMMARS / ("caesarean.yaml" if part == "tune" else "laparotomy.yaml"))


def names_for(part: str) -> list[tuple[str, str]]:
    """Give spoken names, one and many; in the test part only lines whose names the demo lacks."""
    known = {way.one for item in sheet_for("tune").items for way in item.say}
    items = sheet_for(part).items
    if part == "test":
        items = tuple(item for item in items if known.isdisjoint(way.one for way in item.say))
    return [(way.one, way.many) for item in items for way in item.say]


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
    """Draw ``count`` phrases that mean something, then every sentence of talk."""
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
        "bulldog",
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
        "probe",
        "speculum",
    ),
    "test": ("mallet", "gouge", "rasp", "nerve hook", "saw", "pin cutter", "reamer", "snare"),
}
"""Names of things that are on no sheet of ours: a count of one must never be taken."""


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


def grammar_for(part: str) -> Grammar:
    """Build the grammar of a part's sheet."""
    return build_grammar(sheet_for(part))
