"""Which models there are, and where they lie on this computer."""

from dataclasses import dataclass
from pathlib import Path

import platformdirs

MARKS = ("am/final.mdl", "conf/mfcc.conf")
"""Files that every model holds."""


@dataclass(frozen=True)
class ModelFile:
    """A model as its vendor publishes it: one zip file that holds one folder of its name."""

    name: str
    url: str
    size: int
    """Bytes of the zip file."""
    sha256: str
    licence: str

    @property
    def archive(self) -> str:
        """The zip file's name."""
        return f"{self.name}.zip"


ENGLISH = ModelFile(
    name="vosk-model-small-en-us-0.15",
    url="https://alphacephei.com/vosk/models/vosk-model-small-en-us-0.15.zip",
    size=41_205_931,
    sha256="30f26242c4eb449f948e42cb302dd7a686cb29a3423a8367f99ff41780942498",
    licence="Apache-2.0",
)
"""The small English model. Size and digest are from memory: check on the first real download."""


def models_folder() -> Path:
    """Give the folder of models in the user's data folder; it need not exist."""
    return platformdirs.user_data_path("voicecount", appauthor=False) / "models"


def is_model(folder: Path) -> bool:
    """Say whether a folder holds a model."""
    return all((folder / mark).is_file() for mark in MARKS)
