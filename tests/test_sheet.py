"""Reading a count sheet: what it means, and every mistake told with file, line and field."""

from io import StringIO
from pathlib import Path

import pytest
from pydantic import ValidationError
from rich.console import Console

from voicecount.errors import SheetError
from voicecount.sheet.check import check_sheet
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Item, NotCounted, Sheet, Spoken
from voicecount.sheet.plan import Group
from voicecount.sheet.policy import Policy
from voicecount.sheet.table import sheet_table

GOOD = """\
title: Made up
procedure: something
items:
  - id: gauze
    group: sponges
    say: [X-ray gauze, gauze]
    expect: 10
    pack: 10
  - id: hand
    group: miscellaneous
    say:
      - {one: foot rest, many: feet rests}
      - one: hand rest
    pieces: 2
    stated: true
    note: made up
    sounds:
      Foot: F UH1 T
      hand: [HH AE N D, HH AE N]
not_counted:
  - id: tie
    say: [tie]
    note: never counted
policy:
  yes_confirms: true
  interrupted: group
  glance: 2
  settle_seconds: 2
"""


def write(folder: Path, text: str | bytes) -> Path:
    """Write a sheet."""
    path = folder / "sheet.yaml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def refusal(path: Path) -> str:
    """Give what is said about a bad sheet: always one line."""
    with pytest.raises(SheetError) as caught:
        load_sheet(path)
    message = str(caught.value)
    assert message.splitlines() == [message]
    assert str(path) in message
    return message.replace(str(path), "FILE")


def test_reads_all_fields(tmp_path: Path) -> None:
    """Every field of a sheet is read, names get their plurals, and sounds lose their stress."""
    sheet = load_sheet(write(tmp_path, GOOD))
    gauze, hand = sheet.items

    assert (sheet.title, sheet.procedure) == ("Made up", "something")
    assert (gauze.group, gauze.expect, gauze.pack, gauze.pieces) == (Group.SPONGES, 10, 10, 1)
    assert (gauze.name(1), gauze.name(10), gauze.name(0)) == ("X-ray gauze",) * 3
    assert (hand.name(1), hand.name(2)) == ("foot rest", "feet rests")
    assert (hand.say[1].many, hand.pieces, hand.stated, hand.expect) == (
        "hand rests",
        2,
        True,
        None,
    )
    assert hand.sounds == {
        "foot": (("F", "UH", "T"),),
        "hand": (("HH", "AE", "N", "D"), ("HH", "AE", "N")),
    }
    assert sheet.not_counted[0].name(3) == "ties"
    assert sheet.policy == Policy(
        yes_confirms=True, interrupted="group", glance=2, settle_seconds=2
    )
    assert sheet.item("hand") is hand
    assert sheet.items_in_group(Group.SPONGES) == (gauze,)
    assert sheet.items_in_group(Group.SHARPS) == ()
    with pytest.raises(KeyError):
        sheet.item("tie")


def test_careful_defaults(tmp_path: Path) -> None:
    """Without a policy, "yes" does not confirm, and an interruption restarts the line."""
    sheet = load_sheet(write(tmp_path, GOOD[: GOOD.index("policy:")]))

    assert sheet.policy == Policy()
    assert not sheet.policy.yes_confirms
    assert sheet.policy.interrupted == "line"
    assert all(field.description for field in Policy.model_fields.values())


def test_names_may_be_built_in_code() -> None:
    """A sheet can be made of models as well as of text."""
    name = Spoken(one="gauze", many="gauzes")
    item = Item(id="gauze", group=Group.SPONGES, say=(name,))

    assert Sheet(title="t", items=(item,)).item("gauze").name(2) == "gauzes"


def test_the_reference_is_whole(tmp_path: Path) -> None:
    """docs/sheet.md names every field, and its example is a good sheet."""
    text = (Path(__file__).parent.parent / "docs" / "sheet.md").read_text("utf-8")
    example = text.split("```yaml\n")[1].split("```")[0]
    fields = {name for model in (Sheet, Item, NotCounted) for name in model.model_fields}

    assert all(f"`{field}`" in text for field in fields)
    assert load_sheet(write(tmp_path, example)).items[3].name(2) == "feet of the frame"


@pytest.mark.parametrize(
    ("names", "fine"),
    [
        (["number ten blade", "blade"], True),
        (["ten blade"], True),
        (["ten blade", "blade"], False),
        (["ten"], False),
        (["blade twenty"], False),
        (["gauze total", "gauze"], False),
    ],
)
def test_numbers_in_names_as_documented(names: list[str], fine: bool) -> None:
    """The table of docs/sheet.md on numbers in names holds."""
    items = [{"id": f"i{at}", "group": "sharps", "say": [name]} for at, name in enumerate(names)]

    assert (check_sheet(Sheet.model_validate({"title": "t", "items": items})) == ()) is fine


def test_digest_tells_sheets_apart(tmp_path: Path) -> None:
    """Two sheets have one digest exactly if they say the same; comments do not matter."""
    sheet = load_sheet(write(tmp_path, GOOD))
    same = load_sheet(write(tmp_path, "# comment\n" + GOOD))
    other = load_sheet(write(tmp_path, GOOD.replace("expect: 10", "expect: 9")))

    assert sheet.digest == same.digest
    assert sheet == same
    assert hash(sheet) == hash(same)
    assert sheet.digest != other.digest


def test_is_frozen() -> None:
    """A sheet cannot be changed once it is read."""
    policy = Policy()
    with pytest.raises(ValidationError, match="frozen"):
        policy.glance = 9


def test_a_dumped_sheet_reads_back(tmp_path: Path) -> None:
    """A sheet written as JSON and read again is the same sheet."""
    sheet = load_sheet(write(tmp_path, GOOD))

    assert Sheet.model_validate_json(sheet.model_dump_json()) == sheet
    assert Sheet.model_validate(sheet.model_dump()) == sheet


HEAD = "title: t\nitems:\n"
ONE = "  - id: gauze\n    group: sponges\n    say: [gauze]\n"
TWO = "  - id: lap\n    group: sponges\n    say: [lap sponge]\n"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "FILE: empty; write a title and items, see docs/sheet.md"),
        ("# only a comment\n", "FILE: empty; write a title and items, see docs/sheet.md"),
        ("null\n", "FILE: empty;"),
        ("- a\n- b\n", "FILE, line 1: a sheet begins with 'title:'"),
        ("just text\n", "FILE, line 1: a sheet begins with 'title:'"),
        ("title: t\nitems: [a\n", "FILE, line 3: not a sheet in YAML:"),
        ("title: t\n  items: x\n", "FILE, line 2: not a sheet in YAML:"),
        ("title: t\n\titems: x\n", "FILE, line 2: not a sheet in YAML:"),
        ("title: 'open\nitems: []\n", "FILE, line 3: not a sheet in YAML:"),
        ("title: t\ntitle: u\n" + "items:\n" + ONE, "FILE, line 2: not a sheet in YAML: field 't"),
        ("a: &x 1\nb: *x\n", "FILE, line 2: not a sheet in YAML: write it out instead"),
        ("a: !!python/name:os.system x\n", "FILE, line 1: not a sheet in YAML:"),
        ("? [a]\n: b\n", "FILE, line 1: not a sheet in YAML:"),
        ("title: t\n---\ntitle: u\n", "FILE, line 2: not a sheet in YAML:"),
        ("title: t\x01\n", "FILE, line 1: holds a character that is no text (code 1)"),
        ("[" * 5000, "FILE: not a sheet in YAML"),
        (b"title: t\nitems: \xff\n", "FILE, line 2: not text in UTF-8"),
        (b"RIFF\x24\x00\x00\x80WAVE", "FILE, line 1: not text in UTF-8"),
        (b"# " + b"x" * 1_000_001, "FILE: too large for a sheet"),
        ("items:\n" + ONE, "FILE, line 1, title: is missing; add it"),
        ("title: t\n", "FILE, line 1, items: is missing; add it"),
        ("title: t\nitems: []\n", "FILE, line 2, items: is empty; add at least one"),
        ("title: t\nitems:\n", "FILE, line 2, items: must be a list"),
        ("title: t\nitems: 5\n", "FILE, line 2, items: must be a list"),
        ("title: ''\nitems:\n" + ONE, "FILE, line 1, title: is empty"),
        ("title: 5\nitems:\n" + ONE, "FILE, line 1, title: must be text; put it in quotes"),
        ("title: t\nitems:\n  - gauze\n", "FILE, line 3, item 1: must be a mapping"),
        (
            HEAD + ONE + "    colour: red\n",
            "FILE, line 6, item 'gauze', colour: unknown field; use",
        ),
        (
            HEAD + ONE + "    expects: 3\n",
            "FILE, line 6, item 'gauze', expects: unknown field; did you mean 'expect'?",
        ),
        (
            HEAD + ONE + "wall: x\n",
            "FILE, line 6, wall: unknown field; use title, procedure, items",
        ),
        (
            HEAD + ONE + "policy:\n  glanze: 3\n",
            "FILE, line 7, policy, glanze: unknown field; did you mean 'glance'?",
        ),
        (
            HEAD + ONE + "not_counted:\n  - id: tie\n    say: [tie]\n    pack: 3\n",
            "FILE, line 9, not_counted 'tie', pack: unknown field; use",
        ),
        (
            HEAD + "  - id: a\n    group: sponges\n    say:\n      - {one: b, mny: c}\n",
            "FILE, line 6, item 'a', say entry 1, mny: unknown field; did you mean 'many'?",
        ),
        (HEAD + "  - group: sponges\n    say: [a]\n", "FILE, line 3, item 1, id: is missing"),
        (HEAD + "  - id: a\n    say: [a]\n", "FILE, line 3, item 'a', group: is missing"),
        (HEAD + "  - id: a\n    group: sponges\n", "FILE, line 3, item 'a', say: is missing"),
        (HEAD + ONE.replace("[gauze]", "gauze"), "FILE, line 5, item 'gauze', say: must be a list"),
        (HEAD + ONE.replace("[gauze]", "[]"), "FILE, line 5, item 'gauze', say: is empty"),
        (HEAD + ONE.replace("[gauze]", "['']"), "line 5, item 'gauze', say entry 1, one: is empty"),
        (HEAD + ONE.replace("[gauze]", "[gauze, 10]"), "say entry 2: must be text or {one: ..."),
        (HEAD + ONE.replace("[gauze]", "[no]"), "say entry 1: must be text or {one: ..."),
        (HEAD + ONE.replace("[gauze]", "[{many: x}]"), "say entry 1, one: is missing"),
        (
            HEAD + ONE.replace("sponges", "swabs"),
            "line 4, item 'gauze', group: must be one of spon",
        ),
        (HEAD + ONE.replace("id: gauze", "id: Gau ze"), "line 3, item 'Gau ze', id: 'Gau ze' must"),
        (HEAD + ONE + "    expect: ten\n", "line 6, item 'gauze', expect: must be a whole number"),
        (HEAD + ONE + "    expect: '10'\n", "line 6, item 'gauze', expect: must be a whole number"),
        (HEAD + ONE + "    expect: true\n", "line 6, item 'gauze', expect: must be a whole number"),
        (HEAD + ONE + "    expect: 1.5\n", "line 6, item 'gauze', expect: must be a whole number"),
        (HEAD + ONE + "    expect: -1\n", "line 6, item 'gauze', expect: is -1; it must be"),
        (HEAD + ONE + "    expect: 200\n", "line 6, item 'gauze', expect: is 200; it must be"),
        (HEAD + ONE + "    pack: 0\n", "line 6, item 'gauze', pack: is 0; it must be"),
        (HEAD + ONE + "    pieces: 0\n", "line 6, item 'gauze', pieces: is 0; it must be"),
        (HEAD + ONE + "    stated: 1\n", "line 6, item 'gauze', stated: must be true or false"),
        (HEAD + ONE + "    note: 7\n", "line 6, item 'gauze', note: must be text"),
        (HEAD + ONE + "    sounds: x\n", "line 6, item 'gauze', sounds: must be a mapping"),
        (
            HEAD + ONE + "    sounds: {gauze: G OX}\n",
            "line 6, item 'gauze', sounds: 'OX' is no ARP",
        ),
        (HEAD + ONE + "    sounds: {gauze: 7}\n", "sounds: the sound of 'gauze' must be phones"),
        (HEAD + ONE + "    sounds: {gauze: []}\n", "sounds: the sound of 'gauze' must be phones"),
        (
            HEAD + ONE + "    sounds:\n      lap: L AE P\n",
            "line 7, item 'gauze', sounds, lap: 'lap'",
        ),
        (
            HEAD + ONE + "policy: {interrupted: all}\n",
            "line 6, policy, interrupted: must be 'line'",
        ),
        (HEAD + ONE + "policy: {settle_seconds: x}\n", "settle_seconds: must be a number"),
        (HEAD + ONE + "policy: {settle_seconds: 0}\n", "settle_seconds: is 0; it must be"),
        (HEAD + ONE + ONE, "FILE, line 6, item 'gauze', id: 'gauze' is the id of another line too"),
        (
            HEAD + ONE + "not_counted:\n  - id: gauze\n    say: [tie]\n",
            "FILE, line 7, not_counted 'gauze', id: 'gauze' is the id of another line too",
        ),
        (
            HEAD + ONE + TWO.replace("[lap sponge]", "[lap, Gauze]"),
            "FILE, line 8, item 'lap', say entry 2: 'gauze' is a name of 'gauze' too",
        ),
        (
            HEAD + TWO + "  - id: b\n    group: sharps\n    say: [lap-sponges]\n",
            "FILE, line 8, item 'b', say entry 1: 'lap sponges' is a name of 'lap' too",
        ),
        (
            HEAD + ONE + "not_counted:\n  - id: tie\n    say: [gauze]\n",
            "FILE, line 8, not_counted 'tie', say entry 1: 'gauze' is a name of 'gauze' too",
        ),
        (
            HEAD + ONE.replace("[gauze]", "[Carry on counting]"),
            "say entry 1: 'carry on counting' is what the command 'carry_on' is called",
        ),
        (HEAD + ONE.replace("[gauze]", "['yes']"), "'yes' is what the command 'yes' is called"),
        (HEAD + ONE.replace("[gauze]", "[ten]"), "say entry 1: 'ten' is nothing but a number"),
        (HEAD + ONE.replace("[gauze]", "['21']"), "'twenty one' is nothing but a number"),
        (
            HEAD + ONE.replace("[gauze]", "[blade twenty]"),
            "say entry 1: 'blade twenty' ends with 'twenty', and every count begins with 'one'",
        ),
        (
            HEAD + ONE + TWO.replace("lap sponge", "ten gauze"),
            "say entry 1: 'ten gauze' cannot be told from a count: 'ten gauze' could be ",
        ),
        (
            HEAD + ONE + TWO.replace("lap sponge", "gauze ten"),
            "FILE, line 8, item 'lap', say entry 1: 'gauze ten' cannot be told from a count",
        ),
        (
            HEAD + ONE.replace("[gauze]", "[gauze, gauze none]"),
            "item 'gauze', say entry 2: 'gauze none' cannot be told from a count",
        ),
        (
            HEAD + ONE.replace("[gauze]", "[that is not right]"),
            "'no that is not right' could be the command 'no' or no [that is not right]",
        ),
        (HEAD + ONE.replace("gauze]", "gauze 250]"), "250 cannot be said here (0 to 199)"),
        (HEAD + ONE.replace("gauze]", "gauze & co]"), "'&' in 'gauze & co' cannot be spoken"),
        (
            HEAD + ONE.replace("gauze]", "förster]"),
            "cannot be spoken; write the name as it is said",
        ),
        (HEAD + ONE.replace("gauze]", "'--']"), "say entry 1: a name needs a word"),
        (HEAD + ONE.replace("gauze]", "\"''\"]"), "cannot be spoken"),
    ],
)
def test_mistakes(tmp_path: Path, text: str | bytes, expected: str) -> None:
    """Every mistake is one line that names the file, the line, the field and what to do."""
    assert expected in refusal(write(tmp_path, text))


def test_all_problems_are_counted(tmp_path: Path) -> None:
    """The first problem in the file is told, and how many more there are."""
    text = HEAD + ONE + "    pack: x\n    pieces: x\n" + TWO + "    stated: x\nwall: 1\n"

    message = refusal(write(tmp_path, text))

    assert message.startswith("FILE, line 6, item 'gauze', pack: must be a whole number")
    assert message.endswith("(and 3 more)")


def test_first_in_the_file_comes_first(tmp_path: Path) -> None:
    """Clashes are told in the order of the file too."""
    text = HEAD + ONE.replace("[gauze]", "[gauze, ten]") + ONE

    message = refusal(write(tmp_path, text))

    assert message.startswith("FILE, line 5, item 'gauze', say entry 2: 'ten' is nothing but")
    assert message.endswith("(and 1 more)")


@pytest.mark.parametrize(
    "names",
    [
        ["number ten blade", "number fifteen blade", "blade"],
        ["ten blade", "fifteen blade"],
        ["blade ten", "gauze"],
        ["two way valve", "three way valve"],
        ["x 10 drape", "gauze"],
    ],
)
def test_names_with_numbers_that_can_be_told(names: list[str]) -> None:
    """A number word in a name is fine as long as nothing that can be said has two meanings."""
    items = [{"id": f"i{at}", "group": "sharps", "say": [name]} for at, name in enumerate(names)]

    assert check_sheet(Sheet.model_validate({"title": "t", "items": items})) == ()


def test_no_such_file(tmp_path: Path) -> None:
    """A sheet that is not there is named."""
    assert refusal(tmp_path / "none.yaml").startswith("FILE: there is no such file")


def test_folder(tmp_path: Path) -> None:
    """A folder is no sheet."""
    assert refusal(tmp_path).startswith("FILE: this is a folder")


def test_unreadable(tmp_path: Path) -> None:
    """A path through a file cannot be read, and the system's reason is given."""
    path = write(tmp_path, GOOD) / "inner.yaml"

    assert refusal(path).startswith("FILE: cannot be read (Not a directory)")


def test_byte_order_mark_is_allowed(tmp_path: Path) -> None:
    """A sheet saved with a byte order mark, as some editors do, is read."""
    path = write(tmp_path, b"\xef\xbb\xbf" + GOOD.encode())

    assert load_sheet(path).title == "Made up"


def test_table(tmp_path: Path) -> None:
    """The table shows every line, its group once, its names, numbers and notes."""
    sheet = load_sheet(write(tmp_path, GOOD.replace("made up", "see [1]")))
    console = Console(file=StringIO(), width=160)
    console.print(sheet_table(sheet))
    output = console.file.getvalue()  # type: ignore[attr-defined]

    for shown in ("Made up: something", "X-ray gauze", "foot rest", "hand rest", "see [1]"):
        assert shown in output
    assert output.count("not counted") == 1
    assert "never counted" in output
    assert "stated" in output


def test_table_of_a_bare_sheet(tmp_path: Path) -> None:
    """A sheet with no procedure and nothing uncounted is shown with its lines alone."""
    console = Console(file=StringIO(), width=160)
    console.print(sheet_table(load_sheet(write(tmp_path, HEAD + ONE))))
    output = console.file.getvalue()  # type: ignore[attr-defined]

    assert "gauze" in output
    assert "not counted" not in output


CASE = "title: t\nitems:\n  - {id: gauze, group: sponges, say: [gauze]}\n"


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("team:\n  - {id: a, say: gauze}\n", "line 4, team: 'gauze' has two meanings there"),
        ("team: [{id: a, say: Ann}, {id: b, say: Ann}]\n", "team: 'ann' has two meanings there"),
        ("sites: [{id: x, say: '%%'}]\n", "sites 'x', say: '%%' cannot be spoken"),
        (
            "plan: [{id: initial, kind: initial, say: count}]\n",
            "'begin the count' has two meanings",
        ),
        ("plan: [{id: initial, kind: initial, say: round 5$}]\n", "cannot be spoken"),
        ("plan: [{id: final, kind: final, say: last count}]\n", "begins with a count of kind"),
        ("plan: []\n", "begins with a count of kind 'initial'"),
        ("plan: [{id: first, kind: initial, say: first count}]\n", "has the id 'initial'"),
        (
            "plan: [{id: initial, kind: initial, say: a}, {id: b, kind: relief, say: c}]\n",
            "holds only the kinds cavity, closing, final, initial",
        ),
        (
            "plan: [{id: initial, kind: initial, say: a}, {id: b, kind: initial, say: c}]\n",
            "two counts of kind 'initial'",
        ),
        (
            "plan: [{id: initial, kind: initial, say: a}, {id: b, kind: final, say: A}]\n",
            "uses the spoken name of another",
        ),
        (
            "plan: [{id: initial, kind: initial, say: a}, {id: initial, kind: final, say: b}]\n",
            "uses the id of another",
        ),
        ("plan: [{id: initial, kind: inital, say: a}]\n", "must be one of initial, addition"),
        ("plan: [{id: initial, kind: initial, say: a, kinds: b}]\n", "did you mean 'kind'?"),
    ],
)
def test_a_mistake_in_the_case_is_told(tmp_path: Path, more: str, told: str) -> None:
    """Plans, sites and people that cannot work are refused with field and reason, in one line."""
    with pytest.raises(SheetError) as caught:
        load_sheet(write(tmp_path, CASE + more))

    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_name_that_holds_a_place_is_refused(tmp_path: Path) -> None:
    """A line called "gauze on the field" could not be told from gauze, counted on the field."""
    text = CASE + "  - {id: two, group: sponges, say: [{one: gauze on the field, many: a b}]}\n"
    with pytest.raises(SheetError, match="cannot be told from a count"):
        load_sheet(write(tmp_path, text))
