"""A whole room through a real sound system: people and assistant hear each other, in real time.

Skipped with the reason "optional: ..." where no virtual card can be started.
"""

import json
import os
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from test_virtual_card import available
from virtual_card import MISSING

pytestmark = pytest.mark.audio
ROOT = Path(__file__).parent.parent


def test_a_count_through_a_real_card_is_that_of_the_replay(tmp_path: Path) -> None:
    """Half a minute of the demo, the assistant 10 dB weaker in the microphone: the same events.

    Nothing of the assistant's own voice is taken for a person, and every answer is heard.
    """
    if not available():
        pytest.skip(MISSING)
    with subprocess.Popen(
        [sys.executable, "-m", "tests.virtual_case", str(tmp_path)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    ) as process:
        try:
            answer, complaint = process.communicate(timeout=400)
        finally:
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)  # the server, too, whatever happened
    assert process.returncode == 0, complaint.decode()
    found = json.loads(answer)

    assert found["events"] > 5
    assert found["difference"] is None
    assert found["unspoken"] == 0
    assert found["answers"] > found["events"] / 2
    assert found["people"]["unanswered"] == 0
