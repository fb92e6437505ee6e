"""What the doctor checks: one line each, with one remedy where something is to be done."""

import re
import secrets
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from importlib.metadata import PackageNotFoundError
from itertools import zip_longest
from pathlib import Path

import numpy as np

from voicecount.commands.doctor_machine import PACKAGE, Machine
from voicecount.errors import VoicecountError
from voicecount.keep.journal import SUFFIX
from voicecount.keep.record import parse
from voicecount.sound.choose import Device, choose
from voicecount.sound.frame import RATE


class Sign(StrEnum):
    """What a line says at its beginning."""

    OK = "ok"
    NOTE = "note"
    """It works, and something is less than it could be."""
    FAIL = "fail"


@dataclass(frozen=True)
class Line:
    """One finding; a note and a failure come with one remedy."""

    sign: Sign
    what: str
    remedy: str | None = None


Check = Callable[[Machine], Line | None]
"""Gives no line where there is nothing to check. May raise; a VoicecountError is a failure."""

_LEAST_FREE = 50_000_000
_LITTLE_FREE = 500_000_000
"""Bytes. A case's journal is far below 10 MB; a full disk ends the count. Our choice."""
_SLOW_SYNC = 0.25
"""Seconds. Every line waits for it before it is read back. Our choice."""
_CLOCK_SLACK = timedelta(minutes=2)
"""Clocks that are set by a server move this much and more is a fault. Our choice."""
_TICK = 0.02
_TAIL = 65_536
_JOURNALS = 20
_SILENT = 0.01
_SHORTEST = 0.1
_OTHERS_WRITE = 0o022
_OTHERS = 0o077


def ok(what: str) -> Line:
    """Make a line with nothing to do."""
    return Line(Sign.OK, what)


def note(what: str, remedy: str) -> Line:
    """Make a line that ends no case."""
    return Line(Sign.NOTE, what, remedy)


def fail(what: str, remedy: str) -> Line:
    """Make a line that has to be put right."""
    return Line(Sign.FAIL, what, remedy)


def from_error(error: VoicecountError, sign: Sign = Sign.FAIL) -> Line:
    """Part an error's line into what is wrong and what to do."""
    what, _, remedy = str(error).rpartition("; ")
    return Line(sign, what or remedy, remedy if what else "see docs/commands.md")


def python(machine: Machine) -> Line:
    """Check the version of Python."""
    wanted, _ = machine.metadata()
    if not fits(machine.python, wanted):
        return fail(f"Python {machine.python} does not fit", f"use one with {wanted}")
    return ok(f"Python {machine.python}")


def packages(machine: Machine) -> Line:
    """Check that every package is there in a version that fits, and that their libraries load."""
    _, needed = machine.metadata()
    wrong = [
        name
        for name, wanted in (_requirement(line, machine.platform) for line in needed)
        if name and not _has(machine, name, wanted)
    ]
    if wrong:
        what = f"missing or of another version: {', '.join(wrong)}"
        return fail(what, f"install {PACKAGE} again")
    for module in ("soundfile", "soxr"):
        try:
            machine.load(module)
        except (ImportError, OSError) as error:
            return fail(
                f"{module} cannot be loaded ({one_line(error)})",
                f"run 'pip install --force-reinstall {module}'",
            )
    return ok(f"{len(needed)} packages")


def settings(machine: Machine) -> Line:
    """Check that what is remembered of this machine can be read."""
    machine.settings()
    return ok("can be read")


def microphones(machine: Machine) -> Line:
    """Check that there is a microphone, that the chosen one is there, and what it gives."""
    found = machine.microphones()
    if not found:
        return fail("none found", "connect one")
    chosen = choose(found, machine.settings().input_device)
    told = f"{len(found)} found, used is {_told(chosen)}"
    if chosen.channels < 2:
        return note(f"{told}: the two people are not told apart", "connect one with two channels")
    if chosen.rate < RATE:
        return note(f"{told}: part of the voice is lost", f"set it to {RATE} Hz or more")
    return ok(told)


def loudspeakers(machine: Machine) -> Line:
    """Check that there is a loudspeaker, and that the chosen one is there."""
    found = machine.loudspeakers()
    if not found:
        return fail("none found", "connect one, or use --voice none and read the screen")
    chosen = choose(found, machine.settings().output_device, "loudspeaker")
    return ok(f"{len(found)} found, used is {_told(chosen)}")


def microphone_opens(machine: Machine) -> Line | None:
    """Check that the program may use the microphone, and that sound comes out of it."""
    found = machine.microphones()
    if not found:
        return None
    chosen = choose(found, machine.settings().input_device)
    if machine.record(chosen) <= 0.0:
        return note(
            f'"{chosen.name}" gives silence',
            "switch it on, and allow this program to use the microphone",
        )
    return ok(f'"{chosen.name}" can be opened')


def loudspeaker_opens(machine: Machine) -> Line | None:
    """Check that the program may use the loudspeaker; nothing is played."""
    found = machine.loudspeakers()
    if not found:
        return None
    chosen = choose(found, machine.settings().output_device, "loudspeaker")
    machine.open_output(chosen)
    return ok(f'"{chosen.name}" can be opened')


def hearing(machine: Machine) -> Line:
    """Load what hears, and check that its weights are the measured ones."""
    return ok(machine.hearing())


def vosk(machine: Machine) -> Line:
    """Load the other recogniser, which nobody has to have."""
    try:
        return ok(machine.vosk())
    except VoicecountError as error:
        line = from_error(error, Sign.NOTE)
        return note(f"not used, and not needed: {line.what}", line.remedy or "")


def voice(kind: str) -> Check:
    """Give the check of a kind of voice: it speaks a word, into samples."""

    def check(machine: Machine) -> Line:
        begun = machine.clock.monotonic()
        try:
            speaker = machine.voices[kind]()
            clip = speaker.speak("ten")
        except VoicecountError as error:
            needed = kind == machine.default_voice
            return from_error(error, Sign.FAIL if needed else Sign.NOTE)
        took = machine.clock.monotonic() - begun
        if clip.seconds < _SHORTEST or float(np.abs(clip.samples).max(initial=0.0)) < _SILENT:
            other = "system" if kind == "embedded" else "embedded"
            return fail(f"{speaker.name} gives silence", f"use --voice {other}")
        return ok(f"{speaker.name} speaks; {took:.1f} s with loading")

    return check


def disk(machine: Machine) -> Line:
    """Do with a small file what a journal does: make, lock, write, sync, read."""
    folder = machine.journals
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        locked, whole, took = _try_file(machine, folder / f".doctor-{secrets.token_hex(4)}")
    except OSError as error:
        return fail(
            f"{folder}: a file cannot be made and synced ({_why(error)})",
            "make the folder writable, or free the disk",
        )
    if not locked:
        return fail(
            f"{folder}: locks do not hold, two programs could write one journal",
            "keep journals on a disk of this machine",
        )
    if not whole:
        return fail(f"{folder}: what was written does not come back", "use another disk")
    told = f"{folder}: written, locked and synced; the sync took {1000 * took:.0f} ms"
    if took > _SLOW_SYNC:
        return note(told, "each line waits so long: use a faster disk")
    return ok(told)


def space(machine: Machine) -> Line:
    """Check that there is room for journals."""
    try:
        free = machine.free(machine.journals)
    except OSError as error:
        return fail(
            f"{machine.journals}: free space unknown ({_why(error)})", "make the folder readable"
        )
    told = f"{free / 1e9:.1f} GB free" if free >= 1e9 else f"{free / 1e6:.0f} MB free"
    if free < _LEAST_FREE:
        return fail(told, "free the disk: a full disk ends the count")
    return note(told, "free the disk") if free < _LITTLE_FREE else ok(told)


def clock(machine: Machine) -> Line:
    """Check the time of day against what was written before, and that the steady clock runs."""
    wall = machine.clock.wall()
    before = machine.clock.monotonic()
    machine.clock.sleep(_TICK)
    if machine.clock.monotonic() <= before:
        return fail("the steady clock stands still", "start the machine again")
    told = f"{wall:%Y-%m-%d %H:%M} UTC"
    newest = _newest(machine.journals)
    if newest is not None and wall < newest - _CLOCK_SLACK:
        return fail(
            f"{told} is before the newest journal ({newest:%Y-%m-%d %H:%M})", "set the clock"
        )
    if wall < machine.built() - _CLOCK_SLACK:
        return fail(
            f"{told} is before this software was installed ({machine.built():%Y-%m-%d %H:%M})",
            "set the clock",
        )
    return ok(told)


def private(machine: Machine) -> Line:
    """Check that nobody else on this machine can read or change journals."""
    folder = machine.journals
    try:
        mode = machine.mode(folder)
    except OSError as error:
        return fail(f"{folder}: permissions unknown ({_why(error)})", "make the folder readable")
    if mode is None:
        return note("not looked at on this system", "keep journals in the user's own folder")
    if mode & _OTHERS_WRITE:
        return fail(f"{folder}: others can change it", f"run 'chmod 700 {folder}'")
    if mode & _OTHERS:
        return note(f"{folder}: others can look into it", f"run 'chmod 700 {folder}'")
    return ok(f"{folder}: nobody else can look into it")


def network(_: Machine) -> Line:
    """Say that there is nothing to check."""
    return ok("none is needed; nothing to check")


CHECKS: Sequence[tuple[str, float, Check]] = (
    ("python", 5.0, python),
    ("packages", 10.0, packages),
    ("settings", 5.0, settings),
    ("disk", 10.0, disk),
    ("space", 5.0, space),
    ("private", 5.0, private),
    ("clock", 5.0, clock),
    ("microphones", 10.0, microphones),
    ("microphone opens", 5.0, microphone_opens),
    ("loudspeakers", 5.0, loudspeakers),
    ("loudspeaker opens", 5.0, loudspeaker_opens),
    ("hearing", 30.0, hearing),
    ("vosk", 10.0, vosk),
    ("embedded voice", 15.0, voice("embedded")),
    ("system voice", 6.0, voice("system")),
    ("network", 5.0, network),
)
"""Name, the seconds after which it is given up, and the check."""


def fits(version: str, wanted: str) -> bool:
    """Tell whether a version lies within bounds such as ``<5,>=4.5``."""
    found = _numbers(version)
    for part in filter(None, re.split(r"[,\s]+", wanted)):
        bound = re.fullmatch(r"(<=|>=|==|!=|<|>)(\d.*)", part)
        if bound is None:
            continue
        pairs = list(zip_longest(found, _numbers(bound[2]), fillvalue=0))
        ours, theirs = [a for a, _ in pairs], [b for _, b in pairs]
        holds = {
            "<": ours < theirs,
            "<=": ours <= theirs,
            "==": ours == theirs,
            "!=": ours != theirs,
            ">": ours > theirs,
            ">=": ours >= theirs,
        }
        if not holds[bound[1]]:
            return False
    return True


def one_line(error: BaseException) -> str:
    """Give the text of an error without line breaks."""
    return " ".join(str(error).split())


def _requirement(line: str, platform: str) -> tuple[str, str]:
    """Give name and bounds of a requirement; no name where it is not needed here."""
    wanted, _, marker = line.partition(";")
    system = re.search(r"sys_platform\s*(==|!=)\s*['\"](\w+)['\"]", marker)
    elsewhere = system is not None and (system[1] == "==") != (system[2] == platform)
    if elsewhere or "extra" in marker:
        return "", ""
    name = re.match(r"[\w.-]+", wanted.strip())
    return ("", "") if name is None else (name[0], wanted.strip()[name.end() :].strip(" ()"))


def _has(machine: Machine, name: str, wanted: str) -> bool:
    try:
        return fits(machine.installed(name), wanted)
    except PackageNotFoundError:
        return False


def _numbers(version: str) -> list[int]:
    release = re.match(r"\d+(?:\.\d+)*", version)
    return [] if release is None else [int(part) for part in release[0].split(".")]


def _told(device: Device) -> str:
    channels = "1 channel" if device.channels == 1 else f"{device.channels} channels"
    return f'"{device.name}" ({channels}, {device.rate} Hz)'


def _try_file(machine: Machine, path: Path) -> tuple[bool, bool, float]:
    """Give whether a lock held, whether the bytes came back, and the seconds of the sync."""
    content = b"doctor\n"
    disk = machine.disk
    fd = disk.create(path)
    try:
        locked = disk.lock(fd)
        second = disk.open(path)
        try:
            locked = locked and not disk.lock(second)
        finally:
            disk.close(second)
        written = disk.write(fd, content)
        begun = machine.clock.monotonic()
        disk.sync(fd)
        took = machine.clock.monotonic() - begun
        disk.sync_folder(path.parent)
        whole = written == len(content) and disk.read(fd, 0, 2 * len(content)) == content
    finally:
        disk.close(fd)
        with suppress(OSError):
            path.unlink()
    return locked, whole, took


def _newest(folder: Path) -> datetime | None:
    """Give the time of the last whole record of the newest journals; None where there is none."""
    times: list[datetime] = []
    with suppress(OSError):
        files = sorted(folder.glob(f"*{SUFFIX}"), key=lambda path: -path.stat().st_mtime)
        for path in files[:_JOURNALS]:
            with suppress(OSError, ValueError, IndexError), path.open("rb") as file:
                file.seek(max(0, path.stat().st_size - _TAIL))
                last = file.read().rpartition(b"\n")[0].rpartition(b"\n")[2]
                times.append(datetime.fromisoformat(parse(last + b"\n").wall))
    return max((time for time in times if time.tzinfo is not None), default=None)


def _why(error: OSError) -> str:
    return error.strerror or type(error).__name__
