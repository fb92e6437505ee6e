"""A drill on a virtual sound card, in a process of its own: a student, a partner, a real command.

    python -m tests.virtual_drill FOLDER

prints what was found as JSON. The student is a voice in a process of its own, who waits for each
read-back and objects to the two that are wrong; the partner comes back into the microphone 10 dB
weaker. ``voicecount drill start`` runs as a user starts it.
"""

import json
import os
import subprocess
import sys
from bisect import bisect_right
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr

from benchmarks.live_card import LOUDSPEAKER, MICROPHONE, PLAYED_RATE, People, give_back
from tests.virtual_card import SINKS, VirtualCard
from voicecount.speak.embedded import EmbeddedVoice

DRILL = "tendon_misread"
CALLS = (
    "X-ray gauze. One, two, three, four, five, six, seven, eight, nine, ten.",
    "Suture needle. One, two, three, four.",
    "No, that is not right.",
    "Hypodermic needle. One, two, three.",
    "Rubber band. One, two.",
    "Mosquito clamp. One, two, three, four, five, six.",
    "Adson forceps. One, two, three, four.",
    "No, that is not right.",
)
_PAUSE = 0.5
_LOUD = 0.4
_ROOM = 0.0005
_LONGEST = 240.0


def student(path: Path) -> list[float]:
    """Write what the student says, and give the times at which an answer is waited for."""
    voice = EmbeddedVoice.load()
    chance = np.random.default_rng(8)
    parts, waits, length = [], [], 0
    for call in CALLS:
        clip = voice.speak(call)
        sound = np.asarray(soxr.resample(clip.samples, clip.rate, PLAYED_RATE), np.float32)
        pause = np.zeros(round(_PAUSE * PLAYED_RATE), np.float32)
        waits.append((length + len(pause)) / PLAYED_RATE)
        parts += [pause, pause, _LOUD * sound / np.abs(sound).max()]
        length += 2 * len(pause) + len(sound)
    whole = np.concatenate([*parts, np.zeros(PLAYED_RATE, np.float32)])
    both = whole[:, np.newaxis] + chance.normal(0.0, _ROOM, (len(whole), 2)).astype(np.float32)
    soundfile.write(path, both, PLAYED_RATE)
    return waits


def run(folder: Path) -> dict[str, Any]:
    """Hold the drill and give what came of it."""
    recording = folder / "student.wav"
    waits = student(recording)
    card = VirtualCard(folder, SINKS)
    try:
        card.start()
        os.environ.update(card.environment)
        give_back(card, -10.0)
        people = People(card, recording, waits)
        command = [
            *(sys.executable, "-m", "voicecount", "drill", "start", DRILL, "--student", "s1"),
            *("--to", str(folder / "attempts"), "--microphone", f"{MICROPHONE}_microphone"),
            *("--loudspeaker", f"{LOUDSPEAKER}_loudspeaker"),
        ]
        try:
            people.begin()
            ended = subprocess.run(
                command, env=card.environment, capture_output=True, check=False, timeout=_LONGEST
            )
        finally:
            heard = people.close()
    finally:
        card.close()
    judged = list((folder / "attempts").rglob("judgement.json"))
    return {
        "code": ended.returncode,
        "told": ended.stdout.decode(),
        "complaint": ended.stderr.decode(),
        "judgement": [json.loads(path.read_text(encoding="utf-8")) for path in judged],
        "waited": answered_after(heard["people"], heard["assistant"]),
        "interrupted": heard["interrupted"],
        "unanswered": heard["unanswered"],
    }


def answered_after(people: list[list[float]], partner: list[list[float]]) -> list[float]:
    """Give the seconds from the end of each of the student's bursts to the partner's next sound."""
    begins = [begin for begin, _ in partner]
    found = []
    nexts = [*(begin for begin, _ in people[1:]), float("inf")]
    for (_, end), follows in zip(people, nexts, strict=False):
        at = bisect_right(begins, end)
        if at < len(begins) and begins[at] < follows:
            found.append(round(begins[at] - end, 3))
    return found


if __name__ == "__main__":
    print(json.dumps(run(Path(sys.argv[1]))))
