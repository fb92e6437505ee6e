"""An earlier record gives way only to one that holds it; nothing else that is there ever does."""

import re
import shutil
import stat
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import html5lib
import pytest
from pypdf import PdfReader
from test_report_command import GOLDEN, WHOLE, names, refused, rows, run
from test_verify import chained, records

from voicecount.report.blocks import Title
from voicecount.report.html import html
from voicecount.report.made import Kind, Made, keywords, made_of
from voicecount.report.pdf import pdf

KINDS: tuple[Kind, ...] = ("html", "pdf", "csv")
HEAD = "fb9c299b23bdbf0b0500fa0f5f1cbaa7b9fe17a7d2277d88107e0c95d0887074"
ANOTHER = "it is a record of another case, or of more records than this journal has now"


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """Give a whole case of 161 records in a folder of its own."""
    return Path(shutil.copy(WHOLE, tmp_path / "case.vcj"))


def damage(journal: Path, line: int) -> None:
    """Change one bit in the content of a record."""
    lines = journal.read_bytes().splitlines(keepends=True)
    changed = bytearray(lines[line - 1])
    changed[30] ^= 1
    journal.write_bytes(b"".join([*lines[: line - 1], bytes(changed), *lines[line:]]))


def cut(journal: Path, line: int) -> None:
    """Leave out the last records, as if they had not come yet."""
    lines = journal.read_bytes().splitlines(keepends=True)
    journal.write_bytes(b"".join(lines[:line]))


def other_case(journal: Path) -> None:
    """Make a case of the same course that began otherwise: all its hashes differ."""
    first, *rest = records(journal)
    opened = replace(first, payload={**first.payload, "title": "another case"})
    journal.write_bytes(chained([opened, *rest]))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "become",
    [lambda path: damage(path, 22), lambda path: cut(path, 22), other_case],
    ids=["damaged", "shorter", "another"],
)
def test_a_record_is_left_where_the_journal_does_not_hold_it(
    capsys: pytest.CaptureFixture[str], journal: Path, kind: Kind, become: Callable[[Path], None]
) -> None:
    """One line, exit code 2, and nothing is written, not even beside it."""
    target = journal.with_name(f"record.{kind}")
    assert run(capsys, journal, f"--{kind}", target)[0] == 0
    before = target.read_bytes()
    become(journal)
    beside = ("--html", journal.with_name("new.html")) if kind != "html" else ()
    err = refused(capsys, journal, f"--{kind}", target, *beside)

    assert f"{target}: {ANOTHER}; it is left as it is; name another file by --{kind}" in err
    assert target.read_bytes() == before
    assert names(journal.parent) == {"case.vcj", target.name}


def test_the_damage_is_told_with_it(capsys: pytest.CaptureFixture[str], journal: Path) -> None:
    """That the journal does not verify matters more than the file that is in the way."""
    assert run(capsys, journal)[0] == 0
    damage(journal, 22)
    err = refused(capsys, journal)

    assert ANOTHER in err
    assert f"nothing was made, and the journal does not verify ({journal}, line 22: " in err
    new = journal.with_name("new.html")
    assert run(capsys, journal, "--html", new)[0] == 2
    assert "only the 21 records" in new.read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "earlier",
    [lambda path: cut(path, 60), lambda path: damage(path, 60)],
    ids=["while the case ran", "of a damaged copy"],
)
def test_a_record_gives_way_to_one_that_holds_it(
    capsys: pytest.CaptureFixture[str], journal: Path, kind: Kind, earlier: Callable[[Path], None]
) -> None:
    """A journal only grows; the head of an earlier record is the hash of one of its records."""
    earlier(journal)
    target = journal.with_name(f"record.{kind}")
    run(capsys, journal, f"--{kind}", target)
    before = target.read_bytes()
    shutil.copy(WHOLE, journal)
    assert run(capsys, journal, f"--{kind}", target, "--given", "Theatre=4")[0] == 0

    assert target.read_bytes() != before
    made = made_of(kind, target.read_bytes())
    assert made is not None
    assert made.of == "case"
    assert {head[:8] for head in made.heads} == {HEAD[:8]}


@pytest.mark.parametrize("kind", KINDS)
def test_a_case_and_figures_never_take_each_others_place(
    capsys: pytest.CaptureFixture[str], journal: Path, kind: Kind
) -> None:
    """Earlier figures give way to figures, also of other cases."""
    case, figures = (journal.with_name(f"{name}.{kind}") for name in ("one", "many"))
    assert run(capsys, journal, f"--{kind}", case)[0] == 0
    assert run(capsys, journal.parent, f"--{kind}", figures)[0] == 0
    before = case.read_bytes(), figures.read_bytes()

    told = refused(capsys, journal.parent, f"--{kind}", case)
    assert "it is the record of a case, and figures never take its place" in told
    told = refused(capsys, journal, f"--{kind}", figures)
    assert "it holds the figures of a folder, and no case" in told
    assert (case.read_bytes(), figures.read_bytes()) == before

    shutil.copy(GOLDEN / "two_people_0_1_0.vcj", journal)
    assert run(capsys, journal.parent, f"--{kind}", figures)[0] == 0
    assert figures.read_bytes() != before[1]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("content", ["earlier", "empty"])
def test_a_file_without_the_owners_permission_is_left(
    capsys: pytest.CaptureFixture[str], journal: Path, kind: Kind, content: str
) -> None:
    """Its mode tells, whatever the system would allow: an administrator may write anywhere."""
    target = journal.with_name(f"record.{kind}")
    if content == "earlier":
        run(capsys, journal, f"--{kind}", target)
    target.touch()
    before = target.read_bytes()
    target.chmod(0o444)

    told = refused(capsys, journal, f"--{kind}", target)
    assert f"{target}: there is a file already, and its owner may not write to it" in told
    assert f"name another file by --{kind}" in told
    assert target.read_bytes() == before
    assert stat.S_IMODE(target.stat().st_mode) == 0o444
    target.chmod(0o644)
    assert run(capsys, journal, f"--{kind}", target)[0] == 0


# What a file says of itself


def test_html_names_its_head(capsys: pytest.CaptureFixture[str], journal: Path) -> None:
    """In a meta element, read by html5lib. Source: HTML Living Standard, 4.2.5.1, keywords."""
    target = journal.with_name("x.html")
    run(capsys, journal, "--html", target)
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(target.read_text())

    (found,) = tree.findall(".//meta[@name='keywords']")
    assert found.get("content") == f"voicecount report, case {HEAD}"


def test_a_pdf_names_its_head(capsys: pytest.CaptureFixture[str], journal: Path) -> None:
    """Among its keywords, read by pypdf, and the same in its XMP (ISO 19005-2, 6.6.2.3)."""
    target = journal.with_name("x.pdf")
    run(capsys, journal, "--pdf", target)
    reader = PdfReader(target, strict=True)

    assert reader.metadata is not None
    assert reader.metadata["/Keywords"] == f"voicecount report, case {HEAD}"
    assert reader.xmp_metadata is not None
    assert reader.xmp_metadata.pdf_keywords == f"voicecount report, case {HEAD}"


def test_figures_name_their_digits(capsys: pytest.CaptureFixture[str], journal: Path) -> None:
    """They are the head of no record."""
    target = journal.with_name("x.html")
    run(capsys, journal.parent, "--html", target)
    made = made_of("html", target.read_bytes())

    assert made is not None
    assert made.of == "figures"
    assert [len(head) for head in made.heads] == [8]


# Files of earlier versions


def old_html(path: Path) -> bytes:
    """Take out what files of earlier versions did not have."""
    old = re.sub(r'<meta name="keywords"[^>]*>\n', "", path.read_text(encoding="utf-8"))
    assert old.count("<meta ") == 3
    return old.encode()


def test_the_digits_of_an_earlier_page_are_read_from_its_text(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """Those below its title; the page of another case is kept."""
    target, figures = journal.with_name("x.html"), journal.with_name("y.html")
    run(capsys, journal, "--html", target)
    run(capsys, journal.parent, "--html", figures)
    for path in (target, figures):
        path.write_bytes(old_html(path))
    old, of_many = target.read_bytes(), figures.read_bytes()

    assert made_of("html", old) == Made("case", frozenset({HEAD[:8]}))
    assert "figures never take its place" in refused(capsys, journal.parent, "--html", target)
    assert "figures of a folder" in refused(capsys, journal, "--html", figures)
    assert run(capsys, journal, "--html", target)[0] == 0
    assert run(capsys, journal.parent, "--html", figures)[0] == 0
    assert target.read_bytes() != old
    assert figures.read_bytes() != of_many
    target.write_bytes(old)
    other_case(journal)
    assert ANOTHER in refused(capsys, journal, "--html", target)


def test_an_earlier_pdf_does_not_tell_and_is_left(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """Its text is squeezed and set in letters of its own: it is not guessed."""
    target = journal.with_name("x.pdf")
    target.write_bytes(pdf((Title("T", "k", HEAD[:8], "c", "2026-01-01T00:00:00+00:00"),)))
    before = target.read_bytes()
    told = "an earlier version made it, and it does not tell of which records; it is left as it is"

    assert b"/Keywords(voicecount report)" in before
    assert told in refused(capsys, journal, "--pdf", target)
    assert told in refused(capsys, journal.parent, "--pdf", target)
    assert target.read_bytes() == before


TITLE = (Title("T", "k", "abcdef01", "c", "2026-01-01T00:00:00+00:00"),)


@pytest.mark.parametrize(
    ("kind", "data", "made"),
    [
        ("html", html(TITLE, keywords=keywords("case", HEAD)).encode(), Made("case", {HEAD})),
        ("html", html(TITLE).encode(), Made("case", {"abcdef01"})),
        ("html", html(TITLE).replace("Head of", "Date of").encode(), Made(None)),
        ("html", html(TITLE).replace("abcdef01", "another").encode(), Made(None)),
        ("html", html(TITLE).replace("voicecount", "other").encode(), None),
        ("html", b"<!DOCTYPE html><head></head>" + html(TITLE).encode(), None),
        ("pdf", b"%PDF-1.7 /Keywords(voicecount report)", Made(None)),
        ("pdf", b"%PDF-1.7 /Keywords(voicecount report, case abc)", Made(None)),
        ("pdf", b"%PDF-1.7 /Keywords(another)", None),
        ("pdf", f"/Keywords(voicecount report, case {HEAD})".encode(), None),
        (
            "pdf",  # one that something was added to later (ISO 32000-1, 7.5.6)
            (
                b"%PDF- /Keywords(voicecount report, case 0123456789) "
                b"/Keywords(voicecount report, case 01234567)"
            ),
            Made("case", {"0123456789", "01234567"}),
        ),
        (
            "pdf",
            (
                b"%PDF- /Keywords(voicecount report, case 01234567) "
                b"/Keywords(voicecount report, figures 01234567)"
            ),
            Made(None),
        ),
        (
            "pdf",
            (
                b"%PDF- /Keywords(voicecount report, case 01234567) "
                b"/Keywords(voicecount report, another)"
            ),
            Made(None),
        ),
        ("csv", b'"case","journal","head"\r\n', Made("case")),
        ("csv", b'"case","journal","head"\r\n"a","b","01234567"\r\n', Made("case", {"01234567"})),
        ("csv", b'"case","journal","head"\r\n"a","b",""\r\n', Made(None)),
        ("csv", b'"case","journal","head"\r\n"a"\r\n', Made(None)),
        ("csv", b'"case","journal","head"\r\n"a","b","01"x\r\n', Made(None)),
        ("csv", b'"case","journal","mine"\r\n"a",,"head"\r\n', None),
        ("csv", b'"journal","case","head"\r\n"a","b",""\r\n', Made("figures")),
        ("csv", b"case,journal,head\r\n", None),
    ],
)
def test_what_a_file_tells(kind: Kind, data: bytes, made: Made | None) -> None:
    """What is not certain is told as not known; what others made is none of ours."""
    assert made_of(kind, data) == made


def test_a_table_names_the_head_of_all_its_rows(
    capsys: pytest.CaptureFixture[str], journal: Path
) -> None:
    """Rows of two cases in one file are of both, and no journal holds both."""
    target = journal.with_name("x.csv")
    run(capsys, journal, "--csv", target)
    assert {row["head"] for row in rows(target)} == {HEAD[:8]}
    target.write_bytes(target.read_bytes().replace(HEAD[:8].encode(), b"01234567", 1))
    before = target.read_bytes()

    assert made_of("csv", before) == Made("case", frozenset({HEAD[:8], "01234567"}))
    assert ANOTHER in refused(capsys, journal, "--csv", target)
    assert target.read_bytes() == before
