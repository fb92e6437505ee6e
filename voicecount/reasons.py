"""Why speech was not accepted: one code each, documented in docs/reasons.md (made from here)."""

from enum import StrEnum


class Reason(StrEnum):
    """A code for every outcome of hearing that is not an acceptance."""

    NO_SPEECH = "no_speech"
    NOT_FOR_US = "not_for_us"
    FAINT = "faint"
    CLOSE_CALL = "close_call"
    WEAK_MATCH = "weak_match"
    SOUND_ALIKE = "sound_alike"
    NO_NUMBER = "no_number"
    NO_ITEM = "no_item"
    UNKNOWN_NAME = "unknown_name"
    UNCLEAR_NAME = "unclear_name"
    NOT_A_COUNT = "not_a_count"
    TOO_FAST = "too_fast"
    TOO_LONG = "too_long"
    CLIPPED = "clipped"
    SOUND_LOST = "sound_lost"
    ENGINES_DIFFER = "engines_differ"
    STILL_OPEN = "still_open"


MEANINGS: dict[Reason, str] = {
    Reason.NO_SPEECH: "no voice was found in the sound",
    Reason.NOT_FOR_US: "speech that fits nothing on the sheet: taken as talk in the room",
    Reason.FAINT: "unclear, and far weaker than the people at that microphone: talk or noise",
    Reason.CLOSE_CALL: "two readings were nearly as likely",
    Reason.WEAK_MATCH: "near something on the sheet, but too weak to store",
    Reason.SOUND_ALIKE: "a number that sounds like another one, heard alone and near the line",
    Reason.NO_NUMBER: "an item was named without a number",
    Reason.NO_ITEM: "a number that needs its item",
    Reason.UNKNOWN_NAME: "a number beside a name that is not on the sheet",
    Reason.UNCLEAR_NAME: "the name is about as near to two items on the sheet",
    Reason.NOT_A_COUNT: "words from the sheet that make no whole count or command",
    Reason.TOO_FAST: "more words than a person can say in that time",
    Reason.TOO_LONG: "longer than one utterance may be",
    Reason.CLIPPED: "the sound was cut at its loudest: too near to, or too loud for the microphone",
    Reason.SOUND_LOST: "part of the sound was lost on its way in",
    Reason.ENGINES_DIFFER: "two recognisers, which must agree, did not hear the same",
    Reason.STILL_OPEN: "still being said: shown, and never taken",
}
"""What each code means, in words for a person."""
