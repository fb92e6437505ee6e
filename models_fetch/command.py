"""The command: arguments in, a model in its place, one line on each error and exit code 2."""

import argparse
import os
import re
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from models_fetch.download import Download, Limits
from models_fetch.places import ENGLISH, ModelFile, is_model, models_folder
from models_fetch.unpack import check, place_folder, place_zip
from voicecount import cli_paths
from voicecount.errors import ModelError

ZIP_VARIABLE = "VOICECOUNT_VOSK_ZIP"
"""The environment variable that names a local zip file or folder."""

_ERROR = 2


def main(
    arguments: Sequence[str] | None = None,
    model: ModelFile = ENGLISH,
    limits: Limits | None = None,
) -> int:
    """Run the command; give its exit code."""
    options = _parser(model).parse_args(arguments)
    folder = options.to or models_folder()
    try:
        if options.list:
            _list(folder, model)
        else:
            _fetch(options, folder, model, limits)
    except ModelError as error:
        print(f"models_fetch: {error}", file=sys.stderr)
        return _ERROR
    except OSError as error:
        where = error.filename or folder
        print(f"models_fetch: {where}: {error.strerror or error}; try again", file=sys.stderr)
        return _ERROR
    except KeyboardInterrupt:
        print("models_fetch: stopped; run it again to go on", file=sys.stderr)
        return _ERROR
    return 0


def _parser(model: ModelFile) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m models_fetch",
        description=f"Brings the English Vosk model ({model.name}, {model.licence}) into the "
        "user's data folder. The embedded recogniser needs no model; this one is a second choice.",
    )
    parser.add_argument("--list", action="store_true", help="show which models are there")
    source = parser.add_mutually_exclusive_group()
    source.add_argument("--url", default=model.url, help="where to fetch it (%(default)s)")
    source.add_argument(
        "--from",
        dest="local",
        type=cli_paths.path,
        metavar="PATH",
        help=f"a zip file or folder on this computer; also by the variable {ZIP_VARIABLE}",
    )
    parser.add_argument(
        "--to", type=cli_paths.path, metavar="FOLDER", help=f"instead of {models_folder()}"
    )
    parser.add_argument(
        "--sha256",
        metavar="HEX",
        type=_digest,
        help="take a file with this SHA-256, as compared with the vendor's",
    )
    parser.add_argument("--again", action="store_true", help="also when it is there already")
    return parser


def _digest(text: str) -> str:
    if re.fullmatch(r"[0-9a-fA-F]{64}", text) is None:
        raise argparse.ArgumentTypeError("must be 64 hexadecimal digits")
    return text.lower()


def _list(folder: Path, model: ModelFile) -> None:
    found = sorted(path for path in folder.glob("*") if is_model(path)) if folder.is_dir() else []
    for path in found:
        print(f"{path.name}\t{path}")
    if model.name not in {path.name for path in found}:
        print(f"{model.name}\tnot there; python -m models_fetch brings it")


def _fetch(
    options: argparse.Namespace, folder: Path, model: ModelFile, limits: Limits | None
) -> None:
    if is_model(folder / model.name) and not options.again:
        print(f"{model.name} is there already: {folder / model.name}")
        return
    local = options.local or (
        Path(os.environ[ZIP_VARIABLE]) if os.environ.get(ZIP_VARIABLE) else None
    )
    if local is not None:
        placed = _from_local(local.expanduser(), options.sha256, folder, model)
    else:
        placed = _from_net(options.url, options.sha256, folder, model, limits)
    print(f"{model.name} is ready: {placed}")


def _from_local(local: Path, sha256: str | None, folder: Path, model: ModelFile) -> Path:
    if local.is_dir():
        print(f"{local}: a folder, so no digest can be checked", file=sys.stderr)
        return place_folder(local, model, folder)
    if not local.is_file():
        raise ModelError(f"{local}: no such file; give the model's zip file or its folder")
    check(local, _expected(model, sha256, local))
    return place_zip(local, model, folder)


def _from_net(
    url: str, sha256: str | None, folder: Path, model: ModelFile, limits: Limits | None
) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ModelError(
            f"{folder}: cannot be made ({error.strerror}); give another folder with --to"
        ) from error
    part = folder / f".{model.archive}.part"
    size = None if sha256 else model.size
    Download(url, part, size=size, progress=_Meter(), limits=limits).run()
    try:
        check(part, _expected(model, sha256, part))
    except ModelError:
        part.unlink()
        raise
    placed = place_zip(part, model, folder)
    part.unlink()
    return placed


def _expected(model: ModelFile, sha256: str | None, local: Path) -> ModelFile:
    """Give what a local file must be; a digest that the user compared also settles the size."""
    if sha256 is None:
        return model
    return replace(model, sha256=sha256, size=local.stat().st_size)


class _Meter:
    """Shows progress on standard error: in place on a terminal, else a line each tenth."""

    def __init__(self) -> None:
        self._tenth = -1

    def __call__(self, have: int, whole: int) -> None:
        tenth = have * 10 // whole
        if sys.stderr.isatty():
            end = "\n" if have == whole else ""
            shown = f"\r{have / 1e6:6.1f} of {whole / 1e6:.1f} MB"
            print(shown, end=end, file=sys.stderr, flush=True)
        elif tenth > self._tenth:
            print(f"{tenth * 10} % of {whole / 1e6:.1f} MB", file=sys.stderr, flush=True)
        self._tenth = max(tenth, self._tenth)
