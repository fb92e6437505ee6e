"""Nothing leaves the room: no library that is used reports anything to anybody."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

SPEAK_AND_HEAR = """
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.sound.voice import Voice
from voicecount.speak.embedded import EmbeddedVoice

EmbeddedVoice.load().speak("One.")
EmbeddedRecogniser.load()
Voice(-60.0, 10.0)
"""
UNASKED = ("CI", "GITHUB_ACTIONS", "TF_BUILD", "ORT_DISABLE_TELEMETRY", "ORT_RUNNING_UNIT_TESTS")
"""Where one of these is set, the library that runs the models reports nothing, whatever we do."""


@pytest.mark.audio
def test_speaking_and_hearing_leave_no_trace_of_a_report(tmp_path: Path) -> None:
    """Without a setting of the user's no identity of the machine and no report to send is kept.

    Before it reports, the library writes both beneath the user's folder (ONNX Runtime, pull request
    27379: a persistent device identifier and an offline cache, neither where it was opted out).
    """
    there = {name: value for name, value in os.environ.items() if name not in UNASKED}
    there |= {"HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / ".cache")}
    done = subprocess.run(
        [sys.executable, "-c", SPEAK_AND_HEAR], env=there, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
