"""Who is heard while the assistant speaks: itself (never), a person (noticed), a spoken "stop".

    python -m benchmarks.half_duplex

The assistant's replies are played into a room that falls by 60 dB in 0.4 s and come back into the
microphone late and weaker; people are the voices of this machine. Prints, with numbers of cases:
what the gate lets through of the assistant, and what a recogniser makes of it without the gate; the
share of people who are noticed, by how much louder they are than the assistant's voice; and the
share of spoken stops that cut it off.
"""

import numpy as np
import soxr
from numpy.typing import NDArray

from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.heard import Outcome
from voicecount.live import told_to_stop
from voicecount.rehearse.voices import find_voices, load_engine
from voicecount.sheet.model import Sheet
from voicecount.sound.frame import RATE, Frame, Samples, Utterance
from voicecount.sound.gate import Echo, Gate, Noticed
from voicecount.sound.level import rms_db
from voicecount.sound.room_sound import echo_gain, tail_seconds
from voicecount.sound.segment import Segmenter
from voicecount.speak.embedded import EmbeddedVoice
from voicecount.words.commands import COMMANDS, HUSH
from voicecount.words.grammar import build_grammar
from voicecount.words.vocabulary import Vocabulary

SHEET = {
    "title": "Half duplex",
    "items": [
        {"id": "gauze", "group": "sponges", "say": ["gauze"], "expect": 10, "pack": 10},
        {"id": "lap", "group": "sponges", "say": ["lap pad"], "expect": 10, "pack": 5},
        {"id": "loop", "group": "miscellaneous", "say": ["vessel loop"], "expect": 2},
        {"id": "kelly", "group": "instruments", "say": ["Kelly clamp"], "expect": 6},
    ],
}
REPLIES = tuple(
    text
    for name in ("Gauze", "Lap pads", "Vessel loops", "Kelly clamps")
    for text in (
        f"{name}, ten.",
        f"{name}, five. Please say yes or no.",
        f"I heard six. {name}, after four. Say it again.",
    )
)
PEOPLE = ("no, that is wrong", "wait", "I have five of them", "yes")
GAINS = (-10.0, -20.0, -30.0)
ABOVE = (20, 15, 10, 6, 3, 0)
"""How many dB the person is louder than the assistant's voice, both at their loudest."""
STOPS_ABOVE = (30, 20, 15, 10, 6)
ECHO_DB = -20.0

_REVERBERATION = 0.4
_DELAY = 0.15
_ROOM_DB = -65.0
_BEGINS = 1.0
_SPOKEN_AT = 1.8
_AFTER = 3.0

Sound = NDArray[np.float32]


def main() -> None:
    """Print all tables."""
    rng = np.random.default_rng(2026)
    assistant = EmbeddedVoice.load()
    replies = []
    for text in REPLIES:
        clip = assistant.speak(text)
        replies.append(np.asarray(soxr.resample(clip.samples, clip.rate, RATE), np.float32))
    recogniser = EmbeddedRecogniser.load()
    grammar = build_grammar(Sheet.model_validate(SHEET))
    print(
        "| assistant's voice | replies | utterances through the gate | taken for a person |", end=""
    )
    print(" accepted without the gate |\n|---|---|---|---|---|")
    for gain in GAINS:
        through = noticed = accepted = 0
        for reply in replies:
            sound, tail = room(reply, gain, rng)
            gate = gated(reply, tail, Echo((gain_of(reply, sound),)))
            frames = [gate.feed(frame) for frame in frames_of(sound)]
            through += len(cut(frames))
            noticed += len(gate.take_noticed())
            accepted += any(
                recogniser.hear(one, grammar).outcome is Outcome.ACCEPTED
                for one in cut(frames_of(sound))
            )
        print(f"| {gain:.0f} dB | {len(replies)} | {through} | {noticed} | {accepted} |")
    voices = find_voices(load_engine())
    print(
        f"\nPeople: {len(voices)} voices, {', '.join(voices)}; the assistant at {ECHO_DB:.0f} dB\n"
    )
    print("| person above the assistant | n | noticed |\n|---|---|---|")
    long = [reply for reply in replies if len(reply) > 2.5 * RATE]
    for above in ABOVE:
        found = [
            bool(spoken_into(long[place % len(long)], say(text), above, rng))
            for place, (say, text) in enumerate(
                (say, text) for say in voices.values() for text in PEOPLE
            )
        ]
        print(f"| {above} dB | {len(found)} | {sum(found)} |")
    stops = told_to_stop(
        recogniser,
        build_grammar(Sheet.model_validate(SHEET), Vocabulary((*COMMANDS, HUSH))),
    )
    print('\n| "stop" above the assistant | n | noticed | cut off | others cut off | of |')
    print("|---|---|---|---|---|---|")
    for above in STOPS_ABOVE:
        heard = [
            spoken_into(reply, say("stop"), above, rng)
            for say in voices.values()
            for reply in long[:2]
        ]
        cuts = [any(stops(one.utterance) for one in many) for many in heard]
        others = [
            any(stops(one.utterance) for one in spoken_into(long[0], say(text), above, rng))
            for say in voices.values()
            for text in PEOPLE[:2]
        ]
        numbers = (len(heard), sum(map(bool, heard)), sum(cuts), sum(others), len(others))
        print(f"| {above} dB | {' | '.join(map(str, numbers))} |")


def spoken_into(
    reply: Samples, said: Samples, above: float, rng: np.random.Generator
) -> list[Noticed]:
    """Give what is noticed of somebody who speaks into a reply."""
    sound, tail = room(reply, ECHO_DB, rng)
    echo = Echo((gain_of(reply, sound),))
    level = loudest(reply) + ECHO_DB + above
    first = round(_SPOKEN_AT * RATE)
    said = said * np.float32(10 ** ((level - loudest(said)) / 20))
    sound[first : first + len(said)] += said[: len(sound) - first]
    gate = gated(reply, tail, echo)
    for frame in frames_of(np.clip(sound, -1.0, 1.0)):
        gate.feed(frame)
    return gate.take_noticed()


def room(reply: Samples, gain: float, rng: np.random.Generator) -> tuple[Sound, float]:
    """Give what the microphone hears of a reply that begins after a second, and the tail."""
    time = np.arange(round(1.5 * _REVERBERATION * RATE)) / RATE
    answer = rng.normal(0, 0.02, len(time)) * 10 ** (-3 * time / _REVERBERATION)
    answer[0] = 1.0
    heard = np.convolve(reply, answer)
    heard *= 10 ** (gain / 20)
    ended = round(_BEGINS * RATE) + len(reply)
    sound = rng.normal(0, 10 ** (_ROOM_DB / 20), ended + round(_AFTER * RATE))
    first = round((_BEGINS + _DELAY) * RATE)
    sound[first : first + len(heard)] += heard[: len(sound) - first]
    whole = sound.astype(np.float32)
    return whole, tail_seconds(np.ascontiguousarray(whole[ended:]), RATE)


def gain_of(reply: Samples, sound: Sound) -> float:
    """Measure the room's gain as at set-up."""
    return echo_gain(reply, np.ascontiguousarray(sound[round(_BEGINS * RATE) :]))


def gated(reply: Samples, tail: float, echo: Echo) -> Gate:
    """Give a gate that is closed during a reply."""
    gate = Gate(1, echo)
    gate.close(_BEGINS, reply)
    gate.open_after(tail, _BEGINS + len(reply) / RATE)
    return gate


def frames_of(sound: Sound) -> list[Frame]:
    """Cut one channel into frames."""
    return [
        Frame(first / RATE, sound[first : first + 512, np.newaxis])
        for first in range(0, len(sound), 512)
    ]


def cut(frames: list[Frame]) -> list[Utterance]:
    """Give the utterances of frames."""
    segmenter = Segmenter(1)
    ended = [one for frame in frames for one in segmenter.feed(frame)]
    return [*ended, *segmenter.flush()]


def loudest(sound: Samples) -> float:
    """Give the level, in dB, of the loudest 20 ms but a twentieth."""
    steps = [rms_db(sound[first : first + 320]) for first in range(0, len(sound), 320)]
    return float(np.percentile(steps, 95))


if __name__ == "__main__":
    main()
