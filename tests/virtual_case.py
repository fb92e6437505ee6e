"""A whole room on a virtual sound card, in a process of its own.

    python -m tests.virtual_case FOLDER

prints what was found as JSON. The people are those of the demo's recording, in a process of their
own; the room is wired as ``voicecount run`` wires it, and the assistant comes back into the
microphone 10 dB weaker.
"""

import json
import sys
from pathlib import Path
from typing import Any

import soundfile

from benchmarks.live_card import OnCard
from benchmarks.live_case import SOUND, Materials, difference, replay
from tests.virtual_card import SINKS, VirtualCard

ROOT = Path(__file__).parent.parent
SECONDS = 30.6
"""Of the demo recording: a package, one that is short, one more, and a skipped number."""


def run(folder: Path) -> dict[str, Any]:
    """Run a stretch of the demo on a card and compare its journal with that of a replay."""
    recording = folder / "people.wav"
    sound, rate = soundfile.read(ROOT / "audio_fixtures/caesarean.flac", dtype="float32")
    soundfile.write(recording, sound[: round(SECONDS * rate)], rate)
    materials = Materials.load(ROOT / "grammars/caesarean.yaml", recording)
    replayed = replay(materials)
    card = VirtualCard(folder, SINKS)
    try:
        card.start()
        on_card = OnCard(materials, folder, card)
        events = on_card.run(replayed, echo=-10.0)
    finally:
        card.close()
    answers = on_card.watch.answers if on_card.watch is not None else []
    return {
        "difference": difference(events, replayed.events),
        "events": len(replayed.events),
        "sound": [event.model_dump(mode="json") for event in events if event.kind in SOUND],
        "people": on_card.found,
        "unspoken": sum(one.unspoken for one in answers),
        "answers": len(answers),
    }


if __name__ == "__main__":
    print(json.dumps(run(Path(sys.argv[1]))))
