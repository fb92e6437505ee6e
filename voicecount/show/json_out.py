"""The JSON that ``hear`` and ``replay`` print; docs/commands.md describes every key."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from voicecount.count.discrepancy import Discrepancy
from voicecount.count.ledger import Ledger
from voicecount.count.plan import due
from voicecount.count.sums import line_sum
from voicecount.count.tally import State
from voicecount.hear.heard import Heard
from voicecount.show.conversation import ASSISTANT, Line


def heard_object(file: str, heard: Heard) -> dict[str, Any]:
    """Give one utterance of ``hear``."""
    meaning = heard.meaning
    words = None
    if heard.words is not None:
        words = [
            {"word": word.text, "start": round(word.start, 3), "end": round(word.end, 3)}
            for word in heard.words
        ]
    return {
        "file": file,
        "channel": heard.channel,
        "start": round(heard.start, 3),
        "end": round(heard.end, 3),
        "outcome": heard.outcome.value,
        "item": meaning.item if meaning is not None else None,
        "numbers": list(meaning.numbers) if meaning is not None else [],
        "pieces": meaning.pieces if meaning is not None else None,
        "place": meaning.place if meaning is not None else None,
        "command": meaning.command if meaning is not None else None,
        "text": heard.text,
        "words": words,
        "margin": _rounded(heard.margin),
        "ratio": _rounded(heard.ratio),
        "wrong": heard.wrong,
        "reason": heard.reason.value if heard.reason is not None else None,
        "latency_ms": round(heard.latency_ms, 1),
    }


def replay_object(ledger: Ledger, conversation: Iterable[Line], journal: Path) -> dict[str, Any]:
    """Give the whole of ``replay``: items by id, the conversation, the journal's file."""
    return {
        "items": {
            item.id: {
                "counted": ledger.tally(item.id).counted,
                "expected": item.expect,
                "confirmed": ledger.tally(item.id).state is State.CONFIRMED,
                "flags": [flag.value for flag in ledger.flags(item.id)],
                **_account(ledger, item.id),
            }
            for item in ledger.items.values()
        },
        "count": _count(ledger),
        "held": {count: result.value for count, result in ledger.held.items()},
        "due": [count.id for count in due(ledger)],
        "discrepancies": [_discrepancy(one) for one in ledger.discrepancies.values()],
        "not_found": list(ledger.not_found),
        "closed": ledger.closed,
        "conversation": [_line(line) for line in conversation],
        "journal": str(journal),
    }


def _account(ledger: Ledger, item: str) -> dict[str, Any]:
    """Give what is known of an item over the whole case, and its places in the last count."""
    account = ledger.account(item)
    one = line_sum(ledger, item)
    return {
        "initial": account.initial,
        "added": account.added,
        "changed": account.changed + account.explained,
        "handed_over": account.handed_over,
        "expected_now": ledger.expected(item),
        "tucked": dict(account.tucked),
        "inside": dict(account.inside),
        "passed_off": account.passed_off,
        "places": dict(one.places),
        "together": one.counted if one.complete else None,
    }


def _count(ledger: Ledger) -> dict[str, Any] | None:
    count = ledger.count
    if count is None:
        return None
    return {"number": count.number, "id": count.id, "title": count.title, "open": ledger.counting}


def _discrepancy(one: Discrepancy) -> dict[str, Any]:
    return {
        "number": one.number,
        "item": one.item,
        "differs": one.opened.differs.value,
        "counted": one.counted,
        "expected": one.expected,
        "found": one.found,
        "off": one.off,
    }


def _line(line: Line) -> dict[str, Any]:
    key = "answered" if line.who == ASSISTANT else "said"
    return {
        "time": round(line.time, 3),
        "who": line.who,
        key: line.words,
        "outcome": line.outcome,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
