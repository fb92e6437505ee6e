"""What the tests on a virtual sound card do, each in a process of its own.

    python tests/virtual_scenes.py SCENE FOLDER

prints what was found as JSON. A process of its own, because the sound libraries read where they are
once, and because a driver that hangs must not hang the tests.
"""

import json
import os
import sys
import threading
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray
from virtual_card import SINKS, VirtualCard

from voicecount.keep.clock import SystemClock
from voicecount.sound import choose
from voicecount.sound.device import DeviceSource, microphone
from voicecount.sound.frame import RATE, Frame
from voicecount.sound.pair import PairSource
from voicecount.sound.portaudio import DeviceError
from voicecount.sound.segment import Segmenter
from voicecount.sound.watchdog import Change, Code
from voicecount.speak.duplex import HalfDuplex, measure
from voicecount.speak.embedded import EmbeddedVoice
from voicecount.speak.player import DeviceSpeaker
from voicecount.speak.port import Clip

Sound = NDArray[np.float32]
CLOCK = SystemClock()
FIRST, SECOND = SINKS
LIMIT = 20.0


class Scene:
    """A virtual card, and one of its microphones open."""

    def __init__(self, folder: Path, sink: str, channels: int, sinks: Sequence[str]) -> None:
        self.card = VirtualCard(folder, sinks)
        self.card.start()
        os.environ.update(self.card.environment)
        self.folder = folder
        self.sink = sink
        self.changes: list[Change] = []
        self.frames: list[Frame] = []
        self.source: DeviceSource | PairSource = microphone(
            f"{sink}_microphone", channels, CLOCK, changed=self.changes.append
        )
        self.source.open()

    def read(self, until: Callable[[], bool]) -> None:
        """Read frames until something is so."""
        end = CLOCK.monotonic() + LIMIT
        while not until():
            frame = self.source.read(0.1)
            if frame is not None:
                self.frames.append(frame)
            if CLOCK.monotonic() > end:
                raise SystemExit(f"nothing within {LIMIT} s; changes: {self.changes}")

    def read_for(self, seconds: float) -> None:
        """Read frames for a while."""
        end = CLOCK.monotonic() + seconds
        self.read(lambda: CLOCK.monotonic() >= end)

    def told(self, code: Code) -> Change | None:
        """Give the first change of a kind."""
        return next((change for change in self.changes if change.code is code), None)

    def file(self, name: str, sound: Sound, rate: int) -> Path:
        """Write a sound."""
        soundfile.write(self.folder / name, sound, rate)
        return self.folder / name

    def sound(self) -> Sound:
        """Give what was read, shape (n, channels)."""
        return np.concatenate([frame.samples for frame in self.frames])

    def close(self) -> None:
        """End everything."""
        self.source.close()
        self.card.close()


def tone(hertz: float, seconds: float, rate: int, level: float = 0.3) -> Sound:
    time = np.arange(round(seconds * rate)) / rate
    return (level * np.sin(2 * np.pi * hertz * time)).astype(np.float32)


def names(folder: Path) -> dict[str, Any]:
    """Which microphones there are, and what is said of those that there are not."""
    scene = Scene(folder, FIRST, 1, SINKS)
    errors = []
    for part in ("microphone", "no such thing"):
        try:
            choose.choose(choose.microphones(), part)
        except DeviceError as error:
            errors.append(str(error))
    scene.close()
    return {"labels": [device.label for device in choose.microphones()], "errors": errors}


def hear(folder: Path) -> dict[str, Any]:
    """Two tones in two channels, played by another process, heard through the device."""
    scene = Scene(folder, SECOND, 2, SINKS)
    both = np.stack((tone(300.0, 6.0, 48_000), tone(800.0, 6.0, 48_000)), axis=1)
    player = scene.card.play(SECOND, scene.file("tones.wav", both, 48_000))
    scene.read(
        lambda: bool(scene.frames and np.abs(scene.frames[-1].samples).max(initial=0.0) > 0.1)
    )
    scene.frames.clear()
    scene.read_for(3.0)
    sound = scene.sound()[: 2 * RATE]
    player.terminate()
    player.wait()
    spectra = np.abs(np.fft.rfft(sound * np.hanning(len(sound))[:, np.newaxis], axis=0))
    account = scene.source.account
    scene.close()
    return {
        "tones": [float(hertz) for hertz in np.argmax(spectra, axis=0) * RATE / len(sound)],
        "levels": [float(level) for level in np.abs(sound).max(axis=0)],
        "lost": sum(frame.lost for frame in scene.frames),
        "missing": account.missing,
        "seconds": sum(len(frame.samples) for frame in scene.frames) / RATE,
    }


def vanish(folder: Path) -> dict[str, Any]:
    """A microphone that gives nothing, then is pulled out while it is read, and put back."""
    scene = Scene(folder, FIRST, 1, (FIRST,))
    scene.read(lambda: scene.told(Code.SILENT) is not None)
    unplugged = CLOCK.monotonic()
    scene.card.unplug(FIRST)
    scene.read(lambda: scene.told(Code.GONE) is not None)
    scene.read_for(2.0)
    plugged = CLOCK.monotonic()
    scene.card.plug(FIRST)
    scene.read(lambda: scene.told(Code.BACK) is not None)
    scene.frames.clear()
    scene.read(lambda: any(len(frame.samples) for frame in scene.frames))
    gone, back = scene.told(Code.GONE), scene.told(Code.BACK)
    scene.close()
    return {
        "codes": [change.code for change in scene.changes],
        "gone_after": gone.at - unplugged if gone else None,
        "back_after": back.at - plugged if back else None,
        "lost": any(frame.lost for frame in scene.frames),
        "missing": scene.source.account.missing,
        "away": plugged - unplugged,
    }


def stop(folder: Path) -> dict[str, Any]:
    """A long clip that is cut off after a second, and a short one that is played to its end."""
    scene = Scene(folder, FIRST, 1, SINKS)
    scene.read(lambda: bool(scene.frames))
    speaker = DeviceSpeaker(f"{FIRST}_loudspeaker")
    took = []
    cut = []
    for seconds in (30.0, 1.0):
        begun = CLOCK.monotonic()
        clip = Clip(tone(440.0, seconds, 24_000), 24_000)
        playing = threading.Thread(target=speaker.play, args=(clip,))
        playing.start()
        scene.read_for(0.8)
        stopped = CLOCK.monotonic()
        if seconds > 2.0:
            speaker.stop()
        playing.join()
        took.append(CLOCK.monotonic() - (stopped if seconds > 2.0 else begun))
        cut.append(speaker.cut)
        scene.frames.clear()
        scene.read_for(1.5)
        loud = [np.abs(frame.samples).max(initial=0.0) > 0.01 for frame in scene.frames]
        took.append(max((place for place, one in enumerate(loud) if one), default=-1) * 0.032)
    scene.close()
    return {"returned": took[0], "heard_after": took[1], "whole": took[2], "cut": cut}


def duplex(folder: Path) -> dict[str, Any]:
    """The assistant speaks at -10 dB into the microphone, then a person does: who is heard?"""
    voice = EmbeddedVoice.load()
    said, asked = voice.speak("Gauze, ten. Say it again."), voice.speak("gauze, ten")
    loud = Clip((said.samples * np.float32(10 ** (-10 / 20))).astype(np.float32), said.rate)
    scene = Scene(folder, FIRST, 1, SINKS)
    speaker = DeviceSpeaker(f"{FIRST}_loudspeaker")
    room = measure(scene.source, speaker, loud)
    pair = HalfDuplex(scene.source, speaker, room=room)
    found: dict[str, list[tuple[float, float]]] = {}
    for gated in (True, False):
        segmenter = Segmenter(1)
        begun = scene.source.now()
        if gated:
            pair.play(loud)
        else:
            thread = threading.Thread(target=speaker.play, args=(loud,))
            thread.start()
        person = soxr.resample(asked.samples, 20_000, 24_000)
        end = begun + loud.seconds + 1.5
        ended = []
        player = None
        for frame in pair.frames():
            ended += segmenter.feed(frame)
            if player is None and frame.start > end:
                player = scene.card.play(FIRST, scene.file("person.wav", person, 24_000))
            if frame.start > end + 4.0:
                break
        ended += segmenter.flush()
        if player is not None:
            player.wait()
        found["gated" if gated else "open"] = [
            (one.start - begun, one.end - begun) for one in ended
        ]
    noticed = len(pair.take_noticed())
    missing = scene.source.account.missing
    scene.close()
    return {
        **found,
        "noticed": noticed,
        "tail": room.tail,
        "gain": room.echo.gain(0),
        "clip": loud.seconds,
        "missing": missing,
    }


def pair(folder: Path) -> dict[str, Any]:
    """Two microphones of different rates, each hears its own tone."""
    scene = Scene(folder, FIRST, 1, SINKS)
    scene.source.close()
    makers = [partial(microphone, f"{sink}_microphone", 1, CLOCK) for sink in SINKS]
    scene.source = both = PairSource(makers, CLOCK, changed=scene.changes.append)
    both.open()
    scene.read(lambda: bool(scene.frames))
    players = [
        scene.card.play(sink, scene.file(f"{sink}.wav", tone(hertz, 15.0, 48_000), 48_000))
        for sink, hertz in zip(SINKS, (300.0, 800.0), strict=True)
    ]
    scene.read(lambda: bool(np.abs(scene.frames[-1].samples).max(axis=0, initial=0.0).min() > 0.1))
    scene.frames.clear()
    scene.read_for(3.0)
    sound = scene.sound()[-2 * RATE :]
    for player in players:
        player.terminate()
        player.wait()
    spectra = np.abs(np.fft.rfft(sound * np.hanning(len(sound))[:, np.newaxis], axis=0))
    account = both.account
    scene.close()
    return {
        "tones": [float(hertz) for hertz in np.argmax(spectra, axis=0) * RATE / len(sound)],
        "missing": account.missing,
    }


SCENES = {scene.__name__: scene for scene in (names, hear, vanish, stop, duplex, pair)}


if __name__ == "__main__":
    print(json.dumps(SCENES[sys.argv[1]](Path(sys.argv[2]))))
