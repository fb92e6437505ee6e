"""People of a recording in front of a virtual microphone, who stand still while they are spoken to.

    python tests/virtual_people.py '{"recording": ..., "microphone": ..., "loudspeaker": ...}'

A process of its own, so that it is as independent of the room as people are: it plays the recording
into one sink and listens at the monitors of both. It begins with the room's noise; at the line
"begin" on its standard input the recording begins. While the assistant is heard, and a while after,
the recording stands still and the noise goes on. Whoever was in the middle of words then says them
again from their beginning. At each of the times in ``waits`` people wait until they have had an
answer since their last words, as people do who know that one comes. When the microphone is pulled
out they wait until it is back and the assistant has said so. "end" is printed when the recording
has ended; what was heard of both is printed as JSON when standard input ends.
"""

import json
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

Sound = NDArray[np.float32]

CHUNK_SECONDS = 0.02
QUIET_SECONDS = 1.2
"""People go on so long after the assistant's last sound: its tone and its words are one answer."""
WAIT_SECONDS = 20.0
"""Nobody waits longer for an answer."""
BACK_SECONDS = 12.0
"""Nor longer for being told that the microphone is back."""
PEOPLE_DB, ASSISTANT_DB = -40.0, -60.0
"""Louder than this is a voice. The recordings' noise is weaker by 18 dB and more."""
BETWEEN = 0.6
"""Seconds without a voice between two bursts."""
BEFORE = 0.3
"""Words are said again from so long before they begin."""
_LISTEN_RATE = 16_000
_LEAD = 0.06
_NOISE_SECONDS = 0.6


@dataclass
class Ear:
    """Listens at a sink's monitor; times are those of the monotonic clock."""

    sink: str
    threshold: float
    bursts: list[list[float]] = field(default_factory=list)
    """Begin and end of every stretch of voice."""
    over: bool = False

    def start(self) -> None:
        """Begin, in a thread of its own."""
        threading.Thread(target=self._run, daemon=True).start()

    @property
    def last(self) -> float:
        """When the last voice was heard; the far past before the first."""
        return self.bursts[-1][1] if self.bursts else float("-inf")

    def _run(self) -> None:
        while not self.over:
            with subprocess.Popen(
                [
                    *("parec", f"--device={self.sink}.monitor", "--raw", "--format=float32le"),
                    *(f"--rate={_LISTEN_RATE}", "--channels=1", "--latency-msec=20"),
                ],
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            ) as listening:
                self._hear(listening)
                listening.kill()
            time.sleep(0.1)  # the sink was pulled out

    def _hear(self, listening: "subprocess.Popen[bytes]") -> None:
        size = round(CHUNK_SECONDS * _LISTEN_RATE) * 4
        while listening.stdout is not None and not self.over:
            data = listening.stdout.read(size)
            if len(data) < size:
                return
            if level(np.frombuffer(data, np.float32)) < self.threshold:
                continue
            now = time.monotonic()
            if now - self.last > BETWEEN:
                self.bursts.append([now - CHUNK_SECONDS, now])
            self.bursts[-1][1] = now


class Mouth:
    """Plays into a sink, chunk by chunk, a little ahead of the clock."""

    def __init__(self, sink: str, rate: int) -> None:
        self._sink = sink
        self._rate = rate
        self._player: subprocess.Popen[bytes] | None = None
        self._begun = 0.0
        self._given = 0.0

    def say(self, chunk: Sound) -> bool:
        """Play a chunk; False where the sink is gone."""
        if self._player is None:
            self._player = subprocess.Popen(
                [
                    *("pacat", "--playback", f"--device={self._sink}", "--raw"),
                    *("--format=float32le", f"--rate={self._rate}", "--channels=2"),
                    "--latency-msec=60",
                ],
                stdin=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
            self._begun, self._given = time.monotonic() - _LEAD, 0.0
        self._given += len(chunk) / self._rate
        wait = self._begun + self._given - time.monotonic()
        if wait > 0:
            time.sleep(wait)
        try:
            if self._player.poll() is not None or self._player.stdin is None:
                raise BrokenPipeError
            self._player.stdin.write(np.ascontiguousarray(chunk, "<f4").tobytes())
            self._player.stdin.flush()
        except OSError:
            self.close()
            return False
        return True

    def close(self) -> None:
        """Let go of the sink."""
        if self._player is not None:
            self._player.kill()
            self._player.wait()
            self._player = None


class People:
    """The recording's people. ``waits`` are seconds of the recording, in order."""

    def __init__(
        self, sound: Sound, rate: int, *, microphone: str, loudspeaker: str, waits: list[float]
    ) -> None:
        self._sound = sound
        self._rate = rate
        self._size = round(CHUNK_SECONDS * rate)
        self._words = words(sound, rate)
        self._waits = [round(wait * rate) for wait in waits]
        first = min((begin for begin, _ in self._words), default=len(sound))
        self._noise = sound[: min(round(_NOISE_SECONDS * rate), first)]
        self._noise_at = 0
        self._place = 0
        self._said = float("-inf")
        self._waiting = 0.0
        self._told: float | None = None
        self._mouth = Mouth(microphone, rate)
        self._assistant = Ear(loudspeaker, ASSISTANT_DB)
        self._people = Ear(microphone, PEOPLE_DB)
        self._begun = False
        self.interrupted = 0
        """How often the assistant spoke into words."""
        self.unanswered = 0
        """How often no answer came."""
        self.over = False

    def begin(self) -> None:
        """Begin with the recording."""
        self._said = time.monotonic()
        self._begun = True

    def run(self) -> None:
        """Play until told that it is over."""
        self._assistant.start()
        self._people.start()
        ended = False
        while not self.over:
            if not ended and self._place >= len(self._sound):
                ended = True
                print("end", flush=True)
            speaks = self._begun and not ended and not self._stands_still()
            if not self._mouth.say(self._next() if speaks else self._quiet()):
                self._pulled_out()
        self._assistant.over = self._people.over = True
        self._mouth.close()

    def found(self) -> dict[str, object]:
        """Give what was heard, in seconds of the monotonic clock."""
        return {
            "people": self._people.bursts,
            "assistant": self._assistant.bursts,
            "interrupted": self.interrupted,
            "unanswered": self.unanswered,
        }

    def _stands_still(self) -> bool:
        now = time.monotonic()
        if now - self._assistant.last < QUIET_SECONDS:
            self._say_again()
            self._waiting = 0.0
            return True
        if self._told is not None:
            if self._assistant.last < self._told and now - self._told < BACK_SECONDS:
                return True
            self._told = None
        if not self._waits or self._place < self._waits[0]:
            return False
        self._waiting = self._waiting or now
        late = now - self._waiting > WAIT_SECONDS
        if self._assistant.last < self._said and not late:
            return True
        self.unanswered += late
        self._waits.pop(0)
        self._waiting = 0.0
        return False

    def _say_again(self) -> None:
        """Go back to where the words began that are being said."""
        for begin, end in self._words:
            if begin < self._place < end:
                self._place = max(0, begin - round(BEFORE * self._rate))
                self.interrupted += 1

    def _pulled_out(self) -> None:
        """Say again what nobody heard, once the microphone is back and people are told so."""
        self._say_again()
        self._told = time.monotonic()
        time.sleep(0.2)

    def _next(self) -> Sound:
        chunk = self._sound[self._place : self._place + self._size]
        self._place += self._size
        if any(
            begin < self._place and self._place - self._size < end for begin, end in self._words
        ):
            self._said = time.monotonic()
        return chunk

    def _quiet(self) -> Sound:
        places = np.arange(self._noise_at, self._noise_at + self._size) % len(self._noise)
        self._noise_at += self._size
        return self._noise[places]


def level(sound: Sound) -> float:
    """Give the level in dB under full scale."""
    return float(10 * np.log10(np.mean(np.square(sound)) + 1e-12))


def words(sound: Sound, rate: int) -> list[tuple[int, int]]:
    """Give the begin and end, in samples, of what people say between their pauses."""
    size = round(CHUNK_SECONDS * rate)
    found: list[tuple[int, int]] = []
    for first in range(0, len(sound), size):
        chunk = sound[first : first + size]
        if max(level(chunk[:, 0]), level(chunk[:, 1])) < PEOPLE_DB:
            continue
        if found and first - found[-1][1] < BETWEEN * rate:
            found[-1] = (found[-1][0], first + size)
        else:
            found.append((first, first + size))
    return found


def main() -> None:
    """Be there until standard input ends."""
    given = json.loads(sys.argv[1])
    sound, rate = soundfile.read(Path(given["recording"]), dtype="float32", always_2d=True)
    sound = np.asarray(soxr.resample(sound, rate, given["rate"]), np.float32)
    people = People(
        np.clip(sound, -1.0, 1.0),
        given["rate"],
        microphone=given["microphone"],
        loudspeaker=given["loudspeaker"],
        waits=given["waits"],
    )
    playing = threading.Thread(target=people.run)
    playing.start()
    for line in sys.stdin:
        if line.strip() == "begin":
            people.begin()
    people.over = True
    playing.join()
    print(json.dumps(people.found()), flush=True)


if __name__ == "__main__":
    main()
