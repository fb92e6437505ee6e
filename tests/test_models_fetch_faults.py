"""Fetching a model when more goes wrong: a refused range, a changed file, a full disk, a kill."""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from test_models_fetch import (  # noqa: F401 - the fixtures are used by their names
    CONTENT,
    GOOD,
    MODEL,
    NAME,
    Script,
    fetch,
    folder,
    left_over,
    script,
    url,
)

PART = f".{NAME}.zip.part"
FETCHING = """
import sys
from models_fetch.command import main
from models_fetch.places import ModelFile

name, size, digest, url, folder = sys.argv[1:]
sys.exit(main(["--url", url, "--to", folder], model=ModelFile(name, url, int(size), digest, "-")))
"""


def arrived(folder: Path) -> bool:  # noqa: F811
    return (folder / NAME / "am" / "final.mdl").read_bytes() == CONTENT


def test_a_server_that_refuses_the_range_is_asked_for_the_whole(
    url: str,  # noqa: F811
    script: Script,  # noqa: F811
    folder: Path,  # noqa: F811
) -> None:
    """At an answer 416 the part that is there is dropped, and the file comes afresh."""
    script.plan = ["cut", "416"]

    assert fetch(url, folder) == 0
    assert arrived(folder)
    assert script.ranges == [None, f"bytes={len(GOOD) // 2}-", None]


def test_a_file_that_changed_between_two_attempts_is_never_unpacked(
    url: str,  # noqa: F811
    script: Script,  # noqa: F811
    folder: Path,  # noqa: F811
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Half of one file and half of another fit no digest; the next run has a clean start."""
    script.plan = ["cut", "404"]
    assert fetch(url, folder) == 2
    script.content = bytes(byte ^ 1 for byte in GOOD)
    assert fetch(url, folder) == 2
    assert "SHA-256" in capsys.readouterr().err
    assert left_over(folder) == set()
    script.content = GOOD

    assert fetch(url, folder) == 0
    assert arrived(folder)


def test_a_server_may_send_on_to_another_host(
    url: str,  # noqa: F811
    script: Script,  # noqa: F811
    folder: Path,  # noqa: F811
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It is followed, since the digest tells whether the right file came from there."""
    monkeypatch.setenv("no_proxy", "127.0.0.1,localhost")
    script.plan = [f"redirect {url.replace('127.0.0.1', 'localhost')}"]

    assert fetch(url, folder) == 0
    assert arrived(folder)
    assert len(script.ranges) == 2


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="optional: Linux has a full disk")
def test_a_disk_that_is_full_while_it_downloads_is_one_line(
    url: str,  # noqa: F811
    folder: Path,  # noqa: F811
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The first byte that finds no room ends the command with what to do; no model is there."""
    folder.mkdir(parents=True)
    (folder / PART).symlink_to("/dev/full")

    assert fetch(url, folder) == 2
    (line,) = [one for one in capsys.readouterr().err.splitlines() if "models_fetch:" in one]
    assert "space" in line.lower()
    assert not (folder / NAME).exists()


@pytest.mark.skipif(sys.platform == "win32", reason="optional: no SIGKILL on Windows")
def test_a_kill_while_it_downloads_loses_only_what_had_not_come(
    url: str,  # noqa: F811
    script: Script,  # noqa: F811
    folder: Path,  # noqa: F811
) -> None:
    """The next run asks for the rest only, and the model is whole."""
    script.plan = ["stall"]
    given = [NAME, str(MODEL.size), MODEL.sha256, url, str(folder)]
    environment = {**os.environ, "no_proxy": "127.0.0.1"}
    with subprocess.Popen([sys.executable, "-c", FETCHING, *given], env=environment) as process:
        until = time.monotonic() + 30
        while time.monotonic() < until and not (
            (folder / PART).exists() and (folder / PART).stat().st_size > 0
        ):
            time.sleep(0.02)
        process.kill()
    kept = (folder / PART).stat().st_size
    script.over.set()

    assert 0 < kept <= len(GOOD) // 2
    assert fetch(url, folder) == 0
    assert arrived(folder)
    assert script.ranges == [None, f"bytes={kept}-"]
