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


def test_a_drill_through_a_real_card_is_held_and_judged(tmp_path: Path) -> None:
    """A student calls, waits for each read-back and objects to two; the partner is at -10 dB.

    Nothing that the partner says is taken for the student, and nothing is held against anybody.
    """
    if not available():
        pytest.skip(MISSING)
    found = found_by([sys.executable, "-m", "tests.virtual_drill", str(tmp_path)], seconds=400)

    assert found["code"] == 0, found["complaint"]
    [judgement] = found["judgement"]
    assert judgement["findings"] == []
    results = {step["step"]: step["result"] for step in judgement["steps"]}
    assert {"suture_needle.misread", "adson.misread"} <= set(results)
    # a machine that is busy may lose sound, which is told as not heard
    assert set(results.values()) <= {"right", "not_heard"}
    assert sum(result == "right" for result in results.values()) >= 6
    for said in ("Five suture needles.", "Two Adson forceps.", "That is the end of the drill."):
        assert said in found["told"]
