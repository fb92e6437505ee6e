"""What the synthetic voices are given to say: words, runs of numbers, names with numbers, talk."""

import random
import re
from dataclasses import dataclass
from functools import lru_cache

from voicecount.words.numbers import in_words
from voicecount.words.pronounce import g2p

HARD = [
    "thirteen",
    "thirty",
    "fourteen",
    "forty",
    "fifteen",
    "fifty",
    "sixteen",
    "sixty",
    "seventeen",
    "seventy",
    "eighteen",
    "eighty",
    "nineteen",
    "ninety",
    "five",
    "nine",
    "four",
    "one",
    "eleven",
    "seven",
    "six",
    "two",
    "three",
    "eight",
    "ten",
]
TRADE = [
    "gauze",
    "sponge",
    "sponges",
    "lap",
    "laps",
    "needle",
    "needles",
    "blade",
    "blades",
    "clamp",
    "clamps",
    "retractor",
    "forceps",
    "scissors",
    "suture",
    "sutures",
    "tip",
    "tips",
    "pack",
    "packs",
    "pad",
    "pads",
    "tape",
    "tapes",
    "loop",
    "loops",
    "roll",
    "cotton",
    "towel",
    "holder",
    "knife",
    "handle",
    "wire",
    "clip",
    "clips",
    "drain",
    "tube",
    "syringe",
    "cap",
    "basin",
    "bowl",
    "marker",
    "pen",
    "hook",
    "hooks",
    "suction",
    "vessel",
    "uterine",
    "umbilical",
    "electrode",
    "scratch",
    "free",
    "curved",
    "straight",
    "small",
    "large",
    "long",
    "short",
    "sharp",
    "dull",
    "ring",
]
COMMANDS = [
    "start this line over",
    "say that again",
    "what is left to count",
    "read me the tally",
    "stand by for a moment",
    "carry on counting",
    "take that line back",
    "that is an addition",
    "that is a recount",
    "yes that is right",
    "no that is not right",
    "the count is finished",
    "begin the count",
    "none",
    "pieces",
    "piece",
    "total",
    "in all",
]
TALK = [
    "would you mind closing that cupboard",
    "the pharmacy said half an hour at least",
    "he plays the piano rather well",
    "my shoes are soaking wet from the rain",
    "we should order more of the large gloves",
    "is that the same patient as this morning",
    "her train leaves at a quarter past seven",
    "tell the ward that we are running late",
    "there was a queue all the way down the hall",
    "i have never seen one quite like it",
    "the new printer jams every single day",
    "can you see the screen from where you stand",
    "they painted the corridor green again",
    "bring the stool a little closer please",
    "nobody told me that the list had changed",
    "he weighs about eighty kilos i should think",
    "just a touch more on your side thank you",
    "the students are coming on thursday",
    "wasn't that film dreadful",
    "that dog of theirs barks all night",
    "put it on the shelf behind you",
    "what a lovely colour for a kitchen",
    "the consultant wants to speak to the family first",
    "two of them called in sick this week",
]


@lru_cache(maxsize=1)
def vocabulary() -> list[str]:
    """Give plain dictionary words, from the package that also gives their pronunciations."""
    words = g2p().lexicon.golds.d
    return sorted(word for word in words if re.fullmatch("[a-z]{3,11}", word))


def number_words(value: int) -> list[str]:
    """Spell 0 to 199."""
    return in_words(value).split()


@dataclass(frozen=True)
class Text:
    """One thing to say, in groups; between groups a speaker may breathe."""

    groups: tuple[tuple[str, ...], ...]

    @property
    def words(self) -> tuple[str, ...]:
        """All words in order."""
        return tuple(word for group in self.groups for word in group)


def _name(rng: random.Random, vocabulary: list[str]) -> list[str]:
    pick = rng.random()
    if pick < 0.45:
        return rng.sample(TRADE, rng.choice((1, 1, 2, 2, 3)))
    if pick < 0.8:
        return [rng.choice(vocabulary), rng.choice(TRADE)]
    return [rng.choice(vocabulary) for _ in range(rng.choice((1, 1, 2)))]


def _run(rng: random.Random) -> list[list[str]]:
    start = rng.choice((1, 1, 1, 1, rng.randint(2, 30), rng.randint(10, 120)))
    values = list(range(start, start + min(int(rng.expovariate(1 / 5)) + 1, 16)))
    if len(values) > 1 and rng.random() < 0.35:
        at = rng.choice((rng.randrange(1, len(values)), len(values) - 1))
        if len(values) > 2 and rng.random() < 0.4:
            del values[at]
        else:
            values.insert(at, values[at])
    return [number_words(value) for value in values]


def _loose_numbers(rng: random.Random) -> list[list[str]]:
    """Draw hard numbers, one number said again, or any numbers."""
    pick = rng.random()
    if pick < 0.5:
        return [[rng.choice(HARD)] for _ in range(rng.choice((1, 1, 1, 2, 3)))]
    if pick < 0.68:
        return [number_words(rng.randint(0, 99))] * rng.choice((2, 2, 3))
    return [number_words(rng.randint(0, 199)) for _ in range(rng.choice((1, 1, 2, 4, 8)))]


def _ending(rng: random.Random) -> list[list[str]]:
    """Draw what may follow a name: a stated total, pieces, or none."""
    number = number_words(rng.randint(1, 60))
    return rng.choice(
        ([["total", *number]], [number, ["in", "all"]], [[*number, "pieces"]], [["none"]])
    )


def make_text(rng: random.Random, vocabulary: list[str]) -> Text:
    """Draw one text. ``vocabulary`` is a list of plain dictionary words."""
    pick = rng.random()
    groups: list[list[str]]
    if pick < 0.20:
        groups = [[rng.choice(vocabulary)] for _ in range(rng.randint(1, 8))]
    elif pick < 0.40:
        groups = [_name(rng, vocabulary), *_run(rng)]
    elif pick < 0.56:
        groups = _run(rng)
    elif pick < 0.78:
        groups = _loose_numbers(rng)
    elif pick < 0.87:
        groups = [number_words(rng.randint(1, 60)) + _name(rng, vocabulary)]
        if rng.random() < 0.4:
            groups = [_name(rng, vocabulary), *_ending(rng)]
    elif pick < 0.94:
        groups = [rng.choice(COMMANDS).split()]
        if rng.random() < 0.3:
            groups.insert(0, _name(rng, vocabulary))
    else:
        groups = [rng.choice(TALK).split()]
    return Text(tuple(tuple(group) for group in groups))
