"""``voicecount report``: the record of one case, or the figures of a folder of them."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from voicecount import __version__
from voicecount.commands.journals import CODEC
from voicecount.commands.verify import check, copies
from voicecount.count.events import Event
from voicecount.errors import JournalError, UsageError
from voicecount.keep.clock import SystemClock
from voicecount.keep.journal import SUFFIX
from voicecount.keep.reading import Reading, load_whole_part
from voicecount.report.blocks import Block
from voicecount.report.facts import CaseFacts
from voicecount.report.files import ReportError, check_free, put, say
from voicecount.report.gather import gather
from voicecount.report.made import Kind, keywords
from voicecount.report.marks import visible
from voicecount.report.pdf import Paper
from voicecount.show.console import notice, printable

PAPERS: Mapping[str, Paper] = {"a4": "a4", "letter": "us-letter"}
MADE_BY = f"voicecount {__version__}"
_LONGEST_LABEL = 40
_LONGEST_TEXT = 200


@dataclass(frozen=True)
class Options:
    """What is made of a record, and where it goes."""

    html: Path | None = None
    pdf: Path | None = None
    csv: Path | None = None
    paper: Literal["a4", "letter"] = "a4"
    as_json: bool = False
    as_fhir: bool = False
    given: tuple[str, ...] = ()

    def files(self) -> dict[Kind, Path]:
        """Give the files that were asked for."""
        named: tuple[tuple[Kind, Path | None], ...] = (
            ("html", self.html),
            ("pdf", self.pdf),
            ("csv", self.csv),
        )
        return {kind: path for kind, path in named if path is not None}


def report(path: Path, options: Options) -> None:
    """Make what was asked for of a journal, or of all journals in a folder.

    Raises UsageError for options that do not go together, ReportError where a file cannot be
    written, and JournalError where there is nothing to report, or, after all is made, where a
    journal does not verify.
    """
    if options.as_json and options.as_fhir:
        raise UsageError("--json and --fhir both print; ask for one of them at a time")
    given = tuple(_given(text) for text in options.given)
    if _is_folder(path):
        from voicecount.commands.report_many import report_folder  # noqa: PLC0415 - it needs this

        report_folder(path, options, given)
    else:
        _report_case(path, options, given)


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except OSError as error:
        raise JournalError(
            f"{path}: cannot be looked at ({error.strerror or error}); check its name, and "
            "that you may read the folder it is in"
        ) from None


def _report_case(path: Path, options: Options, given: Sequence[tuple[str, str]]) -> None:
    stem = path.name.removesuffix(SUFFIX)
    files = wanted(options, path.parent / stem)
    reading = _read(path)
    facts = _facts(path, reading, now(), given, beside=True)
    _check_free(path, files, reading)
    contents: dict[Kind, str | bytes] = {}
    if "html" in files or "pdf" in files:
        from voicecount.report.pages import pages  # noqa: PLC0415 - draws, slow to load

        contents |= drawn(pages(facts), files, options, keywords("case", facts.chain.head))
    if "csv" in files:
        from voicecount.report import csv_out  # noqa: PLC0415

        contents["csv"] = csv_out.text(facts)
    printed: Any = None
    if options.as_json:
        printed = facts.model_dump(mode="json")
    elif options.as_fhir:
        from voicecount.report.fhir import bundle  # noqa: PLC0415

        printed = bundle(facts)
    hand_out(files, contents, printed)
    if not facts.chain.whole:
        n = facts.chain.records
        before = "the one record" if n == 1 else f"the {n} records"
        raise JournalError(
            f"{path}, {facts.chain.damage}: the journal does not verify; what was made holds "
            f"{before} before that place and says so; keep the file as it is"
        )


def wanted(options: Options, stem: Path) -> dict[Kind, Path]:
    """Give the files that are to be made: HTML and PDF where nothing at all was asked for."""
    if options.files() or options.as_json or options.as_fhir:
        return options.files()
    return {
        "html": stem.with_name(f"{stem.name}.html"),
        "pdf": stem.with_name(f"{stem.name}.pdf"),
    }


def case_of(path: Path, made: str, given: Sequence[tuple[str, str]], *, beside: bool) -> CaseFacts:
    """Read a journal. ``beside`` looks for copies of its lines in its folder.

    Raises JournalError where not even the opening of its case is whole.
    """
    return _facts(path, _read(path), made, given, beside=beside)


def _read(path: Path) -> Reading[Event]:
    return check(load_whole_part(path, CODEC)).reading


def _facts(
    path: Path,
    reading: Reading[Event],
    made: str,
    given: Sequence[tuple[str, str]],
    *,
    beside: bool,
) -> CaseFacts:
    name = visible(path.name)
    try:
        return gather(
            name,
            reading,
            given=given,
            made=made,
            made_by=MADE_BY,
            copies=copies(path) if beside else None,
        )
    except JournalError as error:
        where = "" if reading.damage is None else f", {reading.damage}"
        raise JournalError(f"{path}{where}: {str(error).removeprefix(f'{name}: ')}") from None


def _check_free(path: Path, files: Mapping[Kind, Path], reading: Reading[Event]) -> None:
    """Raise ReportError where a file is in the way; that the journal is damaged is told with it."""
    try:
        check_free(files.items(), frozenset(record.hash for record in reading.records))
    except ReportError as error:
        if reading.damage is None:
            raise
        raise ReportError(
            f"{error}; nothing was made, and the journal does not verify ({path}, {reading.damage})"
        ) from None


def drawn(
    blocks: Sequence[Block], kinds: Iterable[Kind], options: Options, said: Sequence[str]
) -> dict[Kind, str | bytes]:
    """Draw a document on paper and screen, as far as it was asked for.

    ``said`` is what the files say of themselves.
    """
    paper, made = PAPERS[options.paper], dict[Kind, str | bytes]()
    if "html" in kinds:
        from voicecount.report.html import html  # noqa: PLC0415

        made["html"] = html(blocks, paper, keywords=said)
    if "pdf" in kinds:
        from voicecount.report.pdf import pdf  # noqa: PLC0415

        made["pdf"] = pdf(blocks, paper, keywords=said)
    return made


def hand_out(
    files: Mapping[Kind, Path], contents: Mapping[Kind, str | bytes], printed: object | None
) -> None:
    """Write the files and name them; print JSON, and then name the files beside the output."""
    for kind, path in files.items():
        put(kind, path, contents[kind])
        if printed is not None:
            notice(str(path))
    names = "\n".join(printable(str(path)) for path in files.values())
    say(names if printed is None else json.dumps(printed, indent=2))


def now() -> str:
    """Give the time of day, ISO 8601, UTC."""
    return SystemClock().wall().isoformat(timespec="seconds")


def _given(text: str) -> tuple[str, str]:
    """Read a label and a text; what cannot be seen in them becomes a mark that can."""
    label, _, said = (visible(part).strip() for part in text.partition("="))
    if not label or not said:
        raise UsageError(f'--given "{text}": give a label and a text, as in --given "Theatre=4"')
    if len(label) > _LONGEST_LABEL or len(said) > _LONGEST_TEXT:
        raise UsageError(
            f"--given {label[:_LONGEST_LABEL]}: too long; a label has at most {_LONGEST_LABEL} "
            f"characters, a text {_LONGEST_TEXT}"
        )
    return label, said
