"""``voicecount doctor``: is everything here that a case needs; one line and one remedy each."""

import json
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError

from voicecount.commands.doctor_checks import CHECKS
from voicecount.commands.doctor_lines import Check, Line, Sign, fail, from_error, one_line
from voicecount.commands.doctor_machine import PACKAGE, Machine, this_machine
from voicecount.errors import VoicecountError
from voicecount.show.console import printable


@dataclass(frozen=True)
class Checked:
    """A line with the name of its check."""

    name: str
    line: Line


def doctor(
    *,
    as_json: bool,
    machine: Machine | None = None,
    checks: Sequence[tuple[str, float, Check]] = CHECKS,
) -> None:
    """Print a line for each check; VoicecountError with their number when any failed."""
    done = []
    for checked in examine(machine or this_machine(), checks):
        done.append(checked)
        if not as_json:
            print(_text(checked), flush=True)  # noqa: T201 - this is the output
    failed = [checked.name for checked in done if checked.line.sign is Sign.FAIL]
    notes = sum(checked.line.sign is Sign.NOTE for checked in done)
    if as_json:
        print(json.dumps(_object(done, len(failed), notes), indent=2))  # noqa: T201 - the same
    elif not failed:
        print(f"none of {len(done)} checks failed; {notes} of them noted something")  # noqa: T201
    if failed:
        raise VoicecountError(
            f"{len(failed)} of {len(done)} checks failed ({', '.join(failed)}); "
            f"{'do what its line says' if len(failed) == 1 else 'do what their lines say'}"
        )


def examine(
    machine: Machine, checks: Sequence[tuple[str, float, Check]] = CHECKS
) -> Iterator[Checked]:
    """Run the checks one after the other; none can raise, or take longer than its limit."""
    for name, limit, check in checks:
        line = _within(limit, check, machine)
        if line is not None:
            yield Checked(name, line)


def _within(limit: float, check: Check, machine: Machine) -> Line | None:
    """Run a check in a thread of its own, which is left behind when it hangs."""
    found: list[Line | None] = []
    thread = threading.Thread(
        target=lambda: found.append(_guarded(check, machine)), name="doctor", daemon=True
    )
    thread.start()
    thread.join(limit)
    if not found:
        return fail(f"no answer in {limit:g} s", "start the machine again, and look once more")
    return found[0]


def _guarded(check: Check, machine: Machine) -> Line | None:
    try:
        return check(machine)
    except VoicecountError as error:
        return from_error(error)
    except PackageNotFoundError:
        return fail(f"{PACKAGE} is not installed as a package", f"install {PACKAGE} with pip")
    except Exception as error:  # noqa: BLE001 - a doctor falls ill of nothing
        what = f"an error in the program ({type(error).__name__}: {one_line(error)})"
        return fail(what, f"install {PACKAGE} again, or report this line")


def _text(checked: Checked) -> str:
    line = checked.line
    remedy = "" if line.remedy is None else f"; {line.remedy}"
    return printable(f"{line.sign.value:<4}  {checked.name}: {line.what}{remedy}")


def _object(done: Sequence[Checked], failed: int, notes: int) -> dict[str, object]:
    return {
        "checks": [
            {
                "name": checked.name,
                "sign": checked.line.sign.value,
                "what": checked.line.what,
                "remedy": checked.line.remedy,
            }
            for checked in done
        ],
        "failed": failed,
        "notes": notes,
    }
