"""The demo recording is what its script says, small and lossless."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import soundfile

from voicecount.sheet.load import load_sheet
from voicecount.words.grammar import build_grammar, parse
from voicecount.words.numbers import words_of

ROOT = Path(__file__).parent.parent
RECORDING = ROOT / "audio_fixtures/caesarean.flac"


def script() -> ModuleType:
    """Import the script that makes the recording."""
    spec = importlib.util.spec_from_file_location(
        "make_caesarean", ROOT / "audio_fixtures/make_caesarean.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_the_recording_is_small_and_lossless() -> None:
    """Two channels of FLAC at 16 kHz; all fixtures together stay under 10 MB."""
    info = soundfile.info(RECORDING)

    assert (info.format, info.subtype, info.channels, info.samplerate) == (
        "FLAC",
        "PCM_16",
        2,
        16_000,
    )
    assert sum(file.stat().st_size for file in RECORDING.parent.glob("*")) < 10_000_000


def test_every_turn_can_be_said_with_the_sheet() -> None:
    """Each turn meant for the assistant has exactly one reading; talk has none."""
    grammar = build_grammar(load_sheet(ROOT / "grammars/caesarean.yaml"))
    turns = list(script().read_script())

    assert len(turns) > 40
    for turn in turns:
        assert len(parse(words_of(turn.said), grammar)) == (0 if turn.talk else 1), turn.said


def test_the_demo_shows_at_least_fifteen_lines() -> None:
    """The scrub person names at least fifteen lines of the sheet."""
    grammar = build_grammar(load_sheet(ROOT / "grammars/caesarean.yaml"))
    named = {
        meaning.item
        for turn in script().read_script()
        if turn.who == "scrub"
        for meaning, _ in parse(words_of(turn.said), grammar)
        if meaning.item
    }

    assert len(named) >= 15
