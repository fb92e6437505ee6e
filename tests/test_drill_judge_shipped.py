"""The drills that come with the program can be done without a fault."""

from pathlib import Path

import pytest
from drill_rig import attempt_of, perfect

from voicecount.drill.judge import judge
from voicecount.drill.judgement import Result
from voicecount.drill.load import load_drill, shipped


@pytest.mark.parametrize("path", shipped(), ids=lambda path: path.stem)
@pytest.mark.parametrize("cues_known", [True, False])
def test_a_perfect_attempt_at_a_shipped_drill(path: Path, cues_known: bool) -> None:
    """A perfect attempt has no finding; without the partner's times nothing more is found."""
    loaded = load_drill(path)
    acts = perfect(loaded.drill, loaded.sheet)

    found = judge(attempt_of(acts, loaded.sheet, cues_known=cues_known), loaded.drill, loaded.sheet)

    assert [(one.fault, one.step) for one in found.findings] == []
    assert found.score == 1.0
    if cues_known:
        assert {one.result for one in found.steps} == {Result.RIGHT}
