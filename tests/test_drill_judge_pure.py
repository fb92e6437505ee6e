"""The judge knows no sound, clock, disk or network: shown from the imports alone."""

import pytest
from test_pure_middle import FORBIDDEN, reach


@pytest.mark.parametrize("module", ["judge", "wording", "summary"])
def test_judging_is_pure(module: str) -> None:
    """From a judge nothing is reached that is no calculation."""
    found = {name.split(".")[0] for name in reach(f"voicecount.drill.{module}")} & FORBIDDEN

    assert found == set()
