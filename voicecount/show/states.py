"""How a line stands, by a shape and in words: the same on a terminal and on the board. Pure."""

from collections.abc import Mapping

from voicecount.count.tally import State

SIGNS: Mapping[State, str] = {
    State.LEFT: "·",
    State.WAITING: "○",
    State.CONFIRMED: "●",
    State.RECOUNT: "△",
}
"""Shapes; colour adds nothing."""

WORDS: Mapping[State, str] = {
    State.LEFT: "not counted",
    State.WAITING: "not confirmed",
    State.CONFIRMED: "confirmed",
    State.RECOUNT: "recount due",
}
