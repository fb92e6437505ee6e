"""A sound system of our own in user space: PulseAudio with null sinks, reached as ALSA devices.

It is started by a test, in a folder of the test's, and ended with it; no hardware and no sound
system of the machine is touched. A null sink is a loudspeaker whose "monitor" is a microphone that
hears what it plays.
"""

import os
import shutil
import subprocess
import time
from collections.abc import Sequence
from pathlib import Path

MISSING = (
    "optional: no virtual sound card can be started here; it needs PulseAudio and PortAudio "
    "(Debian: pulseaudio pulseaudio-utils libportaudio2 libasound2-plugins)"
)
SINKS = ("theatre", "second")
RATES = (44_100, 48_000)
_ASOUND = """
</usr/share/alsa/alsa.conf>
pcm.{name}_loudspeaker {{ type pulse device {name} }}
pcm.{name}_microphone {{ type pulse device {name}.monitor }}
"""
_WAIT = 10.0


class VirtualCard:
    """A PulseAudio server with a null sink for each name."""

    def __init__(self, folder: Path, sinks: Sequence[str] = SINKS) -> None:
        self._folder = folder
        self._sinks = tuple(sinks)
        self._socket = folder / "socket"
        self._server: subprocess.Popen[bytes] | None = None
        self._modules: dict[str, str] = {}
        self.environment = {
            **os.environ,
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
            "XDG_CONFIG_HOME": str(folder),
            "PULSE_RUNTIME_PATH": str(folder / "pulse"),
            "PULSE_SERVER": f"unix:{self._socket}",
            "PULSE_COOKIE": str(folder / "cookie"),
            "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
            "DBUS_SESSION_BUS_ADDRESS": "unix:path=/nonexistent",
            "DBUS_SYSTEM_BUS_ADDRESS": "unix:path=/nonexistent",
        }

    def start(self) -> None:
        """Start the server and plug in every sink; RuntimeError where that cannot be done."""
        if shutil.which("pulseaudio") is None or shutil.which("pactl") is None:
            raise RuntimeError("pulseaudio or pactl is not installed")
        text = "".join(_ASOUND.format(name=name) for name in self._sinks)
        (self._folder / "asound.conf").write_text(text, encoding="utf-8")
        self._server = subprocess.Popen(
            [
                *("pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--disable-shm=yes"),
                "--exit-idle-time=-1",
                f"--load=module-native-protocol-unix socket={self._socket} auth-anonymous=1",
            ],
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until = time.monotonic() + _WAIT
        while self._ask("info") is None:
            if self._server.poll() is not None or time.monotonic() > until:
                raise RuntimeError("the server does not start")
            time.sleep(0.05)
        for name in self._sinks:
            self.plug(name)

    def plug(self, name: str) -> None:
        """Plug a sink in, with its monitor."""
        rate = RATES[SINKS.index(name)]
        module = self._ask(
            "load-module", "module-null-sink", f"sink_name={name}", f"rate={rate}", "channels=2"
        )
        if module is None:
            raise RuntimeError("the server has no null sink")
        self._modules[name] = module

    def unplug(self, name: str) -> None:
        """Pull a sink out, with its monitor, while it is in use."""
        self._ask("unload-module", self._modules.pop(name))

    def play(self, name: str, path: Path) -> subprocess.Popen[bytes]:
        """Play a file into a sink from a process of its own, as another person's sound would."""
        return subprocess.Popen(
            ["paplay", f"--device={name}", str(path)],
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def close(self) -> None:
        """End the server."""
        if self._server is not None:
            self._server.terminate()
            self._server.wait(_WAIT)

    def _ask(self, *words: str) -> str | None:
        answer = subprocess.run(
            ["pactl", *words], env=self.environment, capture_output=True, check=False, timeout=_WAIT
        )
        return answer.stdout.decode().strip() if answer.returncode == 0 else None
