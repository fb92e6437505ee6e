"""What the program remembers of the machine: its devices, whose channel is whose, its room.

One small file in the user's folder for settings. It holds nothing of any case and no sound.
"""

import json
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Self

import platformdirs
from pydantic import BaseModel, ConfigDict, Field, StrictStr, ValidationError, model_validator

from voicecount.count.roles import Role
from voicecount.errors import VoicecountError
from voicecount.keep.whole import write_whole

FILE = "settings.json"
_LARGEST = 65_536
"""Bytes; a file of settings is a hundred times smaller."""


class SettingsError(VoicecountError):
    """The remembered settings cannot be read or written."""


class Spoken(StrEnum):
    """How much of what is told on the screen is spoken, too."""

    ALL = "all"
    """Every sentence."""
    NEEDED = "needed"
    """Read-backs, questions, differences and answers; nothing that is only told in passing."""
    TONES = "tones"
    """One tone where somebody has to look at the screen."""


class Settings(BaseModel):
    """The settings of one machine; without a file, these defaults hold."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    input_device: Annotated[StrictStr, Field(min_length=1)] | None = None
    """Name of the device with the microphones; None is the system's own choice."""
    second_input_device: Annotated[StrictStr, Field(min_length=1)] | None = None
    """Name of the other person's microphone where each has one; None: there is one device."""
    output_device: Annotated[StrictStr, Field(min_length=1)] | None = None
    """Name of the device with the loudspeaker; None is the system's own choice."""
    roles: Annotated[tuple[Role, ...], Field(min_length=1, max_length=2)] | None = None
    """Whose each channel is, from the first on; None is not known yet."""
    room_tail: Annotated[float, Field(ge=0.0, le=3.0, allow_inf_nan=False)] | None = None
    """Seconds for which the room still sounds after the assistant has spoken; None is not
    measured yet."""
    room_echo: tuple[float, ...] = ()
    """How loud each microphone hears the assistant's voice, in dB of what is played; empty: not
    measured."""
    spoken: Spoken = Spoken.ALL
    voice_rate: Annotated[float, Field(ge=0.7, le=1.5, allow_inf_nan=False)] = 1.0
    """How many times as fast as its own pace the assistant speaks."""
    voice_loudness: Annotated[float, Field(ge=-20.0, le=10.0, allow_inf_nan=False)] = 0.0
    """dB by which the assistant is louder than usual; negative: softer."""

    @model_validator(mode="after")
    def _each_role_once(self) -> Self:
        if self.roles is not None and len(set(self.roles)) < len(self.roles):
            raise ValueError("one role has two channels; give each channel another one")
        return self


def settings_path() -> Path:
    """Give the file of this user on this machine, whether there is one or not."""
    return platformdirs.user_config_path("voicecount", appauthor=False) / FILE


def read_settings(path: Path | None = None) -> Settings:
    """Read the settings; the defaults where there is no file. Raises SettingsError."""
    path = path or settings_path()
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST + 1)
        return Settings.model_validate_json(data)
    except FileNotFoundError:
        return Settings()
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise SettingsError(
            f"{path}: the settings cannot be read ({why}); make the file readable, or remove it"
        ) from None
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"]) or "the whole"
        what = "damaged or cut short" if first["type"] == "json_invalid" else first["msg"]
        raise SettingsError(
            f"{path}, {place}: {what}; mend it, or remove the file and choose again"
        ) from None


def write_settings(settings: Settings, path: Path | None = None) -> Path:
    """Put the file in its place whole: written beside, synced, renamed. Raises SettingsError.

    A reader sees the old or the new settings, never a part. Returns the file.
    """
    path = path or settings_path()
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        write_whole(path, json.dumps(settings.model_dump(mode="json"), indent=2) + "\n")
    except OSError as error:
        why = error.strerror or type(error).__name__
        raise SettingsError(
            f"{path}: the settings cannot be written ({why}); free the disk or make the folder "
            "writable; they hold for this run only"
        ) from None
    return path
