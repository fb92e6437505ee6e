"""Sound in and out through a real sound system: PulseAudio's null sinks, started by the test.

Everything between voicecount and the driver is real: PortAudio, ALSA, PulseAudio. Skipped with the
reason "optional: ..." where none can be started. Times are bounds that no healthy machine misses,
never measures of speed.
"""

import json
import os
import signal
import subprocess
import sys
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from virtual_card import MISSING, VirtualCard

SCENES = Path(__file__).with_name("virtual_scenes.py")
PROBE = """
import sounddevice
names = [device["name"] for device in sounddevice.query_devices()]
raise SystemExit("theatre_microphone" not in names)
"""


@cache
def available() -> bool:
    """Whether a card can be started, and PortAudio sees it."""
    import tempfile  # noqa: PLC0415 - only here: the fixture's folder is not known yet

    with tempfile.TemporaryDirectory() as folder:
        card = VirtualCard(Path(folder))
        try:
            card.start()
            probe = [sys.executable, "-c", PROBE]
            seen = subprocess.run(probe, env=card.environment, capture_output=True, check=False)
        except (RuntimeError, OSError):
            return False
        finally:
            card.close()
    return seen.returncode == 0


def play(scene: str, folder: Path) -> dict[str, Any]:
    """Run a scene and give what it found."""
    if not available():
        pytest.skip(MISSING)
    return found_by([sys.executable, str(SCENES), scene, str(folder)], seconds=120)


def found_by(command: list[str], seconds: float) -> dict[str, Any]:
    """Run a process of its own, in the project's folder, and give what it found."""
    with subprocess.Popen(
        command,
        cwd=SCENES.parent.parent,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    ) as process:
        try:
            answer, complaint = process.communicate(timeout=seconds)
        finally:
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)  # the server, too, whatever happened
    assert process.returncode == 0, complaint.decode()
    found = json.loads(answer)
    assert isinstance(found, dict)
    return found


def test_devices_are_chosen_by_name(tmp_path: Path) -> None:
    """The card's microphones are listed; an unclear or unknown name is one line with all names."""
    found = play("names", tmp_path)

    assert "theatre_microphone (ALSA)" in found["labels"]
    several, none = found["errors"]
    assert "theatre_microphone" in several
    assert "second_microphone" in several
    assert none.startswith('no microphone is named "no such thing"; choose ')
    assert "theatre_microphone" in none


def test_a_real_device_is_heard_on_two_channels(tmp_path: Path) -> None:
    """Tones of 300 and 800 Hz come in as such, each on its own channel; losses are marked."""
    found = play("hear", tmp_path)

    assert found["tones"] == [pytest.approx(300.0, abs=1.0), pytest.approx(800.0, abs=1.0)]
    assert found["levels"] == [pytest.approx(0.3, abs=0.05)] * 2
    assert found["missing"] < 0.2
    assert found["lost"] > 0 or found["missing"] == 0.0
    assert found["seconds"] == pytest.approx(3.0, abs=0.6)


def test_a_real_device_that_is_pulled_out_comes_back(tmp_path: Path) -> None:
    """Silence, absence and return are told, in that order, and the gap is marked and counted."""
    found = play("vanish", tmp_path)

    assert found["codes"][:3] == ["silent", "gone", "back"]
    assert 0.0 < found["gone_after"] < 10.0
    assert 0.0 < found["back_after"] < 10.0
    assert found["lost"]
    assert found["missing"] >= found["away"] - 0.5


def test_two_real_microphones_are_one_source(tmp_path: Path) -> None:
    """Two devices of different rates: each channel has its own microphone's tone."""
    found = play("pair", tmp_path)

    assert found["tones"] == [pytest.approx(300.0, abs=1.0), pytest.approx(800.0, abs=1.0)]
    assert found["missing"] < 1.0


def test_a_real_loudspeaker_is_cut_off(tmp_path: Path) -> None:
    """A clip of 30 s ends at once when it is stopped; the next one is played in full."""
    found = play("stop", tmp_path)

    assert found["cut"] == [True, False]
    assert found["returned"] < 10.0
    assert found["heard_after"] < 1.0
    assert found["whole"] >= 1.0


@pytest.mark.audio
def test_the_assistant_in_a_real_microphone_is_nobody(tmp_path: Path) -> None:
    """At -10 dB in the channel only the person after it is heard; without the gate it is, too."""
    found = play("duplex", tmp_path)
    [(start, _)] = found["gated"]

    assert start > found["clip"] + 1.0
    assert any(start < found["clip"] for start, _ in found["open"])
    assert found["noticed"] == 0
