"""What the synthetic voices are given to say: words, runs of numbers, names with numbers, talk."""

import random
from dataclasses import dataclass

from voicecount.words.numbers import in_words

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
    "more suction over here please",
    "the blood pressure is stable",
    "let me see the x ray again",
    "did you get lunch already",
    "we need two units from the blood bank",
    "open the window please",
    "he will be back in ten minutes",
    "my daughter starts school this year",
    "please adjust the table height",
    "keep the music down a bit",
]


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
    if len(values) > 2 and rng.random() < 0.25:
        at = rng.randrange(1, len(values))
        if rng.random() < 0.5:
            del values[at]
        else:
            values.insert(at, values[at - 1])
    return [number_words(value) for value in values]


def make_text(rng: random.Random, vocabulary: list[str]) -> Text:
    """Draw one text. ``vocabulary`` is a list of plain dictionary words."""
    pick = rng.random()
    groups: list[list[str]]
    if pick < 0.22:
        groups = [[rng.choice(vocabulary)] for _ in range(rng.randint(1, 8))]
    elif pick < 0.42:
        groups = [_name(rng, vocabulary), *_run(rng)]
    elif pick < 0.60:
        groups = _run(rng)
    elif pick < 0.70:
        groups = [[rng.choice(HARD)] for _ in range(rng.choice((1, 1, 1, 2, 3)))]
    elif pick < 0.78:
        groups = [number_words(rng.randint(0, 199)) for _ in range(rng.choice((1, 1, 2, 4, 8)))]
    elif pick < 0.86:
        groups = [number_words(rng.randint(1, 60)) + _name(rng, vocabulary)]
    elif pick < 0.93:
        groups = [rng.choice(COMMANDS).split()]
        if rng.random() < 0.3:
            groups.insert(0, _name(rng, vocabulary))
    else:
        groups = [rng.choice(TALK).split()]
    return Text(tuple(tuple(group) for group in groups))
