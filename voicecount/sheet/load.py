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
from voicecount.sheet.yaml_file import FileKind, read_tree, refusal, said, scalar


def load_sheet(path: str | Path) -> Sheet:
    """Read a count sheet.

    Raises SheetError with the first problem and the number of the others, as one line.
    """
    file = Path(path)
    node, data = read_tree(file, _SHEET)
    folder = beside(file)
    if folder is not None and isinstance(data, dict):
        data = {**data, "policy": merged(_load_policy(folder), data.get("policy", {}))}
    try:
        sheet = Sheet.model_validate(data)
    except ValidationError as error:
        raise refusal(file, node, _form_problems(error), _SHEET) from None
    problems = check_sheet(sheet)
    if problems:
        raise refusal(file, node, problems, _SHEET)
    return sheet


def _load_policy(file: Path) -> dict[str, Any]:
    """Read a folder's policy; SheetError names what is wrong in it."""
    node, data = read_tree(file, _POLICY)
    try:
        Policy.model_validate(data)
    except ValidationError as error:
        placed = [
            Problem(("policy", *problem.place), problem.what)
            for problem in _form_problems(error, within="policy")
        ]
        raise refusal(file, _under(node), placed, _POLICY) from None
    return dict(data) if isinstance(data, dict) else {}


def _under(node: yaml.Node) -> yaml.Node:
    """Give a policy's tree as if it stood in a sheet, so that its problems are placed alike."""
    key = yaml.ScalarNode("tag:yaml.org,2002:str", "policy", node.start_mark, node.end_mark)
    return yaml.MappingNode("tag:yaml.org,2002:map", [(key, node)], node.start_mark, node.end_mark)


def _form_problems(error: ValidationError, *, within: str | None = None) -> Iterator[Problem]:
    """Put what the models refuse into words of our own; ``within`` is the field it stands in."""
    outer = () if within is None else (within,)
    for detail in error.errors(include_url=False):
        place = detail["loc"]
        unknown = detail["type"] == "extra_forbidden"
        yield Problem(place, _unknown_field((*outer, *place)) if unknown else said(detail))


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


def _name_entry(field: str, at: int, node: yaml.Node | None) -> str:
    """Name a line of the sheet by its id, or by its place from 1."""
    kind = "item" if field == "items" else field
    known = scalar(node, "id")
    return f"{kind} {known!r}" if known else f"{kind} {at + 1}"


_SHEET = FileKind(
    "sheet", "'title:'", "a title and items", SheetError, "see docs/sheet.md", _name_entry
)
_POLICY = FileKind(
    "policy",
    "a field of it",
    "a field and its value, or remove it",
    SheetError,
    "see docs/policy.md",
    _name_entry,
)
