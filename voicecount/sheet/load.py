"""YAML to a Sheet; every mistake is told with its file, line and field, and what to do."""

import difflib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import yaml
from pydantic import BaseModel, ValidationError

from voicecount.errors import SheetError
from voicecount.sheet.check import Problem, check_sheet
from voicecount.sheet.model import Item, NotCounted, Sheet, SheetPerson, Site, Spoken
from voicecount.sheet.plan import PlannedCount
from voicecount.sheet.policy import Policy
from voicecount.sheet.policy_file import beside, merged
from voicecount.sheet.yaml_tree import Loader, entry

_LARGEST_FILE = 1_000_000
"""Bytes; a sheet of a thousand lines is a tenth of it."""

_SAID = {
    "bool_type": "must be true or false",
    "dict_type": "must be a mapping",
    "float_parsing": "must be a number",
    "float_type": "must be a number",
    "int_type": "must be a whole number, without quotes",
    "missing": "is missing; add it",
    "model_type": "must be a mapping of fields",
    "string_too_short": "is empty; write some text",
    "string_type": "must be text; put it in quotes",
    "tuple_type": "must be a list; begin each entry with '- '",
}


def load_sheet(path: str | Path) -> Sheet:
    """Read a count sheet.

    Raises SheetError with the first problem and the number of the others, as one line.
    """
    file = Path(path)
    node, data = _parse(file, _read(file))
    folder = beside(file)
    if folder is not None and isinstance(data, dict):
        data = {**data, "policy": merged(_load_policy(folder), data.get("policy", {}))}
    try:
        sheet = Sheet.model_validate(data)
    except ValidationError as error:
        raise _refusal(file, node, list(_form_problems(error))) from None
    problems = check_sheet(sheet)
    if problems:
        raise _refusal(file, node, list(problems))
    return sheet


def _load_policy(file: Path) -> dict[str, Any]:
    """Read a folder's policy; SheetError names what is wrong in it."""
    node, data = _parse(file, _read(file), "policy")
    try:
        Policy.model_validate(data)
    except ValidationError as error:
        placed = [
            Problem(("policy", *problem.place), problem.what)
            for problem in _form_problems(error, within="policy")
        ]
        raise _refusal(file, _under(node), placed) from None
    return dict(data) if isinstance(data, dict) else {}


def _under(node: yaml.Node) -> yaml.Node:
    """Give a policy's tree as if it stood in a sheet, so that its problems are placed alike."""
    key = yaml.ScalarNode("tag:yaml.org,2002:str", "policy", node.start_mark, node.end_mark)
    return yaml.MappingNode("tag:yaml.org,2002:map", [(key, node)], node.start_mark, node.end_mark)


def _read(file: Path) -> str:
    """Read the text of a file."""
    try:
        with file.open("rb") as stream:
            content = stream.read(_LARGEST_FILE + 1)
    except FileNotFoundError:
        raise SheetError(f"{file}: there is no such file; give the path of a sheet") from None
    except IsADirectoryError:
        raise SheetError(f"{file}: this is a folder; give the path of a sheet in it") from None
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise SheetError(f"{file}: cannot be read ({why}); give a file that can be read") from None
    if len(content) > _LARGEST_FILE:
        raise SheetError(f"{file}: too large for a sheet (over 1 MB); give the path of a sheet")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise SheetError(
            f"{file}, line {line}: not text in UTF-8; save the sheet as UTF-8 text"
        ) from None


_BEGINS = {"sheet": "a title and items", "policy": "a field and its value, or remove it"}


def _parse(file: Path, text: str, kind: str = "sheet") -> tuple[yaml.Node, object]:
    """Give the tree with its line numbers, and the data."""
    try:
        loader = Loader(text)
        node = loader.get_single_node()
        data = loader.construct_document(node) if node is not None else None
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark is not None else 1
        what = " ".join((error.problem or error.context or "broken").split())
        raise SheetError(
            f"{file}, line {line}: not a {kind} in YAML: {what}; put it right"
        ) from None
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        what = f"holds a character that is no text (code {error.character})"
        raise SheetError(f"{file}, line {line}: {what}; take it out") from None
    except (RecursionError, ValueError, yaml.YAMLError):
        raise SheetError(f"{file}: not a {kind} in YAML; see docs/{kind}.md") from None
    if node is None or data is None:
        raise SheetError(f"{file}: empty; write {_BEGINS[kind]}, see docs/{kind}.md")
    if not isinstance(node, yaml.MappingNode):
        line = node.start_mark.line + 1
        first = "title:" if kind == "sheet" else "a field of the policy"
        raise SheetError(f"{file}, line {line}: a {kind} begins with {first!r}; see docs/{kind}.md")
    return node, data


def _form_problems(error: ValidationError, *, within: str | None = None) -> Iterator[Problem]:
    """Put what the models refuse into words of our own; ``within`` is the field it stands in."""
    outer = () if within is None else (within,)
    for detail in error.errors(include_url=False):
        kind, place, context = detail["type"], detail["loc"], detail.get("ctx", {})
        what = _SAID.get(kind)
        if kind == "extra_forbidden":
            what = _unknown_field((*outer, *place))
        elif kind == "value_error":
            what = str(context.get("error", detail["msg"]))
        elif kind == "enum":
            allowed = str(context.get("expected")).replace(" or ", ", ").replace("'", "")
            what = f"must be one of {allowed}"
        elif kind == "literal_error":
            what = f"must be {context.get('expected')}"
        elif kind == "string_pattern_mismatch":
            what = f"{detail['input']!r} must be small letters, digits, '_' or '-', a letter first"
        elif kind.startswith(("greater_than", "less_than")):
            what = f"is {detail['input']}; " + detail["msg"].replace("Input should", "it must")
        yield Problem(place, what or detail["msg"].replace("Input should", "must"))


def _unknown_field(place: tuple[str | int, ...]) -> str:
    """Tell which field may have been meant."""
    known = list(_model_at(place[:-1]).model_fields)
    near = difflib.get_close_matches(str(place[-1]), known, n=1)
    meant = f"did you mean {near[0]!r}?" if near else f"use {', '.join(known)}"
    return f"unknown field; {meant}"


def _model_at(place: tuple[str | int, ...]) -> type[BaseModel]:
    """Give the model whose fields stand at a place."""
    if "say" in place:
        return Spoken
    models: dict[str, type[BaseModel]] = {
        "items": Item,
        "not_counted": NotCounted,
        "plan": PlannedCount,
        "sites": Site,
        "team": SheetPerson,
        "policy": Policy,
    }
    return models.get(str(place[0]), Sheet) if place else Sheet


def _refusal(file: Path, node: yaml.Node, problems: list[Problem]) -> SheetError:
    """Make one line of the first problem in the file, and say how many more there are."""
    placed = sorted(
        ((*_locate(node, problem.place), problem.what) for problem in problems),
        key=lambda found: found[0],
    )
    line, field, what = placed[0]
    more = f" (and {len(placed) - 1} more)" if len(placed) > 1 else ""
    return SheetError(f"{file}, line {line}, {field}: {what}{more}")


def _locate(node: yaml.Node, place: tuple[str | int, ...]) -> tuple[int, str]:
    """Give the line of a place, and its name for a person: "item 'gauze', pack"."""
    line = node.start_mark.line + 1
    names: list[str] = []
    here: yaml.Node | None = node
    for at, part in enumerate(place):
        if isinstance(part, int):
            inner = here.value[part] if isinstance(here, yaml.SequenceNode) else None
            line = inner.start_mark.line + 1 if inner is not None else line
            if at == 1:
                names = [_line_name(str(place[0]), part, inner)]
            else:
                names[-1] += f" entry {part + 1}"
        else:
            key, inner = entry(here, part)
            line = key.start_mark.line + 1 if key is not None else line
            names.append(part)
        here = inner
    return line, ", ".join(names) or "sheet"


def _line_name(field: str, at: int, node: yaml.Node | None) -> str:
    """Name a line of the sheet by its id, or by its place from 1."""
    _, value = entry(node, "id")
    kind = "item" if field == "items" else field
    known = value.value if isinstance(value, yaml.ScalarNode) and value.value else None
    return f"{kind} {known!r}" if known else f"{kind} {at + 1}"
