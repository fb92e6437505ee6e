"""How long people wait in a live room: a recording in real time through the whole of it.

    python -m benchmarks.live_room grammars/caesarean.yaml audio_fixtures/caesarean.flac
    python -m benchmarks.live_room grammars/caesarean_case.yaml audio_fixtures/caesarean_case.flac

The recording stands in for the microphone at the speed of life and stands still while the assistant
would speak; the voice is made, and nothing is played. Printed are the seconds from the moment at
which an answer is due (the end of speech, or the end of the time that a line stays open for more
numbers) to the decision, to the first sound of the answer (a tone before its words, too) and to its
words; how far the words that are shown lag behind the voice; sound that is missing; and whether
the events are those of a replay. ``--json FILE`` writes the same for a comparison.
"""

import argparse
import tempfile
from pathlib import Path

from benchmarks.live_case import Case, Materials, difference, replay
from benchmarks.stopwatch import Figures, Stopwatch
from voicecount.commands.run import PARTIAL_SECONDS
from voicecount.keep.clock import StoppableClock, SystemClock
from voicecount.sound.device import DeviceSource
from voicecount.sound.moments import moments
from voicecount.sound.playback import FileCapture
from voicecount.speak.ahead import AheadVoice
from voicecount.speak.choose import choose_voice
from voicecount.speak.player import SilentSpeaker
from voicecount.speak.port import Clip
from voicecount.speak.standing import StandingSpeaker


def main() -> None:
    """Run in real time and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sheet", type=Path)
    parser.add_argument("recording", type=Path)
    parser.add_argument("--json", type=Path)
    given = parser.parse_args()
    materials = Materials.load(given.sheet, given.recording)
    clock = StoppableClock(SystemClock())
    voice = choose_voice("embedded", together=materials.sheet.ways, announce=print)
    ahead = AheadVoice(voice) if voice is not None else None
    capture = FileCapture(given.recording, clock)
    source = DeviceSource(lambda: capture, capture.channels, clock)
    watch = Stopwatch(source.now, clock.monotonic)
    speaker = _Unheard(watch, StandingSpeaker(SilentSpeaker(), clock))
    with tempfile.TemporaryDirectory() as folder:
        case = Case(materials, Path(folder))
        room = case.room(
            voice=ahead,
            speaker=speaker,
            observers=[watch],
            ahead=ahead.prepare if ahead is not None else None,
        )
        room.open()
        stream = moments(source, partial_every=PARTIAL_SECONDS, now=source.now)
        room.run(watch.moments(stream), until=lambda: case.dialogue.ledger.closed)
        source.close()
        events = case.events()
    figures = Figures(f"{given.recording.name} through the file port")
    figures.take(watch)
    figures.facts["sound missing, seconds"] = source.account.missing
    replayed = replay(materials)
    figures.facts["events live and in a replay"] = [len(events), len(replayed.events)]
    figures.facts["first difference"] = difference(events, replayed.events)
    figures.show()
    if given.json is not None:
        figures.write(given.json, watch)


class _Unheard:
    """A speaker that keeps when each clip would begin, and passes it over."""

    def __init__(self, watch: Stopwatch, standing: StandingSpeaker) -> None:
        self._watch = watch
        self._standing = standing

    def play(self, clip: Clip) -> None:
        """Return at once: the recording stands still for nothing."""
        self._watch.play(clip)
        self._standing.play(clip)


if __name__ == "__main__":
    main()
