"""The policy: one file for a folder of sheets, with its reasons; what a sheet says comes first."""

from pathlib import Path

import pytest
import yaml

from voicecount.cli import main
from voicecount.commands.phrases import markdown as phrases_page
from voicecount.errors import SheetError
from voicecount.sheet.load import load_sheet
from voicecount.sheet.policy import Policy
from voicecount.sheet.policy_file import markdown, policy_text

ROOT = Path(__file__).parent.parent
SHEET = "title: t\nitems:\n  - {id: gauze, group: sponges, say: [gauze]}\n"


def folder(tmp_path: Path, policy: str, own: str = "") -> Path:
    """Put a sheet and a policy into a folder; the sheet's path."""
    (tmp_path / "policy.yaml").write_text(policy)
    sheet = tmp_path / "sheet.yaml"
    sheet.write_text(SHEET + own)
    return sheet


def test_the_file_holds_for_every_sheet_beside_it(tmp_path: Path) -> None:
    """A field of policy.yaml is the sheet's policy, and other fields keep their defaults."""
    policy = load_sheet(folder(tmp_path, "interrupted: count\n")).policy

    assert policy == Policy(interrupted="count")


def test_what_a_sheet_says_comes_first(tmp_path: Path) -> None:
    """Fields of the sheet's own policy replace those of the folder, one by one."""
    own = "policy:\n  glance: 2\n"
    policy = load_sheet(folder(tmp_path, "interrupted: count\nglance: 3\n", own)).policy

    assert (policy.interrupted, policy.glance) == ("count", 2)


def test_the_policy_is_part_of_the_digest(tmp_path: Path) -> None:
    """A journal can only be resumed under the policy that it was kept with."""
    with_default = load_sheet(folder(tmp_path, "glance: 4\n")).digest
    with_other = load_sheet(folder(tmp_path, "glance: 3\n")).digest

    assert with_default != with_other


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("interrupted: lin\n", "line 1, policy, interrupted: must be 'line', 'group' or 'count'"),
        ("glance: 3\nplaces: [field, attic]\n", "line 2, policy, places: 'attic' is no place"),
        ("places: []\n", "is empty; name at least one place"),
        ("search: [floor, floor]\n", "names a place twice"),
        ("steps: [pause, pause]\n", "names a step twice"),
        ("glanse: 3\n", "did you mean 'glance'?"),
        ("- 1\n", "a policy begins with"),
        ("", "empty; write a field and its value"),
        ("a: [\n", "not a policy in YAML"),
    ],
)
def test_a_mistake_is_told_with_its_file(tmp_path: Path, text: str, told: str) -> None:
    """A wrong policy is refused with its own file, line and field, in one line."""
    with pytest.raises(SheetError) as caught:
        load_sheet(folder(tmp_path, text))

    assert str(caught.value).startswith(str(tmp_path / "policy.yaml"))
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_the_command_prints_a_file_that_reads_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What the command prints is a policy file; for a sheet it prints what holds for it."""
    sheet = folder(tmp_path, "glance: 2\n")
    assert main(["policy", str(sheet)]) == 0
    printed = capsys.readouterr().out

    assert Policy.model_validate(yaml.safe_load(printed)) == Policy(glance=2)
    assert main(["policy"]) == 0
    assert Policy.model_validate(yaml.safe_load(capsys.readouterr().out)) == Policy()


def test_every_default_has_its_reason() -> None:
    """Each field says what it decides, and names a source or says that it is our choice."""
    for name, field in Policy.model_fields.items():
        assert field.description, name
        sourced = ("(", "Our choice", "no source")
        assert any(word in field.description for word in sourced), name


def test_the_pages_are_made_from_the_code() -> None:
    """docs/policy.md, docs/phrases.md and grammars/policy.yaml are what the commands print."""
    assert (ROOT / "docs/policy.md").read_text() == markdown()
    assert (ROOT / "docs/phrases.md").read_text() == phrases_page()
    assert (ROOT / "grammars/policy.yaml").read_text() == policy_text()


def test_the_phrases_of_a_sheet_hold_its_counts_and_people(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """With a sheet, its own counts and team are among what can be said."""
    assert main(["phrases", str(ROOT / "grammars/caesarean_case.yaml")]) == 0
    out = capsys.readouterr().out

    assert "begin the uterine count" in out
    assert "Taylor" in out
    assert main(["phrases", "--markdown"]) == 0
    assert capsys.readouterr().out == phrases_page()
