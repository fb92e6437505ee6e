"""Plurals of spoken names: English spelling as taught, from memory."""

import pytest

from voicecount.words.plurals import plural


@pytest.mark.parametrize(
    ("one", "many"),
    [
        ("loop", "loops"),
        ("blade", "blades"),
        ("vessel loop", "vessel loops"),
        ("lap sponge", "lap sponges"),
        ("gauze", "gauze"),
        ("X-ray gauze", "X-ray gauze"),
        ("bandage scissors", "bandage scissors"),
        ("DeBakey forceps", "DeBakey forceps"),
        ("cotton patty", "cotton patties"),
        ("Kelly", "Kellys"),
        ("curved Kelly", "curved Kellys"),
        ("army navy", "army navies"),
        ("tray", "trays"),
        ("Allis", "Allises"),
        ("box", "boxes"),
        ("patch", "patches"),
        ("brush", "brushes"),
        ("knife", "knives"),
        ("Knife", "Knives"),
        ("knife handle", "knife handles"),
        ("cautery tip and scratch pad", "cautery tips and scratch pads"),
        ("sponge on a stick", "sponges on a stick"),
        ("tie without a needle", "ties without a needle"),
        ("roll of gauze", "rolls of gauze"),
        ("number ten blade", "number ten blades"),
        ("blade ten", "blades ten"),
        ("ten", "tens"),
    ],
)
def test_plural(one: str, many: str) -> None:
    """The head noun takes the plural, wherever it stands."""
    assert plural(one) == many
