"""A rehearsal in a few lines, and as one JSON object."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from voicecount.hear.heard import Outcome
from voicecount.rehearse.alike import CLOSE
from voicecount.rehearse.learned import Learnt
from voicecount.rehearse.takes import Rehearsal, Take, is_right


def rehearsal_object(result: Rehearsal, path: Path, page_path: Path) -> dict[str, Any]:
    """Give the object of ``--json``."""
    takes = result.takes
    return {
        "file": str(path),
        "page": str(page_path),
        "seconds": round(result.seconds, 1),
        "voices": list(result.voices),
        "sayings": len(takes),
        "before": _tally(takes, after=False),
        "after": _tally(takes, after=True),
        "learned": [entry.model_dump(mode="json") for entry in result.learnt],
        "alike": [
            {
                "lines": [pair.first, pair.second],
                "names": [pair.first_name, pair.second_name],
                "apart": round(pair.share, 3),
            }
            for pair in result.pairs
            if pair.share < CLOSE
        ],
        "confused": [
            {"said": said, "heard": heard, "times": times}
            for said, row in result.heard_as().items()
            for heard, times in row.items()
            if heard != said
        ],
    }


def _tally(takes: Sequence[Take], *, after: bool) -> dict[str, int]:
    """Count right, wrong and asked (or ignored) sayings."""
    answers = [(take.after if after else take.before, take.meaning) for take in takes]
    accepted = sum(answer.outcome is Outcome.ACCEPTED for answer, _ in answers)
    right = sum(is_right(answer, meaning) for answer, meaning in answers)
    return {"right": right, "wrong": accepted - right, "asked": len(answers) - accepted}


def summary(result: Rehearsal, path: Path, page_path: Path) -> list[str]:
    """Give the lines for a person."""
    before, after = _tally(result.takes, after=False), _tally(result.takes, after=True)
    close = sum(pair.share < CLOSE for pair in result.pairs)
    return [
        f"{len(result.takes)} sayings in {len(result.voices)} voices, {result.seconds:.0f} s.",
        f"Heard right {before['right']} before, {after['right']} after.",
        f"Asked again {before['asked']}, then {after['asked']}.",
        f"Heard wrong {before['wrong']}, then {after['wrong']}.",
        *(learnt_lines(result.learnt) or ["Nothing had to be learned."]),
        f"{close} pairs of lines sound nearly alike; they are on the page.",
        f"Kept in {path}",
        f"Page: {page_path}",
    ]


def learnt_lines(learnt: Sequence[Learnt]) -> list[str]:
    """Tell what was learned, a line for each name."""
    lines = []
    for entry in learnt:
        ways = [f"{word} is also said {' / '.join(said)}" for word, said in entry.sounds.items()]
        ways += [
            f'{part} is also written "{", ".join(texts)}"' for part, texts in entry.spelled.items()
        ]
        if ways:
            lines.append(f"{entry.item}: {'; '.join(ways)}")
    return lines
