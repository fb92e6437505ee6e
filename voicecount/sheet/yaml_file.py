"""A file of ours in YAML as tree and data; each problem is placed by its file, line and field."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from voicecount.errors import VoicecountError
from voicecount.sheet.check import Problem
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

NameEntry = Callable[[str, int, yaml.Node | None], str]
"""Names an entry of a list for a person: the list's field, the place from 0, the entry."""


@dataclass(frozen=True)
class FileKind:
    """What kind of file is read, and how it is spoken of."""

    name: str
    """In one word, such as "sheet"."""
    begins: str
    """The field with which it begins."""
    empty: str
    """What to write into an empty one."""
    error: type[VoicecountError]
    """What is raised."""
    see: str
    """Where more is told."""
    name_entry: NameEntry


def read_tree(file: Path, kind: FileKind) -> tuple[yaml.Node, object]:
    """Give the tree with its line numbers, and the data. Raises the kind's error, one line."""
    text = _read(file, kind)
    wrong, name = kind.error, kind.name
    try:
        loader = Loader(text)
        node = loader.get_single_node()
        data = loader.construct_document(node) if node is not None else None
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark is not None else 1
        what = " ".join((error.problem or error.context or "broken").split())
        raise wrong(f"{file}, line {line}: not a {name} in YAML: {what}; put it right") from None
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        what = f"holds a character that is no text (code {error.character})"
        raise wrong(f"{file}, line {line}: {what}; take it out") from None
    except (RecursionError, ValueError, yaml.YAMLError):
        raise wrong(f"{file}: not a {name} in YAML; {kind.see}") from None
    if node is None or data is None:
        raise wrong(f"{file}: empty; write {kind.empty}, {kind.see}")
    if not isinstance(node, yaml.MappingNode):
        line = node.start_mark.line + 1
        raise wrong(f"{file}, line {line}: a {name} begins with {kind.begins}; {kind.see}")
    return node, data


def _read(file: Path, kind: FileKind) -> str:
    """Read the text of a file."""
    wrong, name = kind.error, kind.name
    try:
        with file.open("rb") as stream:
            content = stream.read(_LARGEST_FILE + 1)
    except FileNotFoundError:
        raise wrong(f"{file}: there is no such file; give the path of a {name}") from None
    except IsADirectoryError:
        raise wrong(f"{file}: this is a folder; give the path of a {name} in it") from None
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise wrong(f"{file}: cannot be read ({why}); give a file that can be read") from None
    if len(content) > _LARGEST_FILE:
        raise wrong(f"{file}: too large for a {name} (over 1 MB); give the path of a {name}")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        what = f"not text in UTF-8; save the {name} as UTF-8 text"
        raise wrong(f"{file}, line {line}: {what}") from None


def refusal(
    file: Path, node: yaml.Node, problems: Iterable[Problem], kind: FileKind
) -> VoicecountError:
    """Make one line of the first problem in the file, and say how many more there are."""
    placed = sorted(
        ((*_locate(node, problem.place, kind), problem.what) for problem in problems),
        key=lambda found: found[0],
    )
    line, field, what = placed[0]
    more = f" (and {len(placed) - 1} more)" if len(placed) > 1 else ""
    return kind.error(f"{file}, line {line}, {field}: {what}{more}")


def said(detail: Mapping[str, Any]) -> str:
    """Put what a model refuses (an entry of ``ValidationError.errors``) into words of our own."""
    kind, context = detail["type"], detail.get("ctx", {})
    message = str(detail["msg"])
    if kind in _SAID:
        return _SAID[kind]
    if kind == "value_error":
        message = str(context.get("error", message))
    elif kind == "enum":
        allowed = str(context.get("expected")).replace(" or ", ", ").replace("'", "")
        message = f"must be one of {allowed}"
    elif kind == "literal_error":
        message = f"must be {context.get('expected')}"
    elif kind == "string_pattern_mismatch":
        message = f"{detail['input']!r} must be small letters, digits, '_' or '-', a letter first"
    elif kind.startswith(("greater_than", "less_than")):
        message = f"is {detail['input']}; " + message.replace("Input should", "it must")
    return message.replace("Input should", "must")


def scalar(node: yaml.Node | None, field: str) -> str | None:
    """Give the text of an entry's field; None where there is none."""
    _, value = entry(node, field)
    return value.value if isinstance(value, yaml.ScalarNode) and value.value else None


def _locate(node: yaml.Node, place: tuple[str | int, ...], kind: FileKind) -> tuple[int, str]:
    """Give the line of a place, and its name for a person: "item 'gauze', pack"."""
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
                names = [kind.name_entry(str(place[0]), part, inner)]
            else:
                names[-1] += f" entry {part + 1}"
        else:
            key, inner = entry(here, part)
            line = key.start_mark.line + 1 if key is not None else line
            names.append(part)
        here = inner
    return line, ", ".join(names) or kind.name
