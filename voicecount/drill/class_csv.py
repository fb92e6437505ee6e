"""A class as rows for a spreadsheet: one for each recording, or one for each finding.

The form is RFC 4180, every cell in quotes, and guarded against formulas as ``report/csv_out.py``.

Columns of the attempts: ``student``, ``drill``, ``title``, ``attempt`` (1 is the first), ``file``,
``error`` (why it was not graded; all that follows is then empty), ``seconds`` (of the recording),
``score`` (percent), for each row of the rubric ``ROW_right``, ``ROW_of`` (chances; 0: nothing to
judge) and ``ROW_weight``, then ``steps``, ``steps_right``, ``steps_not_heard``, ``not_heard``
(utterances), ``findings``, ``numbers_per_minute``, ``unevenness`` (spread over mean),
``longest_pause`` (seconds), ``above_room`` (dB), ``loudness_spread`` (dB), ``recording`` and
``drill_and_sheet`` (SHA-256), ``recogniser``.

Columns of the findings: ``student``, ``drill``, ``attempt``, ``file``, ``finding``, ``row``,
``step``, ``item``, ``place``, ``start``, ``end`` (seconds), ``heard`` (numbers), ``expected``,
``value`` (in the unit of its kind).
"""

import csv
import io
from collections.abc import Iterable, Sequence

from voicecount.drill.class_result import ClassResult, Graded
from voicecount.drill.judgement import Judgement, Result
from voicecount.drill.model import Criterion
from voicecount.report.csv_out import Cell, cell

_WHO = ("student", "drill", "title", "attempt", "file", "error")
_MEASURED = (
    *("steps", "steps_right", "steps_not_heard", "not_heard", "findings", "numbers_per_minute"),
    *("unevenness", "longest_pause", "above_room", "loudness_spread"),
)
_DIGESTS = ("recording", "drill_and_sheet", "recogniser")
HEADER = (
    *_WHO,
    *("seconds", "score"),
    *(f"{row}_{part}" for row in Criterion for part in ("right", "of", "weight")),
    *_MEASURED,
    *_DIGESTS,
)
FINDINGS_HEADER = (
    *("student", "drill", "attempt", "file", "finding", "row", "step", "item", "place"),
    *("start", "end", "heard", "expected", "value"),
)

_Value = Cell | float


def attempts_csv(result: ClassResult) -> str:
    """Give one row for each recording; those that were not graded have their reason."""
    rows = [_attempt(one) for one in result.graded]
    rows += [["", "", "", "", one.file, one.why] for one in result.not_taken]
    return _written(HEADER, rows)


def findings_csv(result: ClassResult) -> str:
    """Give one row for each finding, in the order of the attempts and of their times."""
    rows: list[list[_Value]] = [
        [
            *(one.handed.student, one.handed.drill, one.handed.take, one.handed.file),
            *(finding.fault.value, finding.criterion.value),
            *(finding.step, finding.item, finding.place, finding.start, finding.end),
            *(" ".join(map(str, finding.heard)), finding.expected, finding.value),
        ]
        for one, judgement in result.judged
        for finding in judgement.findings
    ]
    return _written(FINDINGS_HEADER, rows)


def _attempt(one: Graded) -> list[_Value]:
    handed = one.handed
    cells: list[_Value] = [handed.student, handed.drill, one.title, handed.take, handed.file]
    cells += [one.error, one.seconds]
    if one.judgement is not None:
        cells += _judged(one.judgement)
    cells += [None] * (len(HEADER) - len(_DIGESTS) - len(cells))
    return [*cells, one.recording or None, one.against or None, one.recogniser or None]


def _judged(judgement: Judgement) -> list[_Value]:
    marks = {mark.criterion: mark for mark in judgement.marks}
    results = [step.result for step in judgement.steps]
    found = judgement.measured
    cells: list[_Value] = [None if judgement.score is None else round(100 * judgement.score, 1)]
    for row in Criterion:
        mark = marks.get(row)
        cells += [mark.right, mark.of, mark.weight] if mark is not None else [None, None, None]
    return [
        *cells,
        *(len(results), results.count(Result.RIGHT), results.count(Result.NOT_HEARD)),
        *(len(judgement.not_heard), len(judgement.findings), found.numbers_per_minute),
        *(found.unevenness, found.longest_pause, found.above_room, found.loudness_spread),
    ]


def _written(header: Sequence[str], rows: Iterable[Sequence[_Value]]) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        cells = [*row, *[None] * (len(header) - len(row))]
        writer.writerow([_cell(value) for value in cells])
    return out.getvalue()


def _cell(value: _Value) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".") if isinstance(value, float) else cell(value)
