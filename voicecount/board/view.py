"""What the board shows, as plain values: made of what is known, without any layout. Pure.

Three questions come first: who has to speak next, which line is open and what was heard of it, and
whether anybody is heard at all. Nothing here says that a count is right.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from voicecount.board import words
from voicecount.board.follow import Known
from voicecount.board.moment import nobody_heard, unheard
from voicecount.board.rows import Group, groups
from voicecount.board.step import step_due
from voicecount.board.turn import (
    Next,
    OpenLine,
    in_hand,
    label,
    line_in_hand,
    speaks_next,
    stored_line,
)
from voicecount.count.standing import Ledger
from voicecount.count.tally import State
from voicecount.sheet.plan import CountKind


@dataclass(frozen=True)
class Said:
    """What the assistant said last."""

    text: str
    alert: bool
    spoken: bool
    """False where it could not be spoken, and has to be read."""


@dataclass(frozen=True)
class Board:
    """Everything on the board."""

    title: str
    count: str
    hears: str
    """A code: ``hears``, ``partly``, ``speaks``, ``stands_by``, ``slow``, ``deaf``, ``gone``,
    ``unread``, ``ended``."""
    hears_words: str
    next: Next
    line: OpenLine | None
    said: Said | None
    differences: tuple[str, ...]
    """Those that are open, then those that were closed without the item."""
    place_names: tuple[str, ...]
    counted: str
    """What stands over what was counted."""
    groups: tuple[Group, ...]
    left: tuple[str, ...]
    """Items of this count of which something has no number that stands."""
    inside: tuple[str, ...]
    noise: str
    quiet: bool
    """Whether the noise is nothing to look up for: low, or not measured."""
    records: int
    digits: str
    written: str
    """Time of day of the last record, ISO 8601."""
    trouble: str
    fresh: bool
    silent: str
    """Since when there is no sign of life, in words; empty while there is."""


def board(known: Known) -> Board:
    """Make the board of what is known."""
    ledger = known.ledger
    now = known.now or {}
    code = _hears(known)
    places = ledger.count.places if ledger.count is not None else ()
    step = step_due(ledger, now if known.fresh else {})
    line = line_in_hand(ledger, now) if known.fresh else stored_line(ledger)
    line = in_hand(ledger, line, step)
    adding = ledger.count is not None and ledger.count.kind is CountKind.ADDITION
    current = line.id if line is not None and ledger.counting else None
    return Board(
        title=ledger.opened.title if ledger.opened is not None else "",
        count=_count(ledger),
        hears=code,
        hears_words=words.unheard(unheard(now)) if code == "partly" else words.HEARS[code],
        next=speaks_next(known, code, line, step),
        line=line,
        said=_said(now),
        differences=tuple(_differences(known)),
        place_names=tuple(label(place) for place in places),
        counted=words.counted(by_place=bool(places), adding=adding),
        groups=tuple(groups(ledger, current)),
        left=_left(ledger),
        inside=tuple(_inside(ledger)),
        noise=_noise(now),
        quiet=(now.get("noise") or {}).get("state", "fine") == "fine",
        records=known.records,
        digits=known.digits,
        written=known.written.isoformat() if known.written is not None else "",
        trouble=words.sentence(known.trouble or ""),
        fresh=known.fresh,
        silent=words.silent(known.silent) if not known.fresh else "",
    )


def _hears(known: Known) -> str:
    """Tell whether anybody is heard: the gravest that holds."""
    now = known.now or {}
    told_apart = known.ledger.told_apart
    codes = (
        (known.trouble is not None, "unread"),
        (known.ledger.closed, "ended"),
        (known.now is None, "gone"),
        (not now.get("hears", True) or nobody_heard(now, told_apart=told_apart), "deaf"),
        (known.slow > 0, "slow"),
        (bool(now.get("speaking")), "speaks"),
        (known.ledger.standing_by, "stands_by"),
        (bool(now.get("unheard")), "partly"),
    )
    return next((code for holds, code in codes if holds), "hears")


def _count(ledger: Ledger) -> str:
    if ledger.count is None:
        return words.NO_COUNT
    title = ledger.count.title
    return title if ledger.counting else words.after(title)


def _said(now: Mapping[str, Any]) -> Said | None:
    said = now.get("said")
    if not said or not said.get("text"):
        return None
    return Said(str(said["text"]), said.get("kind") == "alert", bool(said.get("spoken", True)))


def _differences(known: Known) -> Iterator[str]:
    ledger = known.ledger
    for one in ledger.discrepancies.values():
        yield words.difference(ledger.items[one.item].name, one)
    for one in known.lost:
        yield words.not_found(ledger.items[one.item].name, one)


def _left(ledger: Ledger) -> tuple[str, ...]:
    keys = ledger.keys(State.LEFT, State.RECOUNT) if ledger.counting else ()
    return tuple(dict.fromkeys(ledger.items[key.item].name for key in keys))


def _inside(ledger: Ledger) -> Iterator[str]:
    for item in ledger.items.values():
        account = ledger.account(item.id)
        for sites, on_purpose in ((account.inside, True), (account.tucked, False)):
            for site, n in sites.items():
                yield words.in_patient(item.name, n, site, on_purpose=on_purpose)


def _noise(now: Mapping[str, Any]) -> str:
    noise = now.get("noise")
    return words.noise(str(noise.get("state")), float(noise["above"])) if noise else words.NO_NOISE
