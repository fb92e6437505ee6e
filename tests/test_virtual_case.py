"""A whole room through a real sound system: people and assistant hear each other, in real time.

Skipped with the reason "optional: ..." where no virtual card can be started.
"""

import sys
from pathlib import Path

import pytest
from test_virtual_card import available, found_by
from virtual_card import MISSING

pytestmark = pytest.mark.audio


def test_a_count_through_a_real_card_is_that_of_the_replay(tmp_path: Path) -> None:
    """Half a minute of the demo, the assistant 10 dB weaker in the microphone: the same events.

    Nothing of the assistant's own voice is taken for a person, and every answer is heard.
    """
    if not available():
        pytest.skip(MISSING)
    command = [sys.executable, "-m", "tests.virtual_case", str(tmp_path)]
    found = found_by(command, seconds=400)

    assert found["events"] > 5
    assert found["difference"] is None
    assert found["unspoken"] == 0
    assert found["answers"] > found["events"] / 2
    assert found["people"]["unanswered"] == 0
