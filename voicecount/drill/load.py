"""YAML to a drill with its sheet; every mistake is told with file, line, field, and what to do."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import yaml
from pydantic import BaseModel, ValidationError

from voicecount.drill.check import check_drill, near
from voicecount.drill.drill_file import DRILL, DrillError
from voicecount.drill.model import Criterion, Drill, Loudness, Pace, Planted, There
from voicecount.sheet.check import Problem
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.sheet.yaml_file import read_tree, refusal, said

__all__ = ["SHEET_ENDING", "DrillError", "Loaded", "load_drill", "shipped"]

FOLDER = Path(__file__).resolve().parents[2] / "grammars" / "drills"
"""The drills that ship; beside each lies its sheet."""
SHEET_ENDING = ".sheet.yaml"
"""How the names of sheets end that lie among drills."""

_MODELS: dict[str, type[BaseModel]] = {
    "table": There,
    "events": Planted,
    "pace": Pace,
    "loudness": Loudness,
}


@dataclass(frozen=True)
class Loaded:
    """A drill with its sheet, checked against each other."""

    drill: Drill
    sheet: Sheet
    path: Path
    sheet_path: Path

    @property
    def name(self) -> str:
        """The drill's file name without its ending."""
        return self.path.stem

    @property
    def digest(self) -> str:
        """SHA-256 of the drill and of its sheet, in hex: attempts with one digest had one drill."""
        text = self.drill.model_dump_json() + self.sheet.digest
        return hashlib.sha256(text.encode()).hexdigest()


def load_drill(name_or_path: str | Path) -> Loaded:
    """Read a drill of ours by its name, or any drill by its path, with the sheet beside it.

    Raises DrillError, or SheetError where its sheet is wrong, each with one line.
    """
    file = _find(name_or_path)
    node, drill = _read_drill(file)
    if Path(drill.sheet).name != drill.sheet or drill.sheet == file.name:
        what = f"must be the name of a sheet beside the drill, such as {file.stem}{SHEET_ENDING}"
        raise refusal(file, node, [Problem(("sheet",), what)], DRILL)
    sheet_path = file.with_name(drill.sheet)
    if not sheet_path.is_file():
        what = f"there is no {drill.sheet!r} beside the drill; put the sheet there"
        raise refusal(file, node, [Problem(("sheet",), what)], DRILL)
    sheet = load_sheet(sheet_path)
    problems = check_drill(drill, sheet)
    if problems:
        raise refusal(file, node, problems, DRILL)
    return Loaded(drill, sheet, file, sheet_path)


def shipped() -> tuple[Path, ...]:
    """Give the drills that ship, by level, then by name."""
    found = [(_read_drill(path)[1].level, path) for path in _files()]
    return tuple(path for _, path in sorted(found))


def _read_drill(file: Path) -> tuple[yaml.Node, Drill]:
    """Give a drill by itself, not yet checked against its sheet, and its tree."""
    node, data = read_tree(file, DRILL)
    try:
        return node, Drill.model_validate(data)
    except ValidationError as error:
        raise refusal(file, node, _form_problems(error), DRILL) from None


def _files() -> list[Path]:
    paths = sorted(FOLDER.glob("*.yaml"))
    return [p for p in paths if not p.name.endswith(SHEET_ENDING) and p.name != "policy.yaml"]


def _find(name_or_path: str | Path) -> Path:
    """Give the file of a name of ours; whatever looks like a path is one."""
    text = str(name_or_path)
    if isinstance(name_or_path, Path) or Path(text).name != text or Path(text).suffix:
        return Path(name_or_path)
    names = [path.stem for path in _files()]
    if text in names:
        return FOLDER / f"{text}.yaml"
    raise DrillError(f"{text}: there is no drill of this name; {near(text, names)}")


def _form_problems(error: ValidationError) -> Iterator[Problem]:
    """Put what the models refuse into words of our own."""
    for detail in error.errors(include_url=False):
        kind, place = detail["type"], detail["loc"]
        if kind == "extra_forbidden":
            known = list(_model_at(place).model_fields)
            what = f"unknown field; {near(str(place[-1]), known)}"
        elif kind == "enum" and place[0] == "rubric":
            rows = [row.value for row in Criterion]
            what = f"no row of the rubric; {near(str(detail['input']), rows)}"
        elif kind == "too_short":
            what = "is empty; add at least one"
        else:
            what = said(detail)
        yield Problem(place, what)


def _model_at(place: tuple[str | int, ...]) -> type[BaseModel]:
    return _MODELS.get(str(place[0]), Drill) if len(place) > 1 else Drill
