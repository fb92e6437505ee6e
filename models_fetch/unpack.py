"""From a zip file or a folder to a model in its place: checked, safe, all or nothing."""

import hashlib
import shutil
import stat
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from models_fetch.places import MARKS, ModelFile, is_model
from voicecount.errors import ModelError

MOST_BYTES = 1 << 30
"""Unpacked bytes above which a zip file is refused; the small English model has about 70 MB."""

_BLOCK = 1 << 20


def check(archive: Path, model: ModelFile) -> None:
    """Compare size and SHA-256 of a zip file with what the vendor publishes."""
    size = archive.stat().st_size
    if size != model.size:
        raise ModelError(
            f"{archive}: {size} bytes, {model.size} expected: cut short or another file; bring it "
            "again"
        )
    with archive.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    if digest != model.sha256:
        raise ModelError(
            f"{archive}: its SHA-256 is {digest}, {model.sha256} expected: damaged or altered; "
            "bring it again, or give --sha256 once you have compared it with the vendor's"
        )


def place_zip(archive: Path, model: ModelFile, folder: Path) -> Path:
    """Unpack a checked zip file into ``folder``; give the model's folder."""
    with _workshop(folder) as work:
        try:
            with zipfile.ZipFile(archive) as packed:
                members = packed.infolist()
                _refuse_unsafe(archive, members)
                packed.extractall(work, members)
        except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError) as error:
            raise ModelError(f"{archive}: no zip file that can be unpacked ({error})") from error
        return _put(_model_in(work, archive), folder / model.name)


def place_folder(source: Path, model: ModelFile, folder: Path) -> Path:
    """Copy a model's folder, or the folder that holds it, into ``folder``."""
    found = _model_in(source, source)
    if found.resolve() == (folder / model.name).resolve():
        return found
    with _workshop(folder) as work:
        shutil.copytree(found, work / "copy")
        return _put(work / "copy", folder / model.name)


def _refuse_unsafe(archive: Path, members: list[zipfile.ZipInfo]) -> None:
    """Refuse members that would lie outside of the folder, links, and zip bombs."""
    for member in members:
        parts = PurePosixPath(member.filename.replace("\\", "/")).parts
        outside = ".." in parts or (parts and (parts[0] == "/" or ":" in parts[0]))
        if outside or stat.S_ISLNK(member.external_attr >> 16):
            raise ModelError(
                f"{archive}: holds {member.filename!r}, which could write outside of its folder; "
                "do not use this file"
            )
    if sum(member.file_size for member in members) > MOST_BYTES:
        raise ModelError(
            f"{archive}: unpacks to more than {MOST_BYTES} bytes; do not use this file"
        )


def _model_in(folder: Path, named: Path) -> Path:
    """Find the model in a folder, or one folder further down."""
    for place in (folder, *sorted(path for path in folder.iterdir() if path.is_dir())):
        if is_model(place):
            return place
    raise ModelError(f"{named}: holds no model ({' and '.join(MARKS)} are missing)")


@contextmanager
def _workshop(folder: Path) -> Iterator[Path]:
    """Give a folder beside the final place, so that the last step is one rename."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=".unpack-", dir=folder))
    except OSError as error:
        raise ModelError(
            f"{folder}: cannot be written ({error.strerror}); give another folder with --to"
        ) from error
    try:
        yield work
    except OSError as error:
        raise ModelError(
            f"{folder}: the model could not be written ({error.strerror or error}); make room or "
            "give another folder with --to"
        ) from error
    finally:
        shutil.rmtree(work, ignore_errors=True)


def _put(ready: Path, target: Path) -> Path:
    """Rename a whole model to its place; one that was there goes only then."""
    if target.exists():
        target.rename(ready.parent / ".before")
    ready.rename(target)
    return target
