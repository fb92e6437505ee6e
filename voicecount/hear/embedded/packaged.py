"""Weights that come inside packages: where they lie, and whether they are the measured ones."""

import hashlib
from importlib.util import find_spec
from pathlib import Path

from voicecount.errors import ModelError


def package_folder(module: str, what: str, requirement: str) -> Path:
    """Find the folder of an installed package. Raises ModelError.

    ``what`` it is for and the ``requirement`` to install are told where it is missing.
    """
    spec = find_spec(module)
    if spec is None or spec.origin is None:
        package = requirement.partition("==")[0]
        raise ModelError(
            f"{what}: the package {package} is not installed; run 'pip install {requirement}'"
        )
    return Path(spec.origin).parent


def has_digest(path: Path, digest: str) -> bool:
    """Tell whether a file has this SHA-256; it is never held whole. Raises OSError."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest() == digest
