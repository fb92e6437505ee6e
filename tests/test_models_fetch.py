"""Fetching a model: a server of our own that serves, stalls, cuts off, lies, and sends on.

The vendor's server is never asked; the model is a small zip file made here.
"""

import hashlib
import io
import re
import subprocess
import sys
import threading
import urllib.request
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from http.client import HTTPMessage
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from models_fetch.command import ZIP_VARIABLE, main
from models_fetch.download import Download, Limits, _NoDowngrade
from models_fetch.places import ENGLISH, ModelFile, is_model, models_folder
from models_fetch.unpack import check, place_folder, place_zip
from voicecount.errors import ModelError

NAME = "tiny-model"
CONTENT = bytes(range(256)) * 400
"""About 100 kB that zip would make small; it is stored as it is."""

QUICK = Limits(stall=0.3, window=60.0, slowest=1, tries=3, pause=0.0)


def zipped(members: dict[str, bytes]) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        for name, content in members.items():
            archive.writestr(zipfile.ZipInfo(name), content)
    return file.getvalue()


GOOD = zipped({f"{NAME}/am/final.mdl": CONTENT, f"{NAME}/conf/mfcc.conf": b"--sample-frequency\n"})
MODEL = ModelFile(NAME, "http://127.0.0.1:1/none", len(GOOD), hashlib.sha256(GOOD).hexdigest(), "-")


@dataclass
class Script:
    """What the server does; the plan's first word is for the first request, and so on."""

    content: bytes = GOOD
    plan: list[str] = field(default_factory=list)
    ranges: list[str | None] = field(default_factory=list)
    over: threading.Event = field(default_factory=threading.Event)


class Handler(BaseHTTPRequestHandler):
    script: Script

    def do_GET(self) -> None:
        script = self.script
        wanted = self.headers.get("Range")
        script.ranges.append(wanted)
        step = script.plan.pop(0) if script.plan else "serve"
        if step == "redirect":
            self._head(302, {"Location": "/elsewhere"})
        elif step.startswith("redirect http"):
            self._head(302, {"Location": step.partition(" ")[2]})
        elif step == "redirect to a file":
            self._head(302, {"Location": "file:///etc/passwd"})
        elif step.isdigit():
            self._head(int(step), {"Content-Length": "0"})
        elif step == "silent":
            script.over.wait(20)
        elif step == "page":
            page = b"<html>please log in</html>"
            self._head(200, {"Content-Length": str(len(page)), "Content-Type": "text/html"})
            self.wfile.write(page)
        else:
            self._serve(step, wanted)

    def _serve(self, step: str, wanted: str | None) -> None:
        content = self.script.content
        start = 0
        if wanted is not None and step != "no ranges":
            start = int(wanted.removeprefix("bytes=").removesuffix("-"))
            if start >= len(content):
                self._head(416, {"Content-Length": "0"})
                return
        first = 0 if step == "wrong range" else start
        headers = {"Content-Length": str(len(content) - first)}
        if step == "no length":
            headers = {}
        if start:
            headers["Content-Range"] = f"bytes {first}-{len(content) - 1}/{len(content)}"
        self._head(206 if start else 200, headers)
        body = content[first:]
        if step in {"cut", "stall"}:
            body = body[: len(body) // 2]
        self.wfile.write(body)
        self.wfile.flush()
        if step == "stall":
            self.script.over.wait(20)

    def _head(self, status: int, headers: dict[str, str]) -> None:
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def script() -> Script:
    return Script()


@pytest.fixture
def url(script: Script, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    monkeypatch.setenv("no_proxy", "127.0.0.1")
    handler = type("Scripted", (Handler,), {"script": script})
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/{NAME}.zip"
    script.over.set()
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "models"


def fetch(url: str, folder: Path, *more: str) -> int:
    return main(["--url", url, "--to", str(folder), *more], model=MODEL, limits=QUICK)


def left_over(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()} if folder.is_dir() else set()


@pytest.mark.parametrize(
    ("plan", "requests"),
    [
        pytest.param([], 1, id="all at once"),
        pytest.param(["no length"], 1, id="no length given"),
        pytest.param(["redirect"], 2, id="sent on"),
        pytest.param(["cut", "cut", "cut", "cut", "cut"], 6, id="cut off five times"),
        pytest.param(["stall", "serve"], 2, id="stalled once"),
        pytest.param(["silent", "serve"], 2, id="no answer once"),
        pytest.param(["503", "serve"], 2, id="busy once"),
        pytest.param(["cut", "no ranges"], 2, id="ranges are not known"),
        pytest.param(["cut", "wrong range"], 3, id="another range"),
    ],
)
def test_a_model_arrives_whole_whatever_the_line_does(
    url: str, script: Script, folder: Path, plan: list[str], requests: int
) -> None:
    """The model is in its place, byte by byte, and nothing else is left there."""
    script.plan = plan

    code = fetch(url, folder)

    assert code == 0
    assert (folder / NAME / "am" / "final.mdl").read_bytes() == CONTENT
    assert left_over(folder) == {NAME}
    assert len(script.ranges) == requests


def test_what_came_is_not_fetched_again(url: str, script: Script, folder: Path) -> None:
    """After a cut the next request asks for the rest only, also in another run."""
    script.plan = ["cut", "404"]
    assert fetch(url, folder) == 2
    kept = (folder / f".{NAME}.zip.part").stat().st_size

    assert fetch(url, folder) == 0
    assert kept == len(GOOD) // 2
    assert script.ranges == [None, f"bytes={kept}-", f"bytes={kept}-"]


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        (["404"], "answers 404"),
        (["page"], "26 bytes are offered"),
        (["redirect to a file"], "not allowed"),
        (["503"] * 3, "answers 503"),
        (["silent"] * 3, "does not answer|nothing came"),
        (["stall", "silent", "silent"], "bytes are kept"),
    ],
)
def test_a_server_that_cannot_help_is_one_line_and_code_2(
    url: str,
    script: Script,
    folder: Path,
    capsys: pytest.CaptureFixture[str],
    plan: list[str],
    words: str,
) -> None:
    """The message names the address and what to do; no model is there."""
    script.plan = plan

    code = fetch(url, folder)

    errors = [line for line in capsys.readouterr().err.splitlines() if "models_fetch:" in line]
    assert code == 2
    assert len(errors) == 1
    assert url in errors[0]
    assert re.search(words, errors[0])
    assert "--" in errors[0]
    assert not (folder / NAME).exists()


def test_no_network_is_one_line_and_code_2(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing listens at the address: the message says so and names the other way."""
    monkeypatch.setenv("no_proxy", "127.0.0.1")

    code = fetch("http://127.0.0.1:1/model.zip", folder)

    [line] = capsys.readouterr().err.splitlines()
    assert code == 2
    assert "cannot be reached" in line
    assert "--from" in line


def test_an_encrypted_address_is_never_left_for_a_plain_one() -> None:
    """A server that sends on from https to http is refused; the other way is followed."""
    handler = _NoDowngrade()
    headers = HTTPMessage()
    safe = urllib.request.Request("https://a.example/model.zip")
    plain = urllib.request.Request("http://a.example/model.zip")

    with pytest.raises(ModelError, match="not safe"):
        handler.redirect_request(safe, io.BytesIO(), 302, "", headers, "http://a.example/m")
    followed = handler.redirect_request(
        plain, io.BytesIO(), 302, "", headers, "https://a.example/m"
    )
    assert followed is not None


def test_a_server_that_trickles_is_given_up(url: str, script: Script, tmp_path: Path) -> None:
    """Bytes that come too slowly count as no bytes; the clock is the test's own."""
    script.content = GOOD
    now = iter(range(0, 10_000, 100))
    fetching = Download(
        url,
        tmp_path / "part",
        size=len(GOOD),
        progress=lambda *_: None,
        limits=replace(QUICK, slowest=10**9, tries=1),
        clock=lambda: float(next(now)),
    )

    with pytest.raises(ModelError, match=r"only .* bytes in 60 s"):
        fetching.run()


@pytest.mark.parametrize("where", [0, len(GOOD) // 2, len(GOOD) - 1])
def test_wrong_bytes_are_never_unpacked(
    url: str, script: Script, folder: Path, capsys: pytest.CaptureFixture[str], where: int
) -> None:
    """One changed byte anywhere is noticed; the bad file is thrown away."""
    changed = bytearray(GOOD)
    changed[where] ^= 1
    script.content = bytes(changed)

    assert fetch(url, folder) == 2
    assert "SHA-256" in capsys.readouterr().err
    assert left_over(folder) == set()


def test_a_digest_that_the_user_compared_is_taken(url: str, script: Script, folder: Path) -> None:
    """A newer file of the vendor can be taken by its own digest, and only by that one."""
    newer = zipped({f"{NAME}/am/final.mdl": b"newer", f"{NAME}/conf/mfcc.conf": b""})
    script.content = newer

    assert fetch(url, folder) == 2
    assert fetch(url, folder, "--sha256", "0" * 64) == 2
    assert fetch(url, folder, "--sha256", hashlib.sha256(newer).hexdigest().upper()) == 0
    assert (folder / NAME / "am" / "final.mdl").read_bytes() == b"newer"


def test_a_model_that_is_there_is_left_alone(url: str, script: Script, folder: Path) -> None:
    """No request is made, unless asked for; then the old one is replaced as a whole."""
    assert fetch(url, folder) == 0
    (folder / NAME / "mine").write_text("x")

    assert fetch(url, folder) == 0
    assert len(script.ranges) == 1
    assert fetch(url, folder, "--again") == 0
    assert len(script.ranges) == 2
    assert not (folder / NAME / "mine").exists()
    assert left_over(folder) == {NAME}


def local(source: Path, folder: Path) -> int:
    return main(["--from", str(source), "--to", str(folder)], model=MODEL)


def test_a_local_zip_file_or_folder_does_as_well(
    tmp_path: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By argument or by environment, without any network; a folder may hold the model's folder."""
    archive = tmp_path / "copy.zip"
    archive.write_bytes(GOOD)
    assert local(archive, folder) == 0
    assert is_model(folder / NAME)

    assert local(folder, tmp_path / "second") == 0
    assert local(folder / NAME, tmp_path / "third") == 0
    monkeypatch.setenv(ZIP_VARIABLE, str(archive))
    assert main(["--to", str(tmp_path / "fourth")], model=MODEL) == 0
    assert all(is_model(tmp_path / place / NAME) for place in ("second", "third", "fourth"))


def test_placing_a_model_on_itself_keeps_it(tmp_path: Path) -> None:
    """The folder given is the place itself: nothing is moved or lost."""
    (tmp_path / "copy.zip").write_bytes(GOOD)
    placed = place_zip(tmp_path / "copy.zip", MODEL, tmp_path)

    assert place_folder(placed, MODEL, tmp_path) == placed
    assert is_model(placed)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda _: None, "no such file"),
        (lambda path: path.write_bytes(GOOD[:-10]), "cut short or another file"),
        (lambda path: path.write_bytes(b"x" * len(GOOD)), "damaged or altered"),
        (lambda path: path.mkdir(), "holds no model"),
    ],
)
def test_a_local_source_that_is_no_model_is_refused(
    tmp_path: Path,
    folder: Path,
    capsys: pytest.CaptureFixture[str],
    make: object,
    words: str,
) -> None:
    """One line, code 2, nothing placed."""
    make(tmp_path / "source")  # type: ignore[operator]

    assert local(tmp_path / "source", folder) == 2
    assert words in capsys.readouterr().err
    assert not (folder / NAME).exists()


def link() -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        info = zipfile.ZipInfo(f"{NAME}/am")
        info.external_attr = 0o120777 << 16
        archive.writestr(info, "/etc")
    return file.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(zipped({"../evil": b"x"}), id="parent"),
        pytest.param(zipped({f"{NAME}/../../evil": b"x"}), id="parent further down"),
        pytest.param(zipped({"/tmp/evil": b"x"}), id="absolute"),  # noqa: S108
        pytest.param(zipped({"C:/evil": b"x"}), id="drive"),
        pytest.param(zipped({"a/..\\..\\evil": b"x"}), id="backslash"),
        pytest.param(link(), id="link"),
        pytest.param(b"PK\x03\x04 no zip", id="no zip"),
        pytest.param(zipped({f"{NAME}/readme": b"x"}), id="no model"),
    ],
)
def test_a_zip_file_that_is_not_safe_writes_nothing(tmp_path: Path, content: bytes) -> None:
    """Paths out of the folder, links and broken files are refused before anything is placed."""
    (tmp_path / "bad.zip").write_bytes(content)
    folder = tmp_path / "deep" / "models"

    with pytest.raises(ModelError):
        place_zip(tmp_path / "bad.zip", MODEL, folder)

    assert left_over(folder) == set()
    assert {path.name for path in tmp_path.rglob("*")} == {"bad.zip", "deep", "models"}


def test_a_zip_bomb_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What would unpack to more than the limit is not unpacked."""
    monkeypatch.setattr("models_fetch.unpack.MOST_BYTES", 1_000)
    (tmp_path / "good.zip").write_bytes(GOOD)

    with pytest.raises(ModelError, match="unpacks to more"):
        place_zip(tmp_path / "good.zip", MODEL, tmp_path / "models")


def test_a_full_disk_leaves_the_old_model(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When unpacking fails in the middle, what was there is still there and nothing else."""
    (tmp_path / "good.zip").write_bytes(GOOD)
    placed = place_zip(tmp_path / "good.zip", MODEL, tmp_path / "models")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(zipfile.ZipFile, "extractall", full)
    with pytest.raises(ModelError, match="No space left"):
        place_zip(tmp_path / "good.zip", MODEL, tmp_path / "models")

    assert is_model(placed)
    assert left_over(tmp_path / "models") == {NAME}


def test_a_place_that_cannot_be_written_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file stands where the folder should be: said with the way out."""
    (tmp_path / "good.zip").write_bytes(GOOD)
    (tmp_path / "models").write_text("a file")

    assert local(tmp_path / "good.zip", tmp_path / "models") == 2
    assert fetch("http://127.0.0.1:1/a.zip", tmp_path / "models") == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 2
    assert all("--to" in line for line in lines)


@pytest.mark.parametrize(
    ("error", "words"),
    [(KeyboardInterrupt(), "stopped"), (OSError(28, "No space left on device"), "No space left")],
)
def test_whatever_ends_the_command_is_one_line(
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    error: BaseException,
    words: str,
) -> None:
    """A full disk and the interrupt key leave no traceback."""

    def ends(_: Download) -> None:
        raise error

    monkeypatch.setattr(Download, "run", ends)

    assert fetch("http://127.0.0.1:1/a.zip", folder) == 2
    [line] = capsys.readouterr().err.splitlines()
    assert words in line


def test_progress_is_shown_in_place_on_a_terminal(
    url: str,
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """One line that is written over, and ended at the end; elsewhere a line each tenth."""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    assert fetch(url, folder) == 0
    shown = capsys.readouterr().err

    assert shown.endswith("0.1 of 0.1 MB\n")
    assert shown.count("\n") == 1
    monkeypatch.setattr(sys.stderr, "isatty", lambda: False, raising=False)
    assert fetch(url, folder, "--again") == 0
    assert capsys.readouterr().err.splitlines()[-1] == "100 % of 0.1 MB"


def test_the_list_shows_what_is_there(
    tmp_path: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each model with its place; the English one also when it is missing."""
    (tmp_path / "good.zip").write_bytes(GOOD)
    place_zip(tmp_path / "good.zip", MODEL, folder)

    assert main(["--list", "--to", str(folder)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].split("\t") == [NAME, str(folder / NAME)]
    assert lines[1].startswith(f"{ENGLISH.name}\tnot there")


@pytest.mark.parametrize("wrong", [["--sha256", "abc"], ["--url", "x", "--from", "y"], ["--no"]])
def test_wrong_arguments_have_code_2(wrong: list[str]) -> None:
    """As for every command."""
    with pytest.raises(SystemExit) as caught:
        main(wrong, model=MODEL)

    assert caught.value.code == 2


def test_an_address_of_another_kind_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only web addresses: files are for --from."""
    assert fetch("file:///etc/passwd", tmp_path) == 2
    assert "no web address" in capsys.readouterr().err


def test_the_english_model_is_described_in_full() -> None:
    """Size and digest have the form of the real ones (values from memory, see places.py)."""
    assert ENGLISH.url.endswith(ENGLISH.archive)
    assert re.fullmatch("[0-9a-f]{64}", ENGLISH.sha256)
    assert models_folder().name == "models"
    assert "voicecount" in str(models_folder())


def test_check_accepts_the_right_file(tmp_path: Path) -> None:
    """The digest of the reference program's library, hashlib, is the one compared."""
    (tmp_path / "good.zip").write_bytes(GOOD)
    check(tmp_path / "good.zip", MODEL)

    with pytest.raises(ModelError, match="SHA-256"):
        check(tmp_path / "good.zip", replace(MODEL, sha256="0" * 64))


def test_the_command_runs_as_a_module(tmp_path: Path) -> None:
    """``python -m models_fetch --list`` works without a network."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "models_fetch", "--list", "--to", str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[1],
    )

    assert ENGLISH.name in done.stdout
    assert done.stderr == ""
