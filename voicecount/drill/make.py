"""A new drill on disk: its file, a copy of its sheet, the partner's sound. Overwrites nothing."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from voicecount.drill.drill_file import DrillError
from voicecount.drill.drill_text import drill_text
from voicecount.drill.load import SHEET_ENDING, Loaded, load_drill
from voicecount.drill.model import Drill, Task
from voicecount.drill.partner_sound import partner_folder, partner_words, speak_all, write_sounds
from voicecount.drill.propose import propose
from voicecount.sheet.load import load_sheet
from voicecount.sheet.policy_file import POLICY_FILE
from voicecount.speak.port import Voice

_SILENT: Callable[[str, int, int], None] = lambda *_: None  # noqa: E731 - one line says it all


@dataclass(frozen=True)
class _Copy:
    """A file that goes beside the drill as it is."""

    source: Path
    target: Path

    @property
    def needed(self) -> bool:
        """Whether it is not there yet. Raises DrillError where another file has its name."""
        if not self.target.exists():
            return True
        if self.target.read_bytes() != self.source.read_bytes():
            raise DrillError(
                f"{self.target}: another {self.target.name} is there and is never overwritten;"
                " use another folder"
            )
        return False


def new_drill(
    sheet_path: Path,
    folder: Path,
    *,
    seed: int,
    voice: Voice | None,
    task: Task = Task.FIRST_COUNT,
    tell: Callable[[str, int, int], None] = _SILENT,
) -> Path:
    """Propose a drill from a sheet and write it into a folder, with the sheet and all sounds.

    Raises SheetError, DrillError where something is in the way, VoiceError. The drill's own file
    is written last: where it is, all is there.
    """
    sheet = load_sheet(sheet_path)
    stem = sheet_path.name.removesuffix(SHEET_ENDING).removesuffix(".yaml")
    path = folder / f"{stem}_{task.value}_{seed}.yaml"
    copies = [_Copy(sheet_path, folder / f"{stem}{SHEET_ENDING}")]
    if sheet_path.with_name(POLICY_FILE).is_file():
        copies.append(_Copy(sheet_path.with_name(POLICY_FILE), folder / POLICY_FILE))
    drill = propose(sheet, copies[0].target.name, task=task, seed=seed)
    try:
        for target in (path, partner_folder(path)):
            if target.exists():
                raise DrillError(
                    f"{target}: is there already and is never overwritten; use another seed, or"
                    " another folder"
                )
        needed = [copy for copy in copies if copy.needed]
        words = partner_words(drill, sheet)
        clips = {} if voice is None else speak_all(words, voice, tell)
        folder.mkdir(parents=True, exist_ok=True)
        for copy in needed:
            _write(copy.target, copy.source.read_bytes())
        if voice is not None:
            write_sounds(partner_folder(path), words, clips, voice.name)
        _write(path, drill_text(drill, _head(sheet_path, seed)).encode())
    except OSError as error:
        why = error.strerror or type(error).__name__
        where = error.filename or folder
        raise DrillError(f"{where}: cannot be written ({why}); use another folder") from error
    return _checked(path, drill).path


def _checked(path: Path, drill: Drill) -> Loaded:
    """Read the drill back from its file: it has to be the one that was proposed."""
    loaded = load_drill(path)
    if loaded.drill != drill:
        raise DrillError(f"{path}: was not written whole; remove it and make it again")
    return loaded


def _write(path: Path, content: bytes) -> None:
    with path.open("xb") as file:
        file.write(content)


def _head(sheet_path: Path, seed: int) -> str:
    return (
        f"Proposed from {sheet_path.name} with the seed {seed} by voicecount drill new. Change what"
        " you like: docs/drills.md tells every field."
    )
