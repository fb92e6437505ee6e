"""Who had a role is who had it then: one role for each tenure, chosen by the record's number."""

from itertools import pairwise

from fhir_facts import RIBBON, case, count, difference, dropped, item_sum, line, step, told, when
from fhir_reading import GOLDEN, Json, by_url, code_of, golden, paragraphs, resources

from voicecount.report.facts import CaseFacts, Moment
from voicecount.report.fhir import bundle
from voicecount.report.fhir_tenures import tenure_at

CHANGE = {"role": "scrub", "permanent": True, "by": "scrub", "agreed": "circulator"}


def names(made: Json, *references: Json) -> list[str]:
    """Give role and name of those whom references lead to; what is not a role as it is shown."""
    there = by_url(made)
    found = []
    for one in references:
        if "reference" not in one:
            found.append(one["display"])
            continue
        role = there[one["reference"]]
        person = role["practitioner"]
        name = (
            there[person["reference"]]["name"][0]["text"]
            if "reference" in person
            else person["display"]
        )
        found.append(f"{code_of(role['code'][0])} {name}")
    return found


def changed() -> CaseFacts:
    """Give a case in which Cd takes over from Ab at record 20, and for a break at 30 to 40."""
    breaks = {"role": "circulator", "permanent": False}
    happenings = (
        told(20, "people_changed", outgoing="ab", incoming="cd", **CHANGE),
        told(30, "people_changed", incoming="ab", **breaks),
        told(40, "people_changed", outgoing="ab", back=True, **breaks),
        told(25, "incident.dropped", item=RIBBON, n=3, by="scrub", agreed="circulator"),
        told(35, "incident.cut", item=RIBBON, n=3, by="scrub", agreed="circulator"),
    )
    lines = (
        line(19, RIBBON, counted=41, answered=when(21)),
        line(31, RIBBON, counted=41, answered=when(32)),
    )
    closing = count(1, "closing", "closing count", lines=lines, sums=(item_sum(RIBBON),))
    return case(happenings=happenings, counts=(closing,), in_patient=())


def tenures(made: Json) -> list[Json]:
    return [one for one in resources(made, "PractitionerRole") if "period" in one]


def at(record: int) -> str:
    return when(record).wall.replace(".5+", ".500000+")


def test_each_tenure_is_a_role_with_its_time() -> None:
    """A break ends; only the record's end ends the last ones."""
    made = bundle(changed())
    found = tenures(made)

    assert [code_of(one["code"][0]) for one in found] == [
        *("scrub", "circulator", "scrub", "circulator", "circulator"),
    ]
    assert [(one["period"]["start"], one["period"]["end"]) for one in found] == [
        (at(1), at(20)),
        (at(1), at(30)),
        (at(20), at(96)),
        (at(30), at(40)),
        (at(40), at(96)),
    ]
    assert [one["code"][0]["text"] for one in found][3] == "circulator, for a break"
    assert paragraphs(found[3])[0] == "Circulator, for a break: Ab."
    assert paragraphs(found[4])[:2] == [
        "Circulator: which person is not known to this record.",
        f"From {at(40)} to the end of the record; it may have gone on.",
    ]
    assert paragraphs(found[2])[2] == (
        "Change, scrub, to stay. Goes: Ab. Comes: Cd. Told by scrub, agreed by circulator. "
        f"{at(20)}."
    )
    assert ["back from a break" in " ".join(paragraphs(one)) for one in found].index(True) == 4


def test_two_never_hold_a_role_at_once() -> None:
    """Of each role there is one at any time, in made-up and in real records."""
    for facts in (case(), changed(), *map(golden, GOLDEN)):
        found = tenures(bundle(facts))
        for role in ("scrub", "circulator"):
            spans = [
                (one["period"]["start"], one["period"].get("end", "9"))
                for one in found
                if code_of(one["code"][0]) == role
            ]
            assert spans == sorted(spans)
            assert all(one[1] <= after[0] for one, after in pairwise(spans))


def test_the_last_role_stays_open_as_long_as_the_record_does() -> None:
    """A record that nobody ended may go on, and so may they."""
    found = tenures(bundle(case(closed=None, happenings=())))

    assert ["end" in one["period"] for one in found] == [False, False]


def test_a_role_that_ended_has_its_end_though_the_clock_was_set_back() -> None:
    """A start alone would say that it is still held; R4 (per-1) takes no end before the start."""
    facts = changed()
    back = facts.tenures[0].model_copy(
        update={"ended": Moment(record=20, at=20.0, wall="2031-05-06T06:00:00+00:00")}
    )
    found = tenures(bundle(facts.model_copy(update={"tenures": (back, *facts.tenures[1:])})))

    assert found[0]["period"] == {"end": "2031-05-06T06:00:00+00:00"}


def test_the_operation_lists_every_tenure() -> None:
    """All who had a role, in the order in which they began."""
    made = bundle(changed())
    (procedure,) = resources(made, "Procedure")

    assert names(made, *(one["actor"] for one in procedure["performer"])) == [
        "scrub Ab",
        "circulator Not known to this record",
        "scrub Cd",
        "circulator Ab",
        "circulator Not known to this record",
    ]
    assert [code_of(one["function"]) for one in procedure["performer"]] == [
        *("scrub", "circulator", "scrub", "circulator", "circulator"),
    ]


def test_performers_are_those_who_had_the_role_at_the_record() -> None:
    """In one count two scrubs called, and another circulator confirmed for a while."""
    made = bundle(changed())
    item, whole = (
        next(one for one in resources(made, "Observation") if code_of(one["code"]) == code)
        for code in ("item-count", "closing")
    )
    everybody = [
        "scrub Ab",
        "circulator Not known to this record",
        "scrub Cd",
        "circulator Ab",
    ]

    assert names(made, *item["performer"]) == everybody
    assert names(made, *whole["performer"]) == everybody
    first, second = paragraphs(item)[3:5]
    assert f"called by scrub (Ab), {at(19)}; confirmed by circulator, {at(21)}." in first
    assert f"called by scrub (Cd), {at(31)}; confirmed by circulator (Ab), {at(32)}." in second


def test_each_pair_of_people_confirmed_what_it_confirmed() -> None:
    """A change in the middle of a count makes two pairs, each with its lines and its time."""
    made = bundle(changed())
    pairs = [one for one in resources(made, "Provenance") if len(one["agent"]) == 2]

    assert [names(made, *(agent["who"] for agent in one["agent"])) for one in pairs] == [
        ["scrub Ab", "circulator Not known to this record"],
        ["scrub Cd", "circulator Ab"],
    ]
    assert [paragraphs(one)[1] for one in pairs] == [
        *("ribbon gauze, line 19.", "ribbon gauze, line 31."),
    ]
    assert [one["occurredPeriod"] for one in pairs] == [
        {"start": at(19), "end": at(21)},
        {"start": at(31), "end": at(32)},
    ]
    assert [one["recorded"] for one in pairs] == [at(21), at(32)]
    assert (
        "called by scrub (Cd), confirmed with the number by circulator (Ab)."
        in (paragraphs(pairs[1])[0])
    )


def test_who_confirmed_is_who_was_there_then_and_not_when_it_was_called() -> None:
    """The circulator changes between the call at 29 and its answer at 31."""
    lines = (line(29, RIBBON, counted=41, answered=when(31)),)
    held = count(1, "closing", "closing count", lines=lines, sums=(item_sum(RIBBON),))
    made = bundle(changed().model_copy(update={"counts": (held,)}))
    (item,) = (o for o in resources(made, "Observation") if code_of(o["code"]) == "item-count")
    (pair,) = (one for one in resources(made, "Provenance") if len(one["agent"]) == 2)

    assert names(made, *item["performer"]) == ["scrub Cd", "circulator Ab"]
    assert names(made, *(agent["who"] for agent in pair["agent"])) == ["scrub Cd", "circulator Ab"]


def test_a_tenure_begins_with_its_record_and_ends_before_the_next() -> None:
    """At the very record of a change the role is that of the one who comes."""
    facts = changed()

    assert [tenure_at(facts, "scrub", when(at_)) for at_ in (1, 19, 20, 21)] == [0, 0, 2, 2]
    assert tenure_at(facts, "surgeon", when(20)) is None
    assert tenure_at(facts, None, when(20)) is None


def test_a_happening_has_the_people_of_its_time() -> None:
    """Before and in the break."""
    made = bundle(changed())
    dropped_, cut = (
        next(one for one in resources(made, "Observation") if code_of(one["code"]) == code)
        for code in ("incident.dropped", "incident.cut")
    )

    assert names(made, *dropped_["performer"])[1] == "circulator Not known to this record"
    assert names(made, *cut["performer"]) == ["scrub Cd", "circulator Ab"]


def test_a_difference_has_the_people_of_each_step() -> None:
    """Who told of a step is its author; the end has its own people."""
    steps = (step(19, "pause", by="circulator"), step(31, "search", where="floor", by="circulator"))
    one = difference(
        1, steps=steps, closed=when(50), settled="found", n=3, by="scrub", agreed="circulator"
    )
    made = bundle(changed().model_copy(update={"discrepancies": (one,)}))
    (issue,) = resources(made, "DetectedIssue")

    assert names(made, *(part["author"] for part in issue["mitigation"])) == [
        *("circulator Not known to this record", "circulator Ab", "scrub Cd"),
    ]
    assert "said by scrub (Cd); agreed by circulator." in issue["detail"]
    assert "Told by circulator (Ab)." in issue["detail"]


def test_what_was_told_of_a_step_keeps_its_teller() -> None:
    """An annotation has no place for a role in R4: it is a text."""
    steps = (
        step(31, "tell", by="circulator"),
        step(32, "image", by="circulator"),
        step(33, "tell"),
    )
    made = bundle(changed().model_copy(update={"discrepancies": (difference(1, steps=steps),)}))
    told_, untold = resources(made, "Communication")
    (image,) = resources(made, "ImagingStudy")

    assert told_["note"][0]["authorString"] == image["note"][0]["authorString"] == "circulator (Ab)"
    assert told_["note"][0]["time"] == at(31)
    assert "authorString" not in untold["note"][0]
    assert "sender" not in told_  # who told the surgeon is in no record


def test_who_spoke_is_not_known_on_one_channel() -> None:
    """Then nobody is a performer, and the text says so."""
    lines = (line(12, RIBBON, by=None, answered_by=None),)
    held = count(1, "closing", "closing count", lines=lines, sums=(item_sum(RIBBON),))
    made = bundle(case(counts=(held,), roles_told_apart=False))
    (pair,) = (one for one in resources(made, "Provenance") if len(one["agent"]) == 2)
    (item,) = (o for o in resources(made, "Observation") if code_of(o["code"]) == "item-count")

    assert names(made, *(agent["who"] for agent in pair["agent"])) == [
        *["Not known: one channel for both people"] * 2,
    ]
    assert "called by not known, " in paragraphs(item)[3]
    assert "performer" not in item


def test_records_without_tenures_have_a_role_without_a_name() -> None:
    """As before: known by role alone, with no time."""
    made = bundle(case(tenures=()))
    roles = resources(made, "PractitionerRole")
    (procedure,) = resources(made, "Procedure")

    assert not tenures(made)
    assert [one["code"][0]["text"] for one in roles] == [
        *("circulator", "scrub", "radiologist", "surgeon", "person in charge"),
    ]
    assert len(procedure["performer"]) == 2


def test_a_change_of_no_role_is_still_told() -> None:
    """It began no tenure; it stands in the section's own text."""
    sections = resources(bundle(case()), "Composition")[0]["section"]
    (text,) = (paragraphs(one) for one in sections if code_of(one["code"]) == "people")

    assert any(one.startswith("Change, role not said, back from a break.") for one in text)
    assert sum(one.startswith("Change, ") for one in text) == 4


def test_what_was_said_against_a_line_is_told_with_who_said_it() -> None:
    """In the line's text, and as a component with its kind as a code."""
    against = (
        dropped(32, "disputed", by="circulator", number=40),
        dropped(32, "disputed", by="circulator"),
        dropped(32, "recount", why="differs"),
        dropped(41, "taken_back", by="scrub", agreed="circulator"),
        dropped(41, "replaced", by="scrub"),
        dropped(41, "set_aside", by="circulator"),
    )
    lines = tuple(
        line(31, RIBBON, stands=False, confirmed=False, answered=None, dropped=one).model_copy(
            update={"line": n}
        )
        for n, one in enumerate(against, start=1)
    )
    held = count(1, "closing", "closing count", lines=lines, sums=(item_sum(RIBBON),))
    made = bundle(changed().model_copy(update={"counts": (held,)}))
    (item,) = (o for o in resources(made, "Observation") if code_of(o["code"]) == "item-count")
    parts = [one for one in item["component"] if code_of(one["code"]) == "dropped"]
    texts = [
        f"Disputed; the number said was 40; told by circulator (Ab); {at(32)}.",
        f"Disputed; the answer was no; told by circulator (Ab); {at(32)}.",
        f"To be counted again; it differs from what is expected; {at(32)}.",
        f"Taken back by both; told by scrub (Cd), agreed by circulator; {at(41)}.",
        f"In the line that went on from it; told by scrub (Cd); {at(41)}.",
        f"Set aside with its package; told by circulator; {at(41)}.",
    ]

    assert [one["valueCodeableConcept"]["text"] for one in parts] == texts
    assert [code_of(one["valueCodeableConcept"]) for one in parts] == [one.how for one in against]
    assert [one["code"]["text"] for one in parts][3] == "Said or done against line 4"
    for text, said in zip(paragraphs(item)[3:], texts, strict=True):
        assert said in text


def test_the_order_of_records_decides_and_not_the_clock() -> None:
    """The clock was set back by an hour between two records: the people are the right ones."""
    facts = changed()
    early = Moment(record=31, at=31.0, wall="2031-05-06T06:00:00+00:00")
    lines = (line(31, RIBBON, stored=early, answered=early),)
    held = count(1, "closing", "closing count", lines=lines, sums=(item_sum(RIBBON),))
    made = bundle(facts.model_copy(update={"counts": (held,)}))
    (item,) = (o for o in resources(made, "Observation") if code_of(o["code"]) == "item-count")

    assert names(made, *item["performer"]) == ["scrub Cd", "circulator Ab"]
