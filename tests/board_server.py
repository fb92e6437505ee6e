"""A board's server in a process of its own, and raw sockets to it."""

import os
import re
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class Server:
    """``voicecount board`` on a port that is free."""

    def __init__(self, journal: Path, *more: str, env: dict[str, str] | None = None) -> None:
        command = [sys.executable, "-m", "voicecount", "board", str(journal), "--port", "0", *more]
        self.process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, **(env or {})},
        )
        self.told: list[str] = []
        self._ready = threading.Event()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        assert self._ready.wait(30), "it tells its address"
        found = re.search(r"http://(\S+):(\d+)(\S*)", self.told[0])
        assert found is not None, self.told
        self.host, self.port, self.query = found[1], int(found[2]), found[3]

    def _read(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self.told.append(line.decode().rstrip("\n"))
            self._ready.set()
        self._ready.set()

    def connect(self) -> socket.socket:
        """Open a connection."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=15)

    def raw(self, *parts: bytes, pause: float = 0.0) -> bytes:
        """Send bytes, end sending, and give all that comes back."""
        with self.connect() as found:
            try:
                for part in parts:
                    found.sendall(part)
                    time.sleep(pause)
                found.shutdown(socket.SHUT_WR)
                return all_of(found)
            except (ConnectionResetError, BrokenPipeError):
                return b""

    def get(self, target: str = "/", *headers: str, method: str = "GET") -> bytes:
        """Ask for a target as it is written, and give the whole answer."""
        lines = [f"{method} {target} HTTP/1.1", "Host: 127.0.0.1", "Connection: close", *headers]
        return self.raw("\r\n".join([*lines, "", ""]).encode("latin-1"))

    def watch(self) -> socket.socket:
        """Begin to watch what changes, up to the first event."""
        found = self.connect()
        found.sendall(b"GET /changes HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        seen = b""
        while b"event: board" not in seen:
            piece = found.recv(4096)
            assert piece, seen
            seen += piece
        return found

    def end(self) -> None:
        """End it, however it is."""
        self.process.kill()
        self.process.wait(10)
        self._reader.join(10)
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            if pipe is not None:
                pipe.close()


@contextmanager
def serving(journal: Path, *more: str, env: dict[str, str] | None = None) -> Iterator[Server]:
    """Have a server for as long as a block lasts."""
    server = Server(journal, *more, env=env)
    try:
        yield server
    finally:
        server.end()


def all_of(found: socket.socket) -> bytes:
    """Read until the other side ends, in whatever way."""
    seen = b""
    try:
        while piece := found.recv(65536):
            seen += piece
    except ConnectionResetError:
        pass
    return seen


def head_of(answer: bytes) -> tuple[int, list[tuple[str, str]]]:
    """Give the status and the headers of an answer."""
    lines = answer.partition(b"\r\n\r\n")[0].decode("latin-1").split("\r\n")
    pairs = [line.partition(": ") for line in lines[1:]]
    return int(lines[0].split()[1]), [(name.lower(), value) for name, _, value in pairs]


def run_board(*arguments: str) -> tuple[int, list[str]]:
    """Run the command where it cannot serve; give its exit code and what it told."""
    command = [sys.executable, "-m", "voicecount", "board", *arguments]
    done = subprocess.run(command, capture_output=True, timeout=30, check=False)
    return done.returncode, done.stderr.decode().splitlines()
