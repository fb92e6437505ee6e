"""Answers to closed questions: ids and phrases of our own, one tuple a question.

An answer is only in the grammar while its question is open, so it cannot be heard at other times.
"""

from dataclasses import dataclass

from voicecount.words.places import PLACES


@dataclass(frozen=True)
class Choice:
    """One answer."""

    id: str
    phrases: tuple[str, ...]


WAIVE: tuple[Choice, ...] = (
    Choice("life_threatening", ("life is in danger",)),
    Choice("nobody_to_count", ("nobody is free to count",)),
    Choice("other_reason", ("for another reason",)),
)
"""Why a count is not done."""

HAND_OVER: tuple[Choice, ...] = (
    Choice("with_specimen", ("out with the specimen",)),
    Choice("with_patient", ("stays with the patient",)),
    Choice("other_reason", ("for another reason",)),
)
"""Why an item leaves the count."""

REMOVAL: tuple[Choice, ...] = (
    Choice("in_theatre", ("comes out in theatre",)),
    Choice("on_ward", ("comes out on the ward",)),
    Choice("not_planned", ("no plan for it yet",)),
)
"""When packing that stays inside is to come out."""

IMAGE: tuple[Choice, ...] = (
    Choice("nothing_seen", ("nothing seen on the image",)),
    Choice("item_seen", ("it is seen on the image",)),
    Choice("not_certain", ("the image is uncertain",)),
)
"""What an image shows."""

READER: tuple[Choice, ...] = (
    Choice("radiologist", ("read by the radiologist",)),
    Choice("surgeon", ("read by the surgeon",)),
)
"""Who read the image."""

NO_IMAGE: tuple[Choice, ...] = (
    Choice("too_ill", ("the patient is too ill for it",)),
    Choice("too_small", ("it is too small to be seen",)),
    Choice("surgeon_declined", ("the surgeon has declined",)),
    Choice("other_reason", ("for another reason",)),
)
"""Why no image is taken."""

DECISION: tuple[Choice, ...] = (
    Choice("surgeon_goes_on", ("the surgeon will go on",)),
    Choice("wound_explored_again", ("the wound was explored again",)),
    Choice("image_later", ("an image comes later",)),
    Choice("other_reason", ("for another reason",)),
)
"""What was decided about an item that was not found."""

EXPLAINED: tuple[Choice, ...] = (
    Choice("not_written_down", ("an addition was not called",)),
    Choice("first_count_wrong", ("the first count was wrong",)),
    Choice("taken_away_uncalled", ("it was taken away uncalled",)),
)
"""What both people give as the reason why the expected number was not right."""

WHERE: tuple[Choice, ...] = tuple(Choice(place.id, place.phrases) for place in PLACES)
"""Where something was found."""

SITES: tuple[Choice, ...] = (
    Choice("upper_left", ("in the upper left",)),
    Choice("upper_right", ("in the upper right",)),
    Choice("lower_left", ("in the lower left",)),
    Choice("lower_right", ("in the lower right",)),
    Choice("pelvis", ("in the pelvis",)),
    Choice("behind_the_bowel", ("behind the bowel",)),
    Choice("under_the_skin", ("under the skin",)),
    Choice("vagina", ("in the vagina",)),
)
"""Sites in a patient, where a sheet names none of its own."""
