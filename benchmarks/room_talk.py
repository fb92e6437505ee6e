"""More talk in the room for the test part: telephones, orders, jokes, numbers of other things.

Drawn up apart from benchmarks/phrases.py so that the clips of older runs stay what they were.
Invented here; none is among the tuning part's sentences or the training's.
"""

MORE_TALK = {
    "tune": [],
    "test": [
        # on the telephone
        "hello this is theatre nine speaking",
        "no he cannot come to the telephone while he is scrubbed",
        "ring the blood bank on extension four one seven",
        "the switchboard has put me on hold again",
        "tell them we shall ring back at a quarter to two",
        # orders and requests
        "heparin five thousand units now",
        "two grams of the antibiotic before we cut",
        "run another litre in over thirty minutes",
        "turn the diathermy down to twenty five",
        "tilt the table ten degrees towards me",
        "swab my forehead somebody",
        "lift that drape and look underneath",
        "fetch a second pair of hands from next door",
        "get me a stitch that does not break",
        "send the specimen off in two separate pots",
        # times, dates, rooms, doses
        "knife to skin was at eight fifty two",
        "her birthday is the thirtieth of march",
        "the clinic letter is dated the fifth",
        "recovery bay six is free and bay eight is not",
        "the pressure is one hundred and twenty over eighty",
        "his haemoglobin was ninety one this morning",
        "that makes forty minutes of clamp time",
        "she is on her third bag of fluid",
        "room eleven wants our microscope at noon",
        "number fourteen on the list has been cancelled",
        # teaching
        "count the ribs from below and you find the twelfth",
        "what are the four branches called",
        "show me how you would hold the scissors",
        "in my first year i dropped a whole tray of instruments",
        "always look at the vein before you clip anything",
        # jokes and small talk
        "a surgeon walks into a bakery and asks for a small incision",
        "seven days without coffee makes one weak",
        "i told my brother three times and he still laughed",
        "we lost two nil and the goalkeeper was asleep",
        "the recipe wants six eggs and i had five",
        "she ran ten miles for charity on sunday",
        "their baby weighed nine pounds exactly",
        # near what the sheet holds
        "the wire in my doorbell has come loose",
        "he plays the spoons and she plays the clamp or so they say",
        "i have a bone to pick with the rota team",
        "is there a plug for this tube anywhere",
        "one of those balls of cotton wool would do for my ear",
        "put the lid on the sharps bin when it is full",
        "was that the first or the second needle you asked about",
    ],
}
"""By part: sentences that must never be taken for a count."""
