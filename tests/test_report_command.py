"""``report``: what is asked for is made whole, beside the journal or where it was named, or not."""

import csv
import errno
import json
import os
import re
import shutil
import stat
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import html5lib
import pytest
from fhir.resources.R4B.bundle import Bundle
from jsonschema import Draft202012Validator
from pypdf import PdfReader
from test_verify import chained, records

from voicecount import __version__, cli, errors
from voicecount.commands import report_many
from voicecount.commands.report import PAPERS
from voicecount.report import many_pages
from voicecount.report.files import ReportError, check_free, put, say
from voicecount.report.made import Kind

ROOT = Path(__file__).parents[1]
GOLDEN = ROOT / "tests" / "golden"
WHOLE = GOLDEN / "whole_case_2026_11_26.vcj"
TORN = "two_people_0_1_0.vcj"
MANY = json.loads((ROOT / "docs" / "report.many.schema.json").read_text(encoding="utf-8"))
SCHEMA = json.loads((ROOT / "docs" / "report.schema.json").read_text(encoding="utf-8"))
DIGITS = "fb9c299b"
LOST = "does not verify"

# ISO 216: A4 is 210 mm by 297 mm. ANSI/ASME Y14.1: size A, letter, is 8.5 in by 11 in.
# A point of PDF is 1/72 in (ISO 32000-1, 8.3.2.3).
SIZES = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "letter": (8.5 * 72, 11 * 72)}


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """Give a whole case in a folder of its own."""
    return Path(shutil.copy(WHOLE, tmp_path / "case.vcj"))


@pytest.fixture
def spoiled(tmp_path: Path) -> Path:
    """Give the same case with one letter changed in record 42."""
    lines = WHOLE.read_bytes().splitlines(keepends=True)
    lines[41] = lines[41].replace(b'"seq":42', b'"seq":43')
    path = tmp_path / "spoiled.vcj"
    path.write_bytes(b"".join(lines))
    return path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a folder with good, damaged, copied and foreign files."""
    there = tmp_path / "cases"
    shutil.copytree(GOLDEN, there)
    shutil.copy(WHOLE, there / "z_copy.vcj")
    lines = WHOLE.read_bytes().splitlines(keepends=True)
    (there / "damaged.vcj").write_bytes(b"".join([*lines[:50], *lines[51:]]))
    (there / "letter.vcj").write_text("Dear all,\n")
    (there / "empty.vcj").write_bytes(b"")
    (there / "notes.txt").write_text("not looked at")
    (there / "folder.vcj").mkdir()
    (there / "deeper").mkdir()
    shutil.copy(WHOLE, there / "deeper" / "not_looked_at.vcj")
    return there


def run(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    """Run report: exit code, output, complaints."""
    code = cli.main(["report", *(str(argument) for argument in arguments)])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def refused(capsys: pytest.CaptureFixture[str], *arguments: object) -> str:
    """Run what has to fail with exit code 2 and one line; that line."""
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert err.startswith("voicecount: ")
    assert err.count("\n") == 1
    return err


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def page_texts(path: Path) -> list[str]:
    """Read a PDF by pypdf, which had no part in writing it."""
    reader = PdfReader(path, strict=True)
    return [re.sub(r"\s+", " ", page.extract_text().replace("\u200b", "")) for page in reader.pages]


def html_text(path: Path) -> str:
    """Read an HTML file by html5lib, strictly."""
    tree = html5lib.HTMLParser(strict=True).parse(path.read_text(encoding="utf-8"))
    return re.sub(r"\s+", " ", "".join(tree.itertext()))


def rows(path: Path) -> list[dict[str, str]]:
    """Read a CSV file by the standard library, strictly (RFC 4180)."""
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file, strict=True))


# One case


def test_without_options_html_and_pdf_are_put_beside_the_journal(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """Their names are printed, only their owner may read them, and the journal is not touched."""
    before = journal.read_bytes()
    code, out, err = run(capsys, journal)

    made = [journal.with_name("case.html"), journal.with_name("case.pdf")]
    assert (code, err) == (0, "")
    assert out.splitlines() == [str(path) for path in made]
    assert names(journal.parent) == {"case.vcj", "case.html", "case.pdf"}
    assert [stat.S_IMODE(path.stat().st_mode) for path in made] == [0o600, 0o600]
    assert journal.read_bytes() == before
    assert f"Head of the record {DIGITS}" in html_text(made[0])
    assert all(f"head of the record {DIGITS}" in text for text in page_texts(made[1]))
    assert LOST not in "".join([html_text(made[0]), *page_texts(made[1])])


def test_a_journal_of_another_name_keeps_its_whole_name(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """Only .vcj is taken off: a copy that is called case.bak takes no place of case.vcj's."""
    other = journal.rename(journal.with_name("case.bak"))
    code, _, _ = run(capsys, other)

    assert code == 0
    assert names(other.parent) == {"case.bak", "case.bak.html", "case.bak.pdf"}


@pytest.mark.parametrize("paper", PAPERS)
def test_each_paper_has_its_size(
    capsys: pytest.CaptureFixture[str], journal: Path, paper: str
) -> None:
    """The PDF is of that paper, and the HTML file is printed on it; nothing else is made."""
    code, out, _ = run(
        capsys, journal, "--paper", paper, "--pdf", f"{journal}.a", "--html", f"{journal}.b"
    )

    assert code == 0
    assert out == f"{journal}.b\n{journal}.a\n"
    assert names(journal.parent) == {"case.vcj", "case.vcj.a", "case.vcj.b"}
    for page in PdfReader(f"{journal}.a", strict=True).pages:
        box = page.mediabox
        assert (float(box.width), float(box.height)) == pytest.approx(SIZES[paper], abs=0.5)
    # CSS Paged Media Module Level 3, 7.1: the names of the sizes
    size = {"a4": "size: A4;", "letter": "size: letter;"}[paper]
    assert size in Path(f"{journal}.b").read_text(encoding="utf-8")


def test_json_fits_its_schema(capsys: pytest.CaptureFixture[str], journal: Path) -> None:
    """It is printed, nothing is written. Source: JSON Schema 2020-12, by ``jsonschema``."""
    code, out, err = run(capsys, journal, "--json", "--given", "Theatre=4", "--given", "Case=a=b")
    made = json.loads(out)

    assert (code, err) == (0, "")
    assert list(Draft202012Validator(SCHEMA).iter_errors(made)) == []
    assert made["given"] == [["Theatre", "4"], ["Case", "a=b"]]
    assert made["journal"] == "case.vcj"
    assert made["made_by"] == f"voicecount {__version__}"
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\+00:00", made["made"])
    assert made["chain"]["digits"] == DIGITS
    assert out.isascii()
    assert names(journal.parent) == {"case.vcj"}


def test_json_and_files_together(capsys: pytest.CaptureFixture[str], journal: Path) -> None:
    """The output is JSON alone; the file is named beside it."""
    code, out, err = run(capsys, journal, "--json", "--csv", journal.with_name("c.csv"))

    assert code == 0
    assert json.loads(out)["title"] == "Caesarean, whole case"
    assert err == f"voicecount: {journal.with_name('c.csv')}\n"


def test_fhir_is_a_document(capsys: pytest.CaptureFixture[str], journal: Path) -> None:
    """Source: HL7 FHIR R4, by the models of ``fhir.resources``."""
    code, out, err = run(capsys, journal, "--fhir", "--given", "Theatre=4")
    bundle: Any = Bundle.model_validate_json(out)

    assert (code, err) == (0, "")
    assert bundle.type == "document"
    assert bundle.entry[0].resource.status == "final"
    assert "Theatre" in out


def test_csv_has_the_numbers_of_each_count(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """Numbers are those of the journal; what was given is a column."""
    target = journal.with_name("c.csv")
    code, _, _ = run(capsys, journal, "--csv", target, "--given", "Theatre==4")
    found = rows(target)

    assert code == 0
    assert {one["given Theatre"] for one in found} == {"'=4"}  # OWASP: no formula
    short = [one for one in found if one["off"] not in {"", "0"}]
    assert [(one["kind"], one["item"], one["off"], one["result"]) for one in short] == [
        ("closing", "suture_needle", "-1", "reconciled")  # found, and not counted a third time
    ]
    needles = [one for one in found if one["item"] == "suture_needle" and one["row"] == "item"]
    assert [one["counted"] for one in needles if one["kind"] == "final"] == ["6"]
    assert {one["chain_whole"] for one in found} == {"yes"}


def test_what_is_torn_is_told_with_the_copy_beside_it(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A copy of a line that was cut off is looked for beside the journal."""
    for file in GOLDEN.glob(f"{TORN}*"):
        shutil.copy(file, tmp_path)
    _, out, _ = run(capsys, tmp_path / TORN, "--json")

    assert any("is beside the journal" in note for note in json.loads(out)["chain"]["notes"])


# What does not verify


def test_a_damaged_journal_is_reported_and_says_so_everywhere(
    capsys: pytest.CaptureFixture[str], spoiled: Path
) -> None:
    """All is made, every page says that it does not verify, one line tells it, exit code 2."""
    code, out, err = run(capsys, spoiled, "--csv", f"{spoiled}.csv", "--html", f"{spoiled}.html")
    code_of_pdf, _, _ = run(capsys, spoiled, "--pdf", f"{spoiled}.pdf", "--paper", "letter")

    assert (code, code_of_pdf) == (2, 2)
    assert out == f"{spoiled}.html\n{spoiled}.csv\n"
    assert err.count("\n") == 1
    assert err.startswith(f"voicecount: {spoiled}, line 42: ")
    assert "the 41 records before that place" in err
    assert LOST in html_text(Path(f"{spoiled}.html"))
    every = page_texts(Path(f"{spoiled}.pdf"))
    assert len(every) > 3
    assert all(f"The journal {LOST}: only the 41 records before the damage" in t for t in every)
    assert {one["chain_whole"] for one in rows(Path(f"{spoiled}.csv"))} == {"no"}


def test_a_damaged_journal_says_so_in_exports(
    capsys: pytest.CaptureFixture[str], spoiled: Path
) -> None:
    """JSON and FHIR are printed, and marked."""
    code, out, err = run(capsys, spoiled, "--json")
    assert (code, err.count("\n")) == (2, 1)
    assert json.loads(out)["chain"]["whole"] is False
    assert json.loads(out)["chain"]["damage"].startswith("line 42: ")

    code, out, err = run(capsys, spoiled, "--fhir")
    assert (code, err.count("\n")) == (2, 1)
    bundle: Any = Bundle.model_validate_json(out)
    assert bundle.entry[0].resource.status == "preliminary"


def test_one_whole_record_is_told_as_one(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The line is right for a single record, too."""
    path = tmp_path / "case.vcj"
    path.write_bytes(WHOLE.read_bytes().splitlines(keepends=True)[0] + b"{}\n")
    code, _, err = run(capsys, path, "--json")

    assert code == 2
    assert "holds the one record before that place" in err


# What cannot be reported


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"Dear all,\n", "line 1: it is not JSON"),
        (b"", "not even the opening of a case is whole in it"),
        (WHOLE.read_bytes()[:300], "not even the opening of a case is whole in it"),
    ],
)
def test_no_journal_is_one_line_and_makes_nothing(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, content: bytes, told: str
) -> None:
    """A letter, an empty file, a first record that is torn."""
    path = tmp_path / "x.vcj"
    path.write_bytes(content)
    err = refused(capsys, path)

    assert str(path) in err
    assert told in err
    assert names(tmp_path) == {"x.vcj"}


def test_a_missing_journal_is_one_line(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Also where its folder is missing."""
    assert "no such journal" in refused(capsys, tmp_path / "none.vcj")
    assert "no such journal" in refused(capsys, tmp_path / "none" / "none.vcj")


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (("--json", "--fhir"), "one of them at a time"),
        (("--paper", "a3"), "choose from"),
        (("--given", "Theatre"), "give a label and a text"),
        (("--given", "=4"), "give a label and a text"),
        (("--given", "Theatre= "), "give a label and a text"),
        (("--given", f"{'x' * 41}=4"), "at most 40"),
        (("--given", f"x={'4' * 201}"), "at most 40 characters, a text 200"),
        (("--given", "a\nb\x1b[31m"), "give a label and a text"),
    ],
)
def test_options_that_cannot_work_are_one_line(
    capsys: pytest.CaptureFixture[str], journal: Path, more: tuple[str, ...], told: str
) -> None:
    """Nothing is made, and nothing steers the terminal."""
    err = refused(capsys, journal, *more)

    assert told in err
    assert "\x1b" not in err
    assert names(journal.parent) == {"case.vcj"}


# Files that are there already


@pytest.mark.parametrize(
    ("kind", "content"),
    [
        ("html", b"<!DOCTYPE html><title>mine</title>"),
        ("html", b"%PDF-1.7 <meta name=generator>"),
        ("pdf", b"%PDF-1.7 another one"),
        ("csv", b"name,number\n"),
        ("csv", b'"case","journal",of mine\n'),
    ],
)
def test_another_file_is_never_written_over(
    capsys: pytest.CaptureFixture[str], journal: Path, kind: str, content: bytes
) -> None:
    """Somebody's own file stays as it is, with one line, and nothing else is made either."""
    target = journal.with_name(f"mine.{kind}")
    target.write_bytes(content)
    other = journal.with_name("other")
    more = ("--pdf", other) if kind != "pdf" else ("--html", other)
    err = refused(capsys, journal, f"--{kind}", target, *more)

    assert f"{target}: there is a file already" in err
    assert target.read_bytes() == content
    assert names(journal.parent) == {"case.vcj", target.name}


@pytest.mark.parametrize("kind", ["html", "pdf", "csv"])
def test_a_journal_is_never_written_over(
    capsys: pytest.CaptureFixture[str], journal: Path, kind: str
) -> None:
    """Not even by naming it as the output."""
    assert "it is left as it is" in refused(capsys, journal, f"--{kind}", journal)
    assert journal.read_bytes() == WHOLE.read_bytes()


@pytest.mark.parametrize("kind", ["html", "pdf", "csv"])
def test_an_earlier_record_and_an_empty_file_give_way(
    capsys: pytest.CaptureFixture[str], journal: Path, kind: str
) -> None:
    """The new one takes the place of the old one."""
    target = journal.with_name(f"record.{kind}")
    target.touch()
    assert run(capsys, journal, f"--{kind}", target)[0] == 0
    first = target.read_bytes()
    assert run(capsys, journal, f"--{kind}", target, "--given", "Theatre=4")[0] == 0

    assert target.read_bytes() != first
    assert names(journal.parent) == {"case.vcj", target.name}


@pytest.mark.parametrize("kind", ["html", "pdf", "csv"])
def test_a_folders_earlier_files_give_way(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str
) -> None:
    """The figures know their own earlier files, too."""
    shutil.copy(WHOLE, tmp_path / "case.vcj")
    target = tmp_path / f"record.{kind}"
    for _ in range(2):
        assert run(capsys, tmp_path, f"--{kind}", target)[0] == 0


def test_places_that_cannot_be_written_to(
    capsys: pytest.CaptureFixture[str], journal: Path, tmp_path: Path
) -> None:
    """A folder, a missing folder, no file at all, and one file for two things."""
    assert "it is a folder" in refused(capsys, journal, "--html", tmp_path)
    assert "there is no folder" in refused(capsys, journal, "--pdf", tmp_path / "no" / "x.pdf")
    assert "a file already" in refused(capsys, journal, "--csv", os.devnull)
    twice = ("--html", tmp_path / "x", "--pdf", tmp_path / "x")
    assert "it is named twice" in refused(capsys, journal, *twice)
    assert "cannot be written" in refused(capsys, journal, "--pdf", tmp_path / ("x" * 300))
    assert names(tmp_path) == {"case.vcj"}


@pytest.mark.parametrize("leads_to", ["nowhere", "earlier", "empty"])
def test_a_link_is_left_as_it_is(
    capsys: pytest.CaptureFixture[str], journal: Path, leads_to: str
) -> None:
    """The file would take the place of the link itself, of /dev/stdout for one."""
    there = journal.with_name(leads_to)
    if leads_to == "earlier":
        run(capsys, journal, "--html", there)
    elif leads_to == "empty":
        there.touch()
    link = journal.with_name("link.html")
    link.symlink_to(there)
    before = names(journal.parent)

    assert f"{link}: it is a link" in refused(capsys, journal, "--html", link)
    assert link.is_symlink()
    assert names(journal.parent) == before


FULL = Path("/dev/full")


@pytest.mark.skipif(not FULL.exists(), reason="a Linux device: full(4)")
@pytest.mark.parametrize("more", [("--json",), ("--fhir",), ("--csv", "c.csv"), ()])
def test_an_output_that_takes_nothing_is_one_line(journal: Path, more: tuple[str, ...]) -> None:
    """Exit code 2 and one line, and all files that were asked for are whole."""
    arguments = ["report", journal.name, *more]
    program = f"import sys; from voicecount import cli; sys.exit(cli.main({arguments}))"
    with FULL.open("w") as full:
        done = subprocess.run(
            [sys.executable, "-c", program],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            cwd=journal.parent,
            check=False,
        )

    assert done.returncode == 2
    assert done.stderr.startswith("voicecount: the output cannot be written (No space left")
    assert done.stderr.count("\n") == 1
    made = {"--csv": {"c.csv"}, "": {"case.html", "case.pdf"}}.get("".join(more[:1]), set())
    assert names(journal.parent) == {"case.vcj", *made}


def test_a_reader_that_went_away_is_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """The command line ends quietly, as for all commands."""

    def gone(*_: object, **__: object) -> None:
        raise BrokenPipeError

    monkeypatch.setattr("builtins.print", gone)
    with pytest.raises(BrokenPipeError):
        say("text")


def test_a_journal_in_a_folder_that_may_not_be_entered_is_one_line(
    capsys: pytest.CaptureFixture[str], journal: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Even whether it is a folder cannot be known; what the system says is told."""

    def denied(_: Path) -> bool:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(Path, "is_dir", denied)

    assert "cannot be looked at (Permission denied)" in refused(capsys, journal, "--json")


@pytest.mark.parametrize("call", ["fsync", "replace", "chmod", "mkstemp"])
@pytest.mark.parametrize("kind", ["html", "pdf", "csv"])
def test_a_write_that_fails_leaves_nothing_half(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, kind: Kind
) -> None:
    """A disk that is full at any step: the old file stays, no other does, one line tells it."""
    target = tmp_path / "x"
    target.write_bytes(b"old")

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    where = {"fsync": "os.fsync", "mkstemp": "tempfile.mkstemp"}.get(call, f"pathlib.Path.{call}")
    with monkeypatch.context() as patched:
        patched.setattr(where, full)
        with pytest.raises(ReportError, match="cannot be written") as told:
            put(kind, target, "new")

    assert "\n" not in str(told.value)
    assert target.read_bytes() == b"old"
    assert names(tmp_path) == {"x"}


def test_a_key_that_stops_a_write_leaves_nothing_half(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The half file is removed, whatever ends the write."""

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("os.fsync", stopped)
    with pytest.raises(KeyboardInterrupt):
        put("html", tmp_path / "x", "new")

    assert names(tmp_path) == set()


def test_a_full_disk_is_one_line_of_the_command(
    capsys: pytest.CaptureFixture[str], journal: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No name is printed for a file that was not written."""

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("os.fsync", full)

    assert "No space left" in refused(capsys, journal)
    assert names(journal.parent) == {"case.vcj"}


def test_a_place_that_cannot_be_looked_at_is_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that may not be read is not taken for one of ours."""

    def denied(*_: object) -> bytes:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    (tmp_path / "x").write_bytes(b"old")
    monkeypatch.setattr(Path, "read_bytes", denied)
    with pytest.raises(ReportError, match="Permission denied"):
        check_free([("html", tmp_path / "x")], None)


# Names of bad will


@pytest.mark.parametrize(
    "name",
    ["<script>alert(1)</script>", "a\x00\u202e31\n", "x\ud800y", '=1+1","#import "x.typ": *'],
)
def test_a_title_of_bad_will_stays_a_text(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str
) -> None:
    """Markup, controls and half a pair of surrogates end up as letters or marks."""
    first, *rest = records(WHOLE)
    path = tmp_path / "case.vcj"
    opened = replace(first, payload={**first.payload, "title": name})
    path.write_bytes(chained([opened, *rest]))
    kinds = {kind: tmp_path / f"x.{kind}" for kind in ("html", "pdf", "csv")}
    for kind, target in kinds.items():
        assert run(capsys, path, f"--{kind}", target)[0] == 0
    code, out, _ = run(capsys, path, "--fhir")

    assert code == 0
    Bundle.model_validate_json(out)
    shown = html_text(kinds["html"])
    assert "\x00" not in shown
    assert "\u202e" not in shown
    assert "<script" not in kinds["html"].read_text(encoding="utf-8")
    assert len(page_texts(kinds["pdf"])) > 5
    assert len({one["case"] for one in rows(kinds["csv"])}) == 1


def test_what_is_given_stays_a_text(capsys: pytest.CaptureFixture[str], journal: Path) -> None:
    """Controls become marks at once, for every export; markup stays letters."""
    given = "<b>L</b>\u202e=a\x07b\t<img src=x>\udcff"
    target = journal.with_name("x.html")
    assert run(capsys, journal, "--given", given, "--html", target)[0] == 0
    _, out, _ = run(capsys, journal, "--given", given, "--json")

    told = ["<b>L</b>[U+202E]", "a[U+0007]b <img src=x>[U+DCFF]"]
    assert json.loads(out)["given"] == [told]
    assert told[0] in html_text(target)
    assert told[1] in html_text(target)
    assert "<img" not in target.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["<i>.vcj", "a\nb\x1b[31m.vcj", "\u202efdp.vcj"])
def test_a_file_name_of_bad_will_stays_a_text(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str
) -> None:
    """The name of a journal's file comes from outside as well."""
    path = Path(shutil.copy(WHOLE, tmp_path / name))
    code, out, _ = run(capsys, path)
    _, printed, _ = run(capsys, path, "--json")

    assert code == 0
    assert "\x1b" not in out
    shown = json.loads(printed)["journal"]
    assert shown.isprintable()
    assert shown in html_text(next(tmp_path.glob("*.html")))


# Many cases


def test_a_folder_is_added_up_and_what_is_bad_is_told(
    capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    """Good journals are in the figures; each other one is named with its reason; exit code 2."""
    code, out, err = run(capsys, folder)

    assert code == 2
    assert out == f"{folder / 'figures.html'}\n{folder / 'figures.pdf'}\n"
    lines = err.splitlines()
    assert [line.split(": ")[1] for line in lines[:-1]] == [
        "damaged.vcj",
        "empty.vcj",
        "folder.vcj",
        "letter.vcj",
        "z_copy.vcj",
    ]
    assert "line 51" in lines[0]
    assert "it is not a file" in lines[2]
    assert "line 1: it is not JSON" in lines[3]
    assert f"the same records as {WHOLE.name}" in lines[4]
    assert f"{folder}: of 9 journals 4 cannot be used, and no figure holds them" in lines[-1]
    shown = html_text(folder / "figures.html")
    assert "Records in cases" in shown
    assert re.search(r"Digits of 4 records together [0-9a-f]{8}", shown)
    every = page_texts(folder / "figures.pdf")
    assert all("digits of 4 records together" in text for text in every)
    assert not any("head of the record" in text for text in every)


def test_a_folder_of_whole_journals_is_no_error(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Exit code 0, on the paper that was asked for, with what was given at its top."""
    for path in GOLDEN.glob("*.vcj"):
        shutil.copy(path, tmp_path)
    target = tmp_path / "x.pdf"
    code, out, err = run(
        capsys, tmp_path, "--pdf", target, "--paper", "letter", "--given", "Site=North"
    )

    assert (code, out, err) == (0, f"{target}\n", "")
    box = PdfReader(target, strict=True).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(SIZES["letter"], abs=0.5)
    assert "Site North" in page_texts(target)[0]


def test_a_folders_csv_has_a_row_for_each_journal(
    capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    """Those in no figure have their reason and no numbers."""
    target = folder / "x.csv"
    code, _, _ = run(capsys, folder, "--csv", target, "--given", "Site=North")
    found = {one["journal"]: one for one in rows(target)}

    assert code == 2
    assert list(found) == sorted(path.name for path in folder.glob("*.vcj"))
    assert found[WHOLE.name]["counts"] == "6"
    assert found[WHOLE.name]["given Site"] == "North"
    for name in ("damaged.vcj", "empty.vcj", "folder.vcj", "letter.vcj", "z_copy.vcj"):
        assert found[name]["left_out"]
        assert found[name]["counts"] == ""


def test_a_folders_json_has_its_figures(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """Nothing is written; what too few cannot hold is null; the cautions are in it."""
    before = names(folder)
    code, out, _ = run(capsys, folder, "--json", "--given", "Site=North")
    made = json.loads(out)

    assert code == 2
    assert names(folder) == before
    assert list(Draft202012Validator(MANY).iter_errors(made)) == []
    assert made["form"] == "voicecount.report.many/2"
    assert made["given"] == [["Site", "North"]]
    assert (made["seen"], made["cases"]) == (9, 4)
    assert [one["journal"] for one in made["copies"]] == ["z_copy.vcj"]
    assert len(made["damaged"]) == 4
    assert made["closed"] == {"k": 1, "n": 4, "share": None, "interval": None}
    assert made["differences"]["n"] >= 1
    assert made["cautions"] == list(many_pages.CAUTIONS)
    # docs/report.md names every field
    page = (ROOT / "docs" / "report.md").read_text(encoding="utf-8").split("## Many cases")[1]
    for name in (
        *made,
        *made["counts"],
        *made["differences"],
        *made["closed"],
        *made["heard"]["rate"],
    ):
        assert f"`{name}`" in page or name == "form"


def test_every_field_of_a_cases_json_is_explained(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """docs/report.md names each field of the object."""
    _, out, _ = run(capsys, journal, "--json")
    page = (ROOT / "docs" / "report.md").read_text(encoding="utf-8").split("## CSV")[0]
    for name in json.loads(out):
        assert f"`{name}`" in page


def test_enough_cases_have_shares_and_medians(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """From five on, and never as the same case: each begins at another time."""
    first, *rest = records(WHOLE)
    for number in range(5):
        opened = replace(first, payload={**first.payload, "title": f"case {number}"})
        (tmp_path / f"{number}.vcj").write_bytes(chained([opened, *rest]))
    code, out, _ = run(capsys, tmp_path, "--json")
    made = json.loads(out)

    assert code == 0
    assert list(Draft202012Validator(MANY).iter_errors(made)) == []
    assert made["closed"]["share"] == 1.0
    low, high = made["closed"]["interval"]
    # Wilson's interval of 5 of 5 at 95 %: 1 / (1 + z² / n) with z = 1.96 (worked by hand)
    assert (low, high) == (pytest.approx(1 / (1 + 1.959964**2 / 5), abs=1e-4), 1.0)
    spread = made["kinds"]["initial"]["seconds"]
    assert spread["n"] == 5
    assert spread["low"] == spread["median"] == spread["high"]


@pytest.mark.parametrize("content", [None, b"Dear all,\n"])
def test_a_folder_without_a_usable_journal_makes_nothing(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, content: bytes | None
) -> None:
    """None at all, or none that is whole."""
    if content is not None:
        (tmp_path / "x.vcj").write_bytes(content)
    before = names(tmp_path)
    code, out, err = run(capsys, tmp_path)

    assert (code, out) == (2, "")
    told = "there is no journal" if content is None else "none of its 1 journals can be used"
    assert told in err.splitlines()[-1]
    assert names(tmp_path) == before


def test_a_folder_has_no_fhir_document(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """A document is of one case."""
    assert "--fhir is of one case" in refused(capsys, folder, "--fhir")


def test_a_folder_that_may_not_be_looked_into_is_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the system says is told."""

    def denied(_: Path) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(Path, "iterdir", denied)

    assert "Permission denied" in refused(capsys, tmp_path)


def test_the_progress_is_told_journal_by_journal(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each journal moves it on by one, a bad one too."""
    shutil.copy(WHOLE, tmp_path / "a.vcj")
    (tmp_path / "b.vcj").write_text("no journal")
    told: list[float] = []

    class Bar:
        def __init__(self, _: str, total: float, *, shown: bool) -> None:
            assert (total, shown) == (2, True)

        def __enter__(self) -> Any:
            return told.append

        def __exit__(self, *_: object) -> None:
            pass

    monkeypatch.setattr(report_many, "progress", Bar)
    run(capsys, tmp_path, "--json")

    assert told == [1, 2]


def test_the_root_folder_has_a_name_for_people(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder without a name is called a folder."""
    shutil.copy(WHOLE, tmp_path / "a.vcj")
    monkeypatch.setattr(Path, "resolve", lambda *_: Path("/"))
    _, out, _ = run(capsys, tmp_path, "--json")

    assert json.loads(out)["title"] == "Records in a folder"


# The help


def test_the_help_names_every_option_and_comes_at_once() -> None:
    """Nothing that draws or serves is loaded for it."""
    program = (
        "import sys; from voicecount import cli\n"
        "try: cli.main(['report', '--help'])\n"
        "except SystemExit as ended: print(ended.code, *sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    *shown, last = done.stdout.splitlines()
    code, *loaded = last.split()

    assert code == "0"
    for option in ("--html", "--pdf", "--paper", "--csv", "--json", "--fhir", "--given"):
        assert option in "\n".join(shown)
    assert not {"matplotlib", "typst", "numpy", "pydantic", "jinja2", "uvicorn"} & {*loaded}


@pytest.mark.parametrize("port", ["-1", "65536", "http", "9" * 5000, "१"])
def test_a_port_that_is_none_is_one_line(capsys: pytest.CaptureFixture[str], port: str) -> None:
    """A port has 16 bits (RFC 9293, 3.1)."""
    assert cli.main(["board", "x.vcj", f"--port={port}"]) == 2
    err = capsys.readouterr().err
    assert "is not from 0 to 65535" in err
    assert err.count("\n") == 1


def test_the_error_of_a_record_is_in_the_tree_of_errors() -> None:
    """The tree in voicecount/errors.py names every error that a person is told of."""
    assert f"── {ReportError.__name__} " in (errors.__doc__ or "")
