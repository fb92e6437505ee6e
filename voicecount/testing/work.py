"""Works for the engines that grade a class: picklable by their names, and quick."""

import os
import signal
import time
from pathlib import Path

from voicecount.drill.engines import OutOfReach
from voicecount.errors import RecordingError

Thing = tuple[int, str, str]
"""A number, what is to be done with it, and the folder of the marks."""


def doubled(thing: Thing) -> tuple[int, int]:
    """Double a number, and give the process that did it.

    What else happens is told by the second part: ``slow`` waits, ``wrong`` and ``bad`` raise,
    ``dies`` ends its process the first time, ``always dies`` every time, ``far`` is out of reach
    until it is carried. A mark in the folder tells of each beginning.
    """
    number, how, folder = thing
    marks = Path(folder)
    first = not list(marks.glob(f"{number}.*"))
    (marks / f"{number}.{os.getpid()}").touch()
    if how == "slow":
        time.sleep(0.3)
    elif how == "wrong":
        raise ZeroDivisionError("no\nnumber")
    elif how == "bad":
        raise RecordingError(f"thing {number}: an empty file; record it again")
    elif how == "far":
        raise OutOfReach(f"thing {number} is not here")
    elif how == "always dies" or (how == "dies" and first):
        os.kill(os.getpid(), signal.SIGKILL)
    return 2 * number, os.getpid()


def carried(thing: Thing) -> Thing:
    """Give a thing that is in reach; ValueError for number 13."""
    number, _, folder = thing
    if number == 13:
        raise ValueError("thirteen")
    return number, "carried", folder


def version() -> str:
    """Give what is the same everywhere."""
    return "one"


def process() -> str:
    """Give what is the same nowhere."""
    return f"process {os.getpid()}"
