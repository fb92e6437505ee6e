"""Recorded people, whom the recogniser was never trained on.

The cut of silence around an utterance, and the rule that both judges must agree, were mended after
listening to them; docs/measured.md tells what these tests do not show.

Sources: Debian's asterisk-core-sounds-en-g722 (numbers said by one professional speaker, CC BY-SA
3.0) and pocketsphinx-testdata (BSD-2): a digit string of TIDIGITS, sentences about cards, and
read books of LibriVox; two recordings of reading in the package moonshine-voice. What a test needs
is skipped with the reason "optional: ..." where Debian's packages cannot be had.
"""

import json
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
import soundfile
from recordings import CACHE, DIGITS, MISSING, SPHINX, Samples, folder, read

from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.port import Heard, Outcome
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.sound.files import FileSource
from voicecount.sound.frame import RATE, Utterance
from voicecount.sound.segment import utterances
from voicecount.words.grammar import Grammar, build_grammar
from voicecount.words.numbers import in_words

ROOT = Path(__file__).parent.parent
RECORDED = (*range(21), 30, 40, 50, 60, 70, 80, 90)
"""The numbers that the speaker recorded."""

pytestmark = pytest.mark.audio


@dataclass(frozen=True)
class Run:
    """Numbers to be said, and how long the speaker breathes between them."""

    numbers: tuple[int, ...]
    gap: float


@pytest.fixture(scope="module")
def recogniser() -> EmbeddedRecogniser:
    """Load the recogniser once."""
    return EmbeddedRecogniser.load()


@pytest.fixture(scope="module")
def grammar() -> Grammar:
    """Give the grammar of a small sheet."""
    return build_grammar(load_sheet(ROOT / "grammars/first_try.yaml"))


def found(inside: str) -> Path:
    """Find recordings, or skip."""
    place = folder(inside)
    if place is None:
        pytest.skip(MISSING)
    return place


def heard(recogniser: EmbeddedRecogniser, grammar: Grammar, sound: Samples) -> Heard:
    """Hear a recording with half a second of silence around it."""
    edge = np.zeros(RATE // 2, np.float32)
    whole = np.concatenate([edge, sound, edge])
    return recogniser.hear(Utterance(0, 0.5, len(whole) / RATE - 0.5, whole, 0.0), grammar)


def sequences(count: int, seed: int = 1) -> Iterator[Run]:
    """Draw runs: in order from one or later, some with a number skipped or said twice."""
    rng = random.Random(seed)  # noqa: S311
    for _ in range(count):
        first = rng.choice((1, 1, 1, rng.randint(2, 25)))
        numbers = list(range(first, first + rng.randint(2, 10)))
        if len(numbers) > 2 and rng.random() < 0.3:
            at = rng.randrange(1, len(numbers))
            numbers[at : at + 1] = rng.choice(([], [numbers[at], numbers[at]]))
        yield Run(tuple(numbers), rng.uniform(0.12, 0.35))


def voiced(sound: Samples) -> Samples:
    """Cut the silence around a recording."""
    loud = np.flatnonzero(np.abs(sound) > 0.02 * np.abs(sound).max())
    return sound[max(0, loud[0] - 320) : loud[-1] + 1280]


def joined(place: Path, sequence: Run) -> Samples:
    """Join the recorded numbers; twenty and one stand close together."""
    parts: list[Samples] = []
    for number in sequence.numbers:
        pieces = [number] if number in RECORDED else [number // 10 * 10, number % 10]
        for at, piece in enumerate(pieces):
            gap = sequence.gap if at == 0 else 0.04
            parts += [np.zeros(round(gap * RATE), np.float32)]
            parts += [voiced(read(place / f"{piece}.g722"))]
    return np.concatenate(parts)


def in_noise(sound: Samples, snr: float, seed: int) -> Samples:
    """Add white noise."""
    rms = float(np.sqrt(np.mean(sound[np.abs(sound) > 0.01] ** 2)))
    noise = np.random.default_rng(seed).normal(0, rms * 10 ** (-snr / 20), len(sound))
    return np.asarray(sound + noise, np.float32)


def tell(name: str, results: Sequence[str], misses: Sequence[str]) -> Counter[str]:
    """Print the figures and keep them for the benchmark's page."""
    counts = Counter(results)
    n = len(results)
    figures = {"n": n, **counts}
    bound = f"below {300 / n:.1f} %" if not counts["wrong"] else "-"
    print(f"{name}: {figures}; wrong, 95 % bound: {bound}", *misses, sep="\n  ")
    CACHE.parent.mkdir(parents=True, exist_ok=True)
    with (CACHE.parent / "human_speech.jsonl").open("a", encoding="utf-8") as out:
        out.write(json.dumps({"what": name, **figures, "misses": list(misses)}) + "\n")
    return counts


def judged(answer: Heard, numbers: tuple[int, ...]) -> str:
    """Tell right, wrong, asked or ignored."""
    if answer.outcome is not Outcome.ACCEPTED:
        return "asked" if answer.outcome is Outcome.UNSURE else "ignored"
    said = answer.meaning is not None and answer.meaning.item is None
    return "right" if said and answer.meaning.numbers == numbers else "wrong"  # type: ignore[union-attr]


def runs_heard(
    ears: tuple[EmbeddedRecogniser, Grammar], name: str, said: Sequence[Run], snr: float | None
) -> Counter[str]:
    """Hear runs joined from the recorded numbers, in quiet or in white noise."""
    place = found(DIGITS)
    results, misses = [], []
    for seed, sequence in enumerate(said):
        sound = joined(place, sequence)
        answer = heard(*ears, sound if snr is None else in_noise(sound, snr, seed))
        results.append(judged(answer, sequence.numbers))
        if results[-1] != "right":
            words = " ".join(in_words(number) for number in sequence.numbers)
            misses.append(
                f"{results[-1]}: {words} -> {answer.text} {answer.reason} {answer.margin}"
            )
    return tell(
        name + (", quiet" if snr is None else f", white noise {snr:.0f} dB"), results, misses
    )


NUMBERS = [*(Run((number,), 0.1) for number in RECORDED), *sequences(120)]
"""Every single number and 120 runs."""


@pytest.fixture(scope="module")
def in_quiet(recogniser: EmbeddedRecogniser, grammar: Grammar) -> Counter[str]:
    """Hear the numbers in quiet once."""
    return runs_heard((recogniser, grammar), "a person's numbers", NUMBERS, None)


def test_a_persons_numbers_in_quiet(in_quiet: Counter[str]) -> None:
    """At least 95 % of a person's numbers are accepted, none of them wrong."""
    assert in_quiet["wrong"] == 0
    assert in_quiet["right"] >= 0.95 * in_quiet.total()


@pytest.mark.parametrize("snr", [20.0, 12.0])
def test_a_persons_numbers_in_noise(
    recogniser: EmbeddedRecogniser, grammar: Grammar, snr: float
) -> None:
    """In white noise none of a person's numbers is accepted wrong."""
    counts = runs_heard((recogniser, grammar), "a person's numbers", NUMBERS, snr)

    assert counts["wrong"] == 0
    assert counts["right"] >= 0.8 * counts.total()


def test_a_persons_fresh_runs(
    recogniser: EmbeddedRecogniser, grammar: Grammar, tmp_path: Path
) -> None:
    """Runs of other seeds, from a file, cut into utterances as a user's are."""
    place = found(DIGITS)
    results, misses = [], []
    for seed in (2, 3):
        for sequence in sequences(40, seed):
            edge = np.zeros(RATE, np.float32)
            sound = np.concatenate([edge, joined(place, sequence), edge])
            soundfile.write(tmp_path / "run.wav", sound, RATE)
            source = FileSource(tmp_path / "run.wav")
            parts = [recogniser.hear(part, grammar) for part in utterances(source)]
            meanings = [part.meaning for part in parts if part.meaning is not None]
            numbers = tuple(number for meaning in meanings for number in meaning.numbers)
            taken = all(part.outcome is Outcome.ACCEPTED for part in parts)
            same = numbers == sequence.numbers
            results.append("asked" if not taken else "right" if same else "wrong")
            if results[-1] == "wrong":
                misses.append(f"{sequence.numbers} -> {[part.text for part in parts]}")
    counts = tell("a person's fresh runs, through the segmentation", results, misses)

    assert counts["wrong"] == 0
    assert counts["right"] >= 0.95 * counts.total()


def test_a_persons_last_number_said_twice(recogniser: EmbeddedRecogniser, grammar: Grammar) -> None:
    """No number that a person says twice at the end of a run is stored as said once.

    Every last number from 2 to 29, at three gaps: 84 sequences, 28 of them distinct.
    """
    said = [
        Run((*range(max(1, last - 2), last + 1), last), gap)
        for last in range(2, 30)
        for gap in (0.12, 0.22, 0.32)
    ]
    counts = runs_heard((recogniser, grammar), "a person's last number said twice", said, None)

    assert counts["wrong"] == 0


def test_a_digit_string_of_tidigits(recogniser: EmbeddedRecogniser, grammar: Grammar) -> None:
    """Two nine three four zero is heard as that, and asked about: nobody counts in leaps.

    It is the only sound of TIDIGITS in the package; the other files there are features.
    """
    answer = heard(recogniser, grammar, read(found(SPHINX) / "tidigits/dhd.2934z.raw"))

    assert answer.meaning is not None
    assert answer.meaning.numbers == (2, 9, 3, 4, 0)
    assert answer.outcome is Outcome.UNSURE


CARDS = {"clubs": ["of clubs"], "queen": ["queen of clubs"], "hearts": ["of hearts"]}
CARDS_SAID: dict[str, tuple[str | None, tuple[int, ...]] | None] = {
    "001": ("clubs", (10,)),
    "002": ("queen", (4,)),
    "003": ("clubs", (7,)),
    "004": (None, (5, 5)),
    "005": None,
}
"""From the package's transcription; three cards in a row are no count."""


@pytest.fixture(scope="module")
def cards(recogniser: EmbeddedRecogniser) -> Counter[str]:
    """Hear the cards once."""
    place = found(SPHINX) / "cards"
    lines = [
        {"id": name, "group": "miscellaneous", "say": [{"one": say[0], "many": say[0]}]}
        for name, say in CARDS.items()
    ]
    grammar = build_grammar(Sheet.model_validate({"title": "Cards", "items": lines}))
    results, misses = [], []
    for name, wanted in CARDS_SAID.items():
        answer = heard(recogniser, grammar, read(place / f"{name}.wav"))
        meaning = answer.meaning
        accepted = answer.outcome is Outcome.ACCEPTED
        same = meaning is not None and wanted == (meaning.item, meaning.numbers)
        missed = "asked" if answer.outcome is Outcome.UNSURE else "ignored"
        results.append(("right" if same else "wrong") if accepted else missed)
        if not (accepted and same):
            misses.append(f"{name}: {answer.outcome} {answer.text} {answer.reason} {answer.margin}")
    return tell("cards", results, misses)


def test_sentences_about_cards(cards: Counter[str]) -> None:
    """Recorded people's cards are heard as counts of suits, or asked about; none is wrong."""
    assert cards["wrong"] == 0
    assert cards["right"] >= 3


def test_all_recorded_numbers_together(in_quiet: Counter[str], cards: Counter[str]) -> None:
    """Of numbers, the string of TIDIGITS (asked about) and cards, at least 95 % are right."""
    right = in_quiet["right"] + cards["right"]
    n = in_quiet.total() + 1 + cards.total()
    print(f"recorded people together: {right} right of {n}")

    assert right >= 0.95 * n


def readers() -> Iterator[Path]:
    """Give recordings of people reading."""
    spec = find_spec("moonshine_voice")
    assert spec is not None
    assert spec.origin is not None
    yield from sorted((Path(spec.origin).parent / "assets").glob("*.wav"))
    yield from sorted((found(SPHINX) / "librivox").glob("*.wav"))


def test_people_reading_are_not_counted(recogniser: EmbeddedRecogniser) -> None:
    """Nothing of several minutes of reading aloud is accepted."""
    grammar = build_grammar(load_sheet(ROOT / "grammars/caesarean.yaml"))
    results, misses = [], []
    for path in readers():
        for utterance in utterances(FileSource(path)):
            answer = recogniser.hear(utterance, grammar)
            results.append(answer.outcome.value)
            if answer.outcome is Outcome.ACCEPTED:
                misses.append(f"{path.name} {answer.start:.1f}: {answer.text} {answer.margin}")
    counts = tell("people reading", results, misses)

    assert len(results) >= 10
    assert counts["accepted"] == 0
