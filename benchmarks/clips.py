"""The utterances of a run: which voice says which phrase, and how it sounds in a condition."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from benchmarks.more_phrases import everything
from benchmarks.phrases import Phrase, phrases, talk
from benchmarks.rooms import BOTH, both_channels, in_room
from benchmarks.speakers import VOICES
from voicecount.sound import segment
from voicecount.sound.frame import RATE, Utterance
from voicecount.testing.sound import FakeSource

OTHERS = ("babble", "leak", BOTH)
"""Kinds of conditions in which other people speak."""
_FRAME = RATE // 10


@dataclass(frozen=True)
class Task:
    """One phrase in one condition."""

    condition: str
    at: int
    """Place among all phrases of the run; with the seed it makes the clip what it is."""
    phrase: Phrase
    voice: str


def clip(  # noqa: PLR0917  (all of them say what sound it is)
    part: str, phrase: Phrase, voice: str, seed: int, condition: str, talkers: list[Any]
) -> Any:
    """Make the sound of one phrase in one condition; the same seed gives the same sound.

    Shape (n,), or (n, 2) where both people have a microphone.
    """
    rng = np.random.default_rng(seed)
    pace = float(rng.uniform(0.85, 1.25))
    spoken = VOICES[part][voice](phrase.text + ".", pace)
    if condition.startswith(BOTH):
        return both_channels(spoken, condition, rng, talkers)
    return in_room(spoken, condition, part, rng, talkers)


def utterances(sound: Any) -> list[Utterance]:
    """Give what a recogniser gets of a clip.

    One channel is one utterance, whole. Two channels are cut as in the room, and what remains on
    the first one, the scrub's, is given.
    """
    if sound.ndim == 1:
        return [Utterance(0, 0.5, len(sound) / RATE - 0.5, sound, 0.0)]
    cut = segment.utterances(FakeSource(sound, frame=_FRAME))
    return [utterance for utterance in cut if utterance.channel == 0]


def turns(said: list[Phrase], voices: list[str]) -> list[str]:
    """Let the voices take turns within each kind of phrase, so that every voice says every kind."""
    kinds = list(dict.fromkeys(phrase.kind for phrase in said))
    following = {kind: at for at, kind in enumerate(kinds)}
    speaking = []
    for phrase in said:
        speaking.append(voices[following[phrase.kind] % len(voices)])
        following[phrase.kind] += 1
    return speaking


def others(part: str) -> list[Any]:
    """Give what other people in the room say: talk, and numbers and names of the sheet too."""
    voices = list(VOICES[part].values())
    said = [phrase.text for phrase in talk(part)[:12]]
    said += [phrase.text for phrase in phrases(part, 12, 0) if phrase.kind != "command"]
    return [voices[at % len(voices)](text, 1.0) for at, text in enumerate(said)]


def plan(
    part: str, count: int, seed: int, conditions: list[str], most_talk: int | None = None
) -> list[Task]:
    """Give every phrase in every condition.

    ``most_talk`` leaves only so many sentences of each kind that must not be taken, spread over
    all of them; the clips that remain are the same.
    """
    said = everything(part, count, seed)
    speaking = turns(said, list(VOICES[part]))
    kept = [at for at, phrase in enumerate(said) if phrase.meaning is not None]
    for kind in {phrase.kind for phrase in said if phrase.meaning is None}:
        here = [at for at, phrase in enumerate(said) if phrase.kind == kind]
        step = 1 if most_talk is None else max(1, -(-len(here) // max(most_talk, 1)))
        kept += here[::step]
    kept.sort()
    return [Task(condition, at, said[at], speaking[at]) for condition in conditions for at in kept]


def need_talkers(conditions: list[str]) -> bool:
    """Tell whether other people speak in any of the conditions."""
    return any(name.startswith(OTHERS) for name in conditions)
