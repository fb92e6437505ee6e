"""The sheet's ``sounds:`` field on real sound: it says how a word of a name is said."""

from pathlib import Path

import pytest
import soundfile

from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.heard import Heard, Outcome
from voicecount.sheet.load import load_sheet
from voicecount.sound.frame import RATE, Utterance
from voicecount.words.grammar import build_grammar

ROOT = Path(__file__).parent.parent
RECORDING = ROOT / "audio_fixtures/caesarean.flac"

pytestmark = pytest.mark.audio


@pytest.fixture(scope="module")
def recogniser() -> EmbeddedRecogniser:
    """Load the recogniser once."""
    return EmbeddedRecogniser.load()


def heard(recogniser: EmbeddedRecogniser, folder: Path, sounds: str) -> Heard:
    """Hear the demo's first call, gauze from one to ten, with an invented spelling of its name."""
    sheet = folder / "sheet.yaml"
    sheet.write_text(
        "title: A trial\nitems:\n"
        f"  - {{id: invented, group: sponges, say: [X-ray qwopt], expect: null{sounds}}}\n"
        "  - {id: clamp, group: instruments, say: [Kelly clamp], expect: null}\n",
        encoding="utf-8",
    )
    with soundfile.SoundFile(RECORDING) as file:
        sound = file.read(int(6.4 * RATE), dtype="float32")[:, 0]
    return recogniser.hear(Utterance(0, 1.1, 5.5, sound, 0.0), build_grammar(load_sheet(sheet)))


def test_a_name_is_heard_by_its_sounds(recogniser: EmbeddedRecogniser, tmp_path: Path) -> None:
    """With its pronunciation given, a name that is spelled otherwise than it is said is heard."""
    answer = heard(recogniser, tmp_path, ", sounds: {qwopt: G AO Z}")

    assert answer.outcome is Outcome.ACCEPTED
    assert answer.meaning is not None
    assert (answer.meaning.item, answer.meaning.numbers) == ("invented", tuple(range(1, 11)))


def test_without_its_sounds_it_is_not_taken(recogniser: EmbeddedRecogniser, tmp_path: Path) -> None:
    """Without it the same sound is asked for again: the spelling says something else."""
    assert heard(recogniser, tmp_path, "").outcome is not Outcome.ACCEPTED
