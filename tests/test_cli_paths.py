"""Names of files and folders: an empty one and a dash are told in one line, for every command."""

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from models_fetch import command
from voicecount import cli, cli_paths

OUTPUTS = {"html", "pdf", "csv", "csv_findings", "page", "out", "token"}
"""Arguments that name a file which is made, and nothing else in that place."""

PARSERS = [cli._parser(), command._parser(command.ENGLISH)]


def arguments(parser: Any) -> Iterator[tuple[str, argparse.Action]]:
    """Give all arguments of a parser and of the commands in it."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for inner in action.choices.values():
                yield from arguments(inner)
        else:
            yield parser.prog, action


NAMED = [(where, action) for parser in PARSERS for where, action in arguments(parser)]
READERS: tuple[Any, ...] = (cli_paths.given, cli_paths.path, cli_paths.to_write)
PATHS = [(where, action) for where, action in NAMED if action.type in READERS]


def told(capsys: pytest.CaptureFixture[str], *given: str) -> str:
    assert cli.main(given) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    return str(err)


def test_every_argument_that_is_a_path_is_read_by_these() -> None:
    """None becomes a path by itself: there an empty name is the current folder."""
    assert Path not in {action.type for _, action in NAMED}
    assert len(PATHS) >= 40
    outputs = {action.dest for _, action in NAMED if action.type is cli_paths.to_write}
    assert outputs == OUTPUTS


@pytest.mark.parametrize(("where", "action"), PATHS, ids=lambda one: getattr(one, "dest", one))
def test_an_empty_name_is_refused(where: str, action: argparse.Action) -> None:
    """Each of them says what is wrong and what to do."""
    read: Any = action.type
    with pytest.raises(argparse.ArgumentTypeError, match="the name is empty; give the name of"):
        read("")
    assert str(read("a/b.vcj")) == "a/b.vcj", where


@pytest.mark.parametrize(
    "line",
    [
        ("report", ""),
        ("board", ""),
        ("verify", ""),
        ("replay", "--sheet", "x", "--journal", "", "x"),
        ("resume", "", "--sheet", "x", "x"),
        ("resume", "x", "--sheet", "x", "--json", ""),
        ("run", "x", "--journal="),
        ("check", ""),
        ("policy", ""),
        ("rehearse", ""),
        ("drill", "list", ""),
        ("drill", "judge", "", "x"),
        ("report", "x", "--pdf", ""),
    ],
)
def test_an_empty_name_is_one_line(
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    line: tuple[str, ...],
) -> None:
    """The folder that one is in is not looked at, and nothing is made in it."""
    monkeypatch.chdir(tmp_path)

    assert "the name is empty" in told(capsys, *line)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("option", ["--html", "--pdf", "--csv"])
def test_a_dash_makes_no_file(
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    option: str,
) -> None:
    """Elsewhere it is the output; here it would be a file of that name."""
    monkeypatch.chdir(tmp_path)

    err = told(capsys, "report", "case.vcj", option, "-")
    assert f"argument {option}: '-' is no file" in err
    assert "name a file" in err
    assert list(tmp_path.iterdir()) == []


def test_a_file_of_that_name_can_still_be_named() -> None:
    """By its folder, as for all programs."""
    assert cli_paths.to_write("./-") == Path("-")
