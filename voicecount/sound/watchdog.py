"""Is the microphone alive? Codes from times and levels alone, within a second.

    ok ──no block for a while──────────▶ gone ──block──▶ ok, or silent
    ok ──a channel gives nothing at all─▶ silent ──sound──▶ ok

A microphone that works always gives a little noise. A channel whose samples do not change at all is
muted, unplugged behind the sound card, or dead.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

NOTICE_SECONDS = 0.8
"""Seconds without a block, or without any sound, after which people are told: under a second."""


class Code(StrEnum):
    """What has changed."""

    SILENT = "silent"
    """A channel gives nothing at all."""
    HEARD = "heard"
    """A channel that was silent gives sound again."""
    GONE = "gone"
    """The device gives no blocks any more."""
    BACK = "back"
    """The device gives blocks again."""


class Health(StrEnum):
    """How the device is now."""

    OK = "ok"
    SILENT = "silent"
    GONE = "gone"


@dataclass(frozen=True)
class Change:
    """One change of a device, for people to be told of."""

    code: Code
    at: float
    """Seconds on the clock of the calls, when it was noticed."""
    channel: int | None
    """The channel that it concerns; None for the whole device."""
    seconds: float
    """How long it had been so (silent, gone) or how long it lasted (heard, back)."""


class Watchdog:
    """Follows one device. Times may come from any clock that only goes forward."""

    def __init__(self, channels: int, since: float, notice: float = NOTICE_SECONDS) -> None:
        self._notice = notice
        self._block = since
        self._sound = [since] * channels
        self._gone = False
        self._silent = [False] * channels

    @property
    def health(self) -> Health:
        """How the device is: gone before silent, for nothing is known of a device that is gone."""
        if self._gone:
            return Health.GONE
        return Health.SILENT if any(self._silent) else Health.OK

    def silent(self, channel: int) -> bool:
        """Say whether a channel gives nothing at all."""
        return self._silent[channel]

    def block(self, at: float, alive: Sequence[bool]) -> list[Change]:
        """Take a block that came at a time; ``alive`` says which channels changed within it."""
        changes = self.tick(at)
        if self._gone:
            changes.append(Change(Code.BACK, at, None, at - self._block))
            self._gone = False
            # What a channel gave before the device was gone says nothing of it now.
            self._sound = [at if not silent else last for silent, last in self._channels()]
        self._block = at
        for channel, sounds in enumerate(alive):
            if sounds and self._silent[channel]:
                changes.append(Change(Code.HEARD, at, channel, at - self._sound[channel]))
                self._silent[channel] = False
            if sounds:
                self._sound[channel] = at
            elif not self._silent[channel] and at - self._sound[channel] >= self._notice:
                changes.append(Change(Code.SILENT, at, channel, at - self._sound[channel]))
                self._silent[channel] = True
        return changes

    def seen(self, at: float) -> None:
        """Learn that blocks came until a time, though nobody looked at them."""
        self._block = max(self._block, at)

    def tick(self, at: float) -> list[Change]:
        """Let time pass without a block."""
        if self._gone or at - self._block < self._notice:
            return []
        self._gone = True
        return [Change(Code.GONE, at, None, at - self._block)]

    def _channels(self) -> list[tuple[bool, float]]:
        return list(zip(self._silent, self._sound, strict=True))
