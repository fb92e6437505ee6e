"""The pages say what the program does: commands, options, keys, fields and codes."""

import argparse
import re
import shlex
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from voicecount import cli
from voicecount.commands.reasons import markdown
from voicecount.hear.heard import Heard, Outcome
from voicecount.keep.reading import RECOVERED, RESUMED
from voicecount.keep.record import Record
from voicecount.show.json_out import heard_object

DOCS = Path(__file__).parent.parent / "docs"
COMMANDS_PAGE = (DOCS / "commands.md").read_text()
JOURNAL_PAGE = (DOCS / "journal.md").read_text()


def subcommands() -> dict[str, argparse.ArgumentParser]:
    parser: Any = cli._parser()
    (action,) = (found for found in parser._actions if hasattr(found, "add_parser"))
    return dict(action.choices)


def section(title: str) -> str:
    return COMMANDS_PAGE.split(f"\n## {title}\n")[1].split("\n## ")[0]


@pytest.mark.parametrize("name", subcommands())
def test_every_command_has_a_section_with_an_example(name: str) -> None:
    """Each command stands under its own heading with a line that calls it."""
    assert f"    voicecount {name} " in section(name) or f"    voicecount {name}\n" in section(name)


@pytest.mark.parametrize("name", subcommands())
def test_every_option_is_explained(name: str) -> None:
    """Each option stands in its command's section, or in replay's for what resume shares."""
    page = section(name) + (section("replay") if name == "resume" else "")
    for action in subcommands()[name]._actions:
        for option in action.option_strings:
            if option.startswith("--") and option != "--help":
                assert option in page + section("Without sound")


@pytest.mark.parametrize("name", subcommands())
def test_every_command_has_a_line_of_help(name: str) -> None:
    """The overview tells what each command is for."""
    parser: Any = cli._parser()
    (action,) = (found for found in parser._actions if hasattr(found, "add_parser"))
    helps = {choice.dest: choice.help for choice in action._choices_actions}

    assert helps[name]


@pytest.mark.parametrize("page", sorted(DOCS.glob("*.md")), ids=lambda page: page.name)
def test_every_command_line_in_the_docs_is_one(page: Path) -> None:
    """What a reader can copy from a page is understood by the program."""
    for line in re.findall(r"^ *(?:\$ )?voicecount (.*)$", page.read_text(), re.MULTILINE):
        assert cli._parse(shlex.split(line.split(" > ")[0], comments=True)).command


def test_every_key_of_hear_is_explained() -> None:
    """The table of keys names exactly the keys of the object, in its order."""
    heard = heard_object("f", Heard(0, 0, 1, Outcome.ACCEPTED, None, ""))
    table = section("hear").split("| key |")[1]
    named = [
        key
        for line in table.splitlines()
        if line.startswith("| `")
        for key in re.findall(r"`(\w+)`", line.split("|")[1])
    ]

    assert named == list(heard)


def test_every_field_of_a_record_is_explained() -> None:
    """The journal's page names exactly a record's fields, and the journal's own kinds."""
    named = re.findall(r"^\| `(\w+)` \|", JOURNAL_PAGE, re.MULTILINE)

    assert named == [field.name for field in fields(Record)]
    assert RESUMED in JOURNAL_PAGE
    assert RECOVERED in JOURNAL_PAGE


def test_the_page_of_codes_is_made_from_the_code() -> None:
    """docs/reasons.md is what ``voicecount reasons --markdown`` prints."""
    assert (DOCS / "reasons.md").read_text() == markdown()


@pytest.mark.parametrize("page", sorted(DOCS.glob("*.md")), ids=lambda page: page.name)
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    """Every relative link names a file that is there."""
    for target in re.findall(r"\]\(([^)#:]+)\)", page.read_text()):
        assert (page.parent / target).exists(), target
