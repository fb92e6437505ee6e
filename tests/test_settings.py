"""Remembered settings: whole or not at all, and a damaged file is one line that says what to do."""

import errno
import json
import os
import stat
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from voicecount.count.roles import Role
from voicecount.errors import VoicecountError
from voicecount.keep import settings as module
from voicecount.keep.settings import (
    Settings,
    SettingsError,
    Spoken,
    read_settings,
    settings_path,
    write_settings,
)

SOME = Settings(
    input_device="Two Lapels: USB Audio (hw:1,0)",
    output_device="Lautsprecher Küche",
    roles=(Role.CIRCULATOR, Role.SCRUB),
    room_tail=0.45,
    spoken=Spoken.NEEDED,
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "config" / "settings.json"


def refused(path: Path) -> str:
    """Read a file that must be refused in one line; that line."""
    with pytest.raises(SettingsError) as caught:
        read_settings(path)
    line = str(caught.value)
    assert "\n" not in line
    assert line.startswith(str(path))
    assert "remove" in line
    return line


def test_without_a_file_the_defaults_hold(path: Path) -> None:
    """Nothing is remembered at first, and looking makes no file."""
    assert read_settings(path) == Settings()
    assert not path.parent.exists()


def test_what_is_written_is_read_back(path: Path) -> None:
    """Every setting comes back, from a file in a folder that was made for it."""
    assert write_settings(SOME, path) == path
    assert read_settings(path) == SOME


@settings(max_examples=60, deadline=None)
@given(
    st.builds(
        Settings,
        input_device=st.none() | st.text(st.characters(codec="utf-8"), min_size=1),
        output_device=st.none() | st.text(st.characters(codec="utf-8"), min_size=1),
        roles=st.sampled_from([None, (Role.SCRUB,), (Role.SCRUB, Role.CIRCULATOR)]),
        room_tail=st.none() | st.floats(0, 3),
        spoken=st.sampled_from(Spoken),
    )
)
def test_any_name_of_a_device_comes_back(
    tmp_path_factory: pytest.TempPathFactory, some: Settings
) -> None:
    """Whatever a system calls its devices survives the file."""
    path = tmp_path_factory.mktemp("any") / "settings.json"
    write_settings(some, path)

    assert read_settings(path) == some


def test_the_file_is_the_users_own_and_small(path: Path) -> None:
    """Only the owner can read it; it is plain JSON with one key for each setting."""
    write_settings(SOME, path)
    held = json.loads(path.read_text(encoding="utf-8"))

    assert set(held) == set(Settings.model_fields)
    assert held["roles"] == ["circulator", "scrub"]
    assert path.stat().st_size < 1000
    if sys.platform != "win32":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_it_lies_in_the_users_folder_for_settings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without a path the file is the one in the user's own folder."""
    monkeypatch.setattr(module.platformdirs, "user_config_path", lambda *_, **__: tmp_path / "c")
    write_settings(SOME)

    assert settings_path() == tmp_path / "c" / "settings.json"
    assert read_settings() == SOME


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "damaged or cut short"),
        (b'{"roles": ["scr', "damaged or cut short"),
        (b"\xff\xfe\x00", "damaged or cut short"),
        (b"[" * 5000, "damaged or cut short"),
        (b"[]", "the whole"),
        (b'{"rolls": ["scrub"]}', "rolls"),
        (b'{"roles": ["surgeon"]}', "roles.0"),
        (b'{"roles": ["scrub", "scrub"]}', "one role has two channels"),
        (b'{"roles": []}', "roles"),
        (b'{"input_device": 3}', "input_device"),
        (b'{"input_device": ""}', "input_device"),
        (b'{"room_tail": -1}', "room_tail"),
        (b'{"room_tail": NaN}', "room_tail"),
        (b'{"spoken": "loudly"}', "spoken"),
    ],
)
def test_a_damaged_file_is_one_line(path: Path, content: bytes, told: str) -> None:
    """Whatever stands in the file, the line names the file, the place and the way out."""
    path.parent.mkdir()
    path.write_bytes(content)

    assert told in refused(path)


def test_a_file_that_was_cut_short_anywhere_is_refused(path: Path) -> None:
    """No prefix of the file passes for settings."""
    whole = write_settings(SOME, path).read_bytes().rstrip()
    for length in range(len(whole)):
        path.write_bytes(whole[:length])
        refused(path)


def test_a_folder_in_its_place_is_one_line(path: Path) -> None:
    """What cannot be read is told like everything else."""
    path.mkdir(parents=True)

    assert "cannot be read" in refused(path)


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_failed_write_leaves_the_old_settings(
    path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    """When the disk fails, the old file stays whole, nothing is left beside it, and one line says
    so."""
    write_settings(SOME, path)

    def fail(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patched:
        patched.setattr(*((os, "fsync") if call == "fsync" else (Path, "replace")), fail)
        with pytest.raises(SettingsError, match="cannot be written") as caught:
            write_settings(Settings(), path)

    assert "\n" not in str(caught.value)
    assert read_settings(path) == SOME
    assert os.listdir(path.parent) == [path.name]  # noqa: PTH208 - names are all that is asked


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path: Path) -> None:
    """A file where the folder should be is told."""
    (tmp_path / "config").write_text("")
    with pytest.raises(SettingsError, match="cannot be written"):
        write_settings(SOME, tmp_path / "config" / "settings.json")


def test_it_is_an_error_for_people() -> None:
    """The command line shows it as one line with exit code 2."""
    assert issubclass(SettingsError, VoicecountError)


def test_settings_cannot_be_changed_in_place() -> None:
    """A change makes new settings."""
    with pytest.raises(ValidationError, match="frozen"):
        SOME.room_tail = 1.0
