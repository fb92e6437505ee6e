"""The demo recording is what its script says, small and lossless."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest
import soundfile

from voicecount.sheet.load import load_sheet
from voicecount.words.choices import WHERE
from voicecount.words.commands import CASE_COMMANDS, COMMANDS, Command
from voicecount.words.grammar import build_grammar, parse
from voicecount.words.numbers import words_of
from voicecount.words.places import PLACES
from voicecount.words.vocabulary import FIRST, Vocabulary

ROOT = Path(__file__).parent.parent
RECORDING = ROOT / "audio_fixtures/caesarean.flac"
WHOLE = ROOT / "audio_fixtures/caesarean_case.flac"


def script() -> ModuleType:
    """Import the script that makes the recording."""
    spec = importlib.util.spec_from_file_location(
        "make_recordings", ROOT / "audio_fixtures/make_recordings.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize(("recording", "most"), [(RECORDING, 10), (WHOLE, 15)])
def test_the_recordings_are_small_and_lossless(recording: Path, most: int) -> None:
    """Two channels of FLAC at 16 kHz; the demo's stays under 10 MB, the whole case's under 15."""
    info = soundfile.info(recording)

    assert (info.format, info.subtype, info.channels, info.samplerate) == (
        "FLAC",
        "PCM_16",
        2,
        16_000,
    )
    assert recording.stat().st_size < most * 1_000_000


@pytest.mark.parametrize("name", ["caesarean", "caesarean_case"])
def test_every_turn_can_be_said_with_the_sheet(name: str) -> None:
    """Each turn meant for the assistant has exactly one reading; talk has none."""
    sheet = load_sheet(ROOT / f"grammars/{name}.yaml")
    begins = tuple(
        Command(count.id, (f"begin the {count.say}",), "") for count in sheet.plan if count.say
    )
    words = Vocabulary((*COMMANDS, *CASE_COMMANDS, *begins), PLACES[1:5], (*WHERE, *sheet.people))
    grammar = build_grammar(sheet, FIRST if name == "caesarean" else words)
    turns = list(script().read_script(ROOT / f"audio_fixtures/{name}.txt"))

    assert len(turns) > 40
    for turn in turns:
        readings = parse(words_of(turn.said), grammar)
        count = len({reading for reading, _ in readings if reading.choice is None})
        choices = len({reading for reading, _ in readings if reading.choice is not None})
        assert count <= 1, turn.said
        assert (count + choices > 0) is not turn.talk, turn.said


def test_the_demo_shows_at_least_fifteen_lines() -> None:
    """The scrub person names at least fifteen lines of the sheet."""
    grammar = build_grammar(load_sheet(ROOT / "grammars/caesarean.yaml"))
    named = {
        meaning.item
        for turn in script().read_script(ROOT / "audio_fixtures/caesarean.txt")
        if turn.who == "scrub"
        for meaning, _ in parse(words_of(turn.said), grammar)
        if meaning.item
    }

    assert len(named) >= 15
