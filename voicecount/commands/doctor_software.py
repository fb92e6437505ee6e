"""What the doctor checks of the software: Python, packages, settings, weights, voices."""

import re
from importlib.metadata import PackageNotFoundError
from itertools import zip_longest

from voicecount.commands.doctor_lines import Check, Line, Sign, fail, from_error, note, ok, one_line
from voicecount.commands.doctor_machine import PACKAGE, Machine
from voicecount.errors import VoicecountError
from voicecount.speak.manner import WithinTime
from voicecount.speak.self_test import check_voice


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
    """Give the check of a kind of voice: it says a sentence, into samples."""

    def check(machine: Machine) -> Line:
        begun = machine.clock.monotonic()
        try:
            speaker = machine.voices[kind]()
            check_voice(WithinTime(speaker))
        except VoicecountError as error:
            needed = kind == machine.default_voice
            return from_error(error, Sign.FAIL if needed else Sign.NOTE)
        took = machine.clock.monotonic() - begun
        return ok(f"{speaker.name} speaks; {took:.1f} s with loading")

    return check


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
