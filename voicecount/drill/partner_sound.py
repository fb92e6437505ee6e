"""The partner's sound beside a drill: one WAV for each cue, and the words that each one says.

NAME.yaml, NAME.partner/ ─▶ cues.json, lap_sponge.read_back.wav, …
"""

import json
from collections.abc import Callable, Mapping
from pathlib import Path

from voicecount.drill.load import Loaded
from voicecount.drill.model import Drill
from voicecount.drill.steps import cues, steps
from voicecount.sheet.model import Sheet
from voicecount.speak.player import FileSpeaker
from voicecount.speak.port import Clip, Voice

ENDING = ".partner"
WORDS = "cues.json"
SCENE = "scene"
"""What is told before the drill begins."""


def partner_folder(drill: Path) -> Path:
    """Give the folder of a drill's partner."""
    return drill.with_name(f"{drill.stem}{ENDING}")


def partner_words(drill: Drill, sheet: Sheet) -> dict[str, str]:
    """Give everything that the partner says, by cue id; first the scene."""
    return {SCENE: drill.about} | {cue.id: cue.words for cue in cues(steps(drill, sheet))}


def speak_all(
    words: Mapping[str, str], voice: Voice, tell: Callable[[str, int, int], None]
) -> dict[str, Clip]:
    """Make every clip. Raises VoiceError. ``tell`` gets the id, how many are made, of how many."""
    clips: dict[str, Clip] = {}
    for cue, text in words.items():
        tell(cue, len(clips), len(words))
        clips[cue] = voice.speak(text)
    return clips


def write_sounds(
    folder: Path, words: Mapping[str, str], clips: Mapping[str, Clip], voice: str
) -> None:
    """Write the clips into a new folder. Raises FileExistsError, OSError, VoiceError."""
    folder.mkdir()
    for cue, clip in clips.items():
        with FileSpeaker(folder / f"{cue}.wav") as speaker:
            speaker.play(clip)
    told = {
        cue: {"words": words[cue], "seconds": round(clip.seconds, 3)} for cue, clip in clips.items()
    }
    text = json.dumps({"voice": voice, "cues": told}, indent=2, ensure_ascii=False)
    (folder / WORDS).write_text(text + "\n", encoding="utf-8")


def partner_sounds(loaded: Loaded) -> dict[str, Path]:
    """Give the sound of each cue that is there and still says the drill's words; else none."""
    folder = partner_folder(loaded.path)
    try:
        told = json.loads((folder / WORDS).read_text(encoding="utf-8"))["cues"]
        said = {cue: entry["words"] for cue, entry in told.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}
    paths = {
        cue: folder / f"{cue}.wav"
        for cue, text in partner_words(loaded.drill, loaded.sheet).items()
        if said.get(cue) == text
    }
    return {cue: path for cue, path in paths.items() if path.is_file()}
