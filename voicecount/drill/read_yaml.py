"""A drill's file as text, tree and data; each problem is placed by its line and field."""

from collections.abc import Sequence
from pathlib import Path

import yaml

from voicecount.errors import VoicecountError
from voicecount.sheet.check import Problem
from voicecount.sheet.yaml_tree import Loader, entry

_LARGEST_FILE = 1_000_000
"""Bytes; a drill of a hundred lines is a hundredth of it."""
_SEE = "see docs/drills.md"


class DrillError(VoicecountError):
    """A drill cannot be used, found or made as it is."""


def read_yaml(file: Path) -> tuple[yaml.Node, object]:
    """Give the tree with its line numbers, and the data. Raises DrillError."""
    text = _read(file)
    try:
        loader = Loader(text)
        node = loader.get_single_node()
        data = loader.construct_document(node) if node is not None else None
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark is not None else 1
        what = " ".join((error.problem or error.context or "broken").split())
        raise DrillError(
            f"{file}, line {line}: not a drill in YAML: {what}; put it right"
        ) from None
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        what = f"holds a character that is no text (code {error.character})"
        raise DrillError(f"{file}, line {line}: {what}; take it out") from None
    except (RecursionError, ValueError, yaml.YAMLError):
        raise DrillError(f"{file}: not a drill in YAML; {_SEE}") from None
    if node is None or data is None:
        raise DrillError(f"{file}: empty; write a title, a level, a task and a table, {_SEE}")
    if not isinstance(node, yaml.MappingNode):
        line = node.start_mark.line + 1
        raise DrillError(f"{file}, line {line}: a drill begins with 'title:'; {_SEE}")
    return node, data


def _read(file: Path) -> str:
    try:
        with file.open("rb") as stream:
            content = stream.read(_LARGEST_FILE + 1)
    except FileNotFoundError:
        raise DrillError(f"{file}: there is no such file; give the path of a drill") from None
    except IsADirectoryError:
        raise DrillError(f"{file}: this is a folder; give the path of a drill in it") from None
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise DrillError(f"{file}: cannot be read ({why}); give a file that can be read") from None
    if len(content) > _LARGEST_FILE:
        raise DrillError(f"{file}: too large for a drill (over 1 MB); give the path of a drill")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        what = "not text in UTF-8; save the drill as UTF-8 text"
        raise DrillError(f"{file}, line {line}: {what}") from None


def refusal(file: Path, node: yaml.Node, problems: Sequence[Problem]) -> DrillError:
    """Make one line of the first problem in the file, and say how many more there are."""
    placed = sorted(
        ((*_locate(node, problem.place), problem.what) for problem in problems),
        key=lambda found: found[0],
    )
    line, field, what = placed[0]
    more = f" (and {len(placed) - 1} more)" if len(placed) > 1 else ""
    return DrillError(f"{file}, line {line}, {field}: {what}{more}")


def _locate(node: yaml.Node, place: tuple[str | int, ...]) -> tuple[int, str]:
    """Give the line of a place, and its name for a person: "event 2 'dropped', item"."""
    line = node.start_mark.line + 1
    names: list[str] = []
    here: yaml.Node | None = node
    for at, part in enumerate(place):
        if part == "[key]":
            continue
        if isinstance(part, int):
            inner = here.value[part] if isinstance(here, yaml.SequenceNode) else None
            line = inner.start_mark.line + 1 if inner is not None else line
            if at == 1:
                names = [_entry_name(str(place[0]), part, inner)]
            else:
                names[-1] += f" entry {part + 1}"
        else:
            key, inner = entry(here, part)
            line = key.start_mark.line + 1 if key is not None else line
            names.append(part)
        here = inner
    return line, ", ".join(names) or "drill"


def _entry_name(field: str, at: int, node: yaml.Node | None) -> str:
    """Name an entry of a list by what it is about, and by its place from 1."""
    _, value = entry(node, "item" if field == "table" else "kind")
    kind = "event" if field == "events" else field
    known = value.value if isinstance(value, yaml.ScalarNode) and value.value else None
    return f"{kind} {at + 1}" + (f" {known!r}" if known else "")
