"""Published figures that stand beside those of many records: from other places, by other methods.

They are context and nothing more. None is a target, none is compared with, and no figure of a
record is called better or worse for one. What such a figure is, and how it is computed from what
was printed, is in ``context_sums.py``.
"""

from voicecount.report.context_sums import Checked, Parts, Published, Source, Topic, TwoByTwo

CAUTION = (
    "These figures come from other hospitals, other years and other ways of observing. They say "
    "what was found there. They are no targets, and nothing here is to be judged by them."
)

CIMA = Source(
    "Cima et al.", "J Am Coll Surg 2008;207:80-7", 2008, "10.1016/j.jamcollsurg.2007.12.047"
)
GREENBERG = Source(
    "Greenberg et al.", "Ann Surg 2008;248:337-41", 2008, "10.1097/SLA.0b013e318181c9a3"
)
EGOROVA = Source("Egorova et al.", "Ann Surg 2008;247:13-8", 2008)
GAWANDE = Source("Gawande et al.", "N Engl J Med 2003;348:229-35", 2003)
SUSMALLIAN = Source(
    "Susmallian et al.", "Isr J Health Policy Res 2022;11:19", 2022, "10.1186/s13584-022-00530-z"
)
TRIEU = Source(
    "Trieu et al.",
    "Plast Reconstr Surg Glob Open 2023;11:e5419",
    2023,
    "10.1097/GOX.0000000000005419",
)
ROWLANDS = Source("Rowlands", "AORN J 2012;96:272-84", 2012)
ZHI = Source("Zhi, Gao and Wang", "BMC Nursing", 2024, "10.1186/s12912-024-01912-1")
BUBRIC = Source(
    "Bubric et al.",
    "Jt Comm J Qual Patient Saf 2021;47:556-62",
    2021,
    "10.1016/j.jcjq.2021.05.004",
)
BARENFANGER = Source("Barenfanger et al.", "Am J Clin Pathol 2004;121:801-3", 2004)

EGOROVA_COUNTS = TwoByTwo(17, 5, 1045, 152_196)
"""Worked back from the printed shares; the specificity comes to 99.3 %, printed is 99.2 %."""

_BACK = "the whole numbers are worked back from the printed percentages"
_OF_36 = "36 operations were watched; how many counts is not in what was read"

PUBLISHED: tuple[Published, ...] = (
    Published(
        Topic.HOW_OFTEN,
        GREENBERG,
        "operations with at least one difference",
        19,
        148,
        printed="12.8 %",
    ),
    Published(
        Topic.HOW_OFTEN,
        GREENBERG,
        "differences in all episodes of counting",
        29,
        16.6 * 148,
        printed=None,
        checked=Checked.DERIVED,
        note="16.6 episodes in each of 148 operations; no such figure is printed",
    ),
    Published(
        Topic.HOW_OFTEN,
        EGOROVA,
        "differences reported in all operations",
        1062,
        153_263,
        per=1000,
        unit="per thousand",
        note="taken from reports, not watched",
    ),
    Published(
        Topic.HOW_OFTEN,
        ROWLANDS,
        "wrong counts among the incident reports of six hospitals",
        printed="25 %",
    ),
    Published(
        Topic.HOW_OFTEN,
        TRIEU,
        "X-rays for a foreign body that a count which differed led to",
        55,
        257,
        printed="21.4 %",
        note="none of the 257 showed one",
    ),
    Published(Topic.WHAT_DIFFERS, GREENBERG, "sponges", 13, 29, printed="45 %", note=_BACK),
    Published(Topic.WHAT_DIFFERS, GREENBERG, "instruments", 10, 29, printed="34 %", note=_BACK),
    Published(Topic.WHAT_DIFFERS, GREENBERG, "needles", 6, 29, printed="21 %", note=_BACK),
    Published(
        Topic.WHAT_DIFFERS, CIMA, "near misses in which needles were miscounted", printed="76 %"
    ),
    Published(
        Topic.BEHIND, GREENBERG, "an item that was mislaid", 17, 29, printed="59 %", note=_BACK
    ),
    Published(
        Topic.BEHIND, GREENBERG, "a fault of writing down", 11, 29, printed="38 %", note=_BACK
    ),
    Published(Topic.BEHIND, GREENBERG, "a miscount", 1, 29, printed="3 %", note=_BACK),
    Published(Topic.TIME, GREENBERG, "counting in one operation, mean", printed="8.6 min"),
    Published(Topic.TIME, GREENBERG, "episodes of counting in one operation", printed="16.6"),
    Published(
        Topic.TIME,
        GREENBERG,
        "one episode of counting, mean",
        8.6 * 60,
        16.6,
        per=1,
        unit="s",
        checked=Checked.DERIVED,
        note="8.6 min over 16.6 episodes",
    ),
    Published(Topic.TIME, GREENBERG, "until a difference was resolved, mean", printed="13 min"),
    Published(
        Topic.TIME,
        ZHI,
        "first count, mean in minutes",
        4927.8,
        1015,
        per=1,
        unit="min",
        printed="4.85 min",
        note="from 1.03 to 9.51 min",
    ),
    Published(
        Topic.INTERRUPTIONS,
        ZHI,
        "interruptions per hour of first counts",
        697,
        4927.8 / 60,
        per=1,
        unit="per hour",
        printed="8.7 per hour",
        note="the printed rate is higher than all interruptions over all hours; perhaps it is the "
        "mean of single rates",
    ),
    Published(
        Topic.INTERRUPTIONS, BUBRIC, "initial counts interrupted", printed="10.0 %", note=_OF_36
    ),
    Published(Topic.INTERRUPTIONS, BUBRIC, "additions interrupted", printed="15.4 %", note=_OF_36),
    Published(
        Topic.INTERRUPTIONS, BUBRIC, "closing counts interrupted", printed="33.3 %", note=_OF_36
    ),
    Published(
        Topic.INTERRUPTIONS,
        BUBRIC,
        "interruptions by a surgeon, mostly one who asked for an item",
        printed="80.4 %",
        note="36 operations were watched; how many interruptions is not in what was read",
    ),
    Published(
        Topic.READ_BACK,
        BARENFANGER,
        "telephone calls of a laboratory in which reading back showed an error",
        29,
        822,
        printed="3.5 %",
        note="12.8 s for each reading back; no operating room",
    ),
    Published(
        Topic.AGREEING,
        CIMA,
        "operations with an item left behind whose count had agreed",
        21,
        34,
        printed="62 %",
    ),
    Published(
        Topic.AGREEING,
        GAWANDE,
        "the same, of those operations in which was counted",
        printed="88 %",
        checked=Checked.SECONDARY,
    ),
    Published(
        Topic.AGREEING,
        EGOROVA,
        "of such operations, those whose count differed and so told",
        EGOROVA_COUNTS.left_and_differed,
        EGOROVA_COUNTS.left,
        printed="77.2 %",
        note=_BACK,
    ),
    Published(
        Topic.AGREEING,
        EGOROVA,
        "counts that differed and had an item left behind",
        EGOROVA_COUNTS.left_and_differed,
        EGOROVA_COUNTS.differed,
        printed="1.6 %",
        note=f"{_BACK}; one in 70 is printed as well, which fits 15 of 1,062",
    ),
)
"""Beside figures of many records, in the order of telling."""

LEFT_BEHIND: tuple[Published, ...] = (
    Published(
        Topic.AGREEING,
        CIMA,
        "items left behind",
        34,
        191_168,
        1000,
        "per thousand",
        "0.178 per thousand",
        note="one in 5,623; printed is about one in 5,500",
    ),
    Published(
        Topic.AGREEING,
        CIMA,
        "reports of such",
        68,
        191_168,
        1000,
        "per thousand",
        "0.356 per thousand",
    ),
    Published(Topic.AGREEING, CIMA, "X-rays that showed the item", 12, 18, printed="67 %"),
    Published(
        Topic.AGREEING,
        SUSMALLIAN,
        "events with a missing item",
        145,
        559_910,
        1000,
        "per thousand",
        "0.259 per thousand",
        note="154 are named at first, but all shares are of 145",
    ),
    Published(Topic.AGREEING, SUSMALLIAN, "without harm", 77, 145, printed="53.10 %"),
    Published(Topic.AGREEING, SUSMALLIAN, "with mild harm", 47, 145, printed="32.41 %"),
    Published(Topic.AGREEING, SUSMALLIAN, "with severe harm", 21, 145, printed="14.48 %"),
    Published(Topic.AGREEING, SUSMALLIAN, "textiles", 42, 145, printed="28.97 %"),
    Published(
        Topic.AGREEING, SUSMALLIAN, "not reported as they should be", 23, 145, printed="15.86 %"
    ),
    Published(Topic.AGREEING, GAWANDE, "patients operated on again", 37, 54),
    Published(Topic.AGREEING, GAWANDE, "sponges among the items", 42, 61, printed="69 %"),
    Published(Topic.AGREEING, GAWANDE, "instruments among the items", 19, 61, printed="31 %"),
)
"""Of items left behind: no record can tell of them, so these stand apart."""


PARTS: tuple[Parts, ...] = (
    Parts(
        ZHI,
        "interruptions of first counts, by where they came from",
        697,
        (
            ("people who came or went", 93),
            ("surgeons", 32),
            ("anaesthetists", 35),
            ("instruments", 144),
            ("sterile supply", 117),
            ("the procedure", 120),
            ("the room", 87),
            ("neuromonitoring staff", 20),
            ("the nurses themselves", 49),
        ),
    ),
    Parts(
        ZHI,
        "interruptions of first counts, by whom they concerned",
        697,
        (("the circulator", 336), ("both", 243), ("the scrub", 118)),
    ),
    Parts(
        SUSMALLIAN,
        "events with a missing item, by what came of them",
        145,
        (("no harm", 77), ("mild harm", 47), ("severe harm", 21)),
    ),
    Parts(
        TRIEU,
        "X-rays after counts that differed, by kind of operation",
        55,
        (
            ("free flap", 27),
            ("hand", 8),
            ("breast", 6),
            ("abdomen", 6),
            ("skull and face", 5),
            ("cosmetic", 3),
        ),
    ),
)

BARENFANGER_PHYSICIANS = (6, 95)
"""Errors in calls to physicians: printed as 5 %, but 6 of 95 is 6.3 %."""


def sources() -> tuple[Source, ...]:
    """Give every source of a figure once, by its authors."""
    found = {one.source for one in (*PUBLISHED, *LEFT_BEHIND)}
    return tuple(sorted(found, key=str))


def beside(topic: Topic) -> tuple[Published, ...]:
    """Give the published figures that stand beside a topic."""
    return tuple(one for one in PUBLISHED if one.topic is topic)
