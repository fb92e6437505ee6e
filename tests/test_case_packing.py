"""Items that stay in the patient for a while or on purpose, and packages, in typed words."""

from cases import (
    CASE,
    CAVITY,
    CLOSING,
    FINAL,
    INITIAL,
    NEEDLES,
    begun,
    case_of,
    of_kind,
    placed,
    told,
)
from playing import Play

from voicecount.count.events import CountResult

NEEDLES_AT: dict[str, tuple[int, ...]] = {"needle": (0, 1, 3, 0)}
CAVITIES = case_of(plan=(INITIAL, CAVITY, CLOSING, FINAL))


def result(played: Play) -> CountResult | None:
    """Finish the count, and give what it came to."""
    played.go("circ: the count is finished")
    found: CountResult | None = of_kind(played, "count_finished")[-1].result
    return found


def test_a_tucked_sponge_counts_as_there_in_a_cavity_only() -> None:
    """Its place is told when a count opens; it counts in the cavity count and has to be out later.

    Source: tucked items are called with their place, and accounted for before closure (Minnesota
    Hospital Association).
    """
    played = told(
        begun(CAVITIES),
        *("tucking something in", "lap sponge one", "in the upper left"),
        agreed="one",
    )
    played.go("circ: begin the uterine count")
    assert played.said.startswith("Tucked in, and to come out: lap sponge, one, in the upper left.")
    played.go(*placed(CAVITIES, {"lap": (2, 0, 7, 0), **NEEDLES_AT}))
    assert result(played) is CountResult.AGREES

    played.go("circ: begin the closing count", *placed(CAVITIES, {"lap": (2, 0, 7, 0)}))
    assert "Lap sponges, nine. Expected, ten. One short." in played.said


def test_a_tucked_sponge_may_stay_longer_by_policy() -> None:
    """Where policy lets it, a tucked item counts at closing too, and has to be out at the end."""
    sheet = case_of(plan=(INITIAL, CLOSING, FINAL), policy={"tucked_counts_until": "closing"})
    played = told(
        begun(sheet), "tucking something in", "lap sponge one", "in the pelvis", agreed="one"
    )
    played.go("circ: begin the closing count")
    played.go(*placed(sheet, {"lap": (2, 0, 7, 0), **NEEDLES_AT}))
    assert result(played) is CountResult.AGREES

    played.go("circ: begin the final count", *placed(sheet, {"lap": (2, 0, 7, 0)}))
    assert "One short." in played.said


def test_a_tucked_sponge_comes_out() -> None:
    """Out again, it is counted where it lies, and nothing is told as tucked in any more."""
    played = told(
        begun(), "tucking something in", "lap sponge one", "in the pelvis", agreed="one", by="circ"
    )
    told(played, "that one came out again", "lap sponge one", agreed="one")
    assert played.said == "Lap sponge, one, out of the patient."
    played.go("circ: begin the closing count")
    assert played.said == "Closing count. Begin with lap sponges, on the field."
    played.go(*placed(CASE, {"lap": (3, 0, 7, 0), **NEEDLES_AT}))
    assert result(played) is CountResult.AGREES


def test_a_case_that_ends_with_one_tucked_in_says_so() -> None:
    """A tucked item that nobody took out is told at the end and stands in the record."""
    played = told(
        begun(), "tucking something in", "lap sponge one", "in the pelvis", agreed="one", by="circ"
    )
    played.go("circ: close the record now")
    assert "Tucked in, and to come out: lap sponge, one, in the pelvis." in played.said
    played.go("scrub: yes that is right")
    assert of_kind(played, "case_closed")[0].tucked == ("lap",)


def test_packing_is_never_read_as_plain_agreement() -> None:
    """With packing left inside the result is reconciled with items left on purpose.

    Source: never plain correct (AORN 2022, in a lesson for perioperative nurses; composite ledger).
    """
    played = told(
        begun(),
        *("packing is left inside", "lap sponges two", "in the pelvis", "comes out in theatre"),
        agreed="two",
    )
    played.go("circ: begin the closing count")
    played.go(*placed(CASE, {"lap": (1, 0, 7, 0), **NEEDLES_AT}))
    assert result(played) is CountResult.LEFT_ON_PURPOSE
    assert "Left in the patient on purpose: lap sponges, two, in the pelvis." in played.said
    assert "Reconciled, with items left in the patient on purpose." in played.said

    played.go("circ: close the record now", "scrub: yes that is right")
    assert of_kind(played, "case_closed")[0].inside == ("lap",)
    assert "on purpose" in played.said


def test_old_packing_stays_out_of_the_new_count() -> None:
    """At a return, packing of the earlier operation that comes out is recorded and not counted.

    Source: isolate removed packing, keep it out of the new count (AORN 2022, in a lesson).
    """
    played = told(begun(), "old packing came out", "lap sponges two", agreed="two")
    played.go("circ: begin the closing count")
    played.go(*placed(CASE, {"lap": (3, 0, 7, 0), **NEEDLES_AT}))

    assert result(played) is CountResult.AGREES


# Packages


def test_a_package_with_a_wrong_number_is_not_counted() -> None:
    """A package of four instead of five is set aside: nothing of it is added.

    Source: take it off, label it, keep it out of the count (WHO and AORN, from memory).
    """
    played = begun(CASE, "scrub: add to the count", "scrub: lap sponges one two three four")
    played.go("(wait)", "circ: the count is finished")

    assert of_kind(played, "package_set_aside")[0].held == 4
    assert "A package of lap sponges with four, not five." in " ".join(played.texts)
    assert played.ledger.expected("lap") == 10


def test_a_suture_pack_with_another_number_changes_what_is_expected() -> None:
    """Needles are counted by the printed number first, and by the true one when a pack is opened.

    Source: ORNAC correction to the 12th edition, 3.2.61 (3 September 2015).
    """
    sheet = case_of({**NEEDLES, "expect": 8})
    played = told(
        begun(sheet),
        "that pack held another number",
        "suture needles",
        "four",
        "five",
        agreed="five",
    )
    played.go("circ: begin the closing count", *placed(sheet, {"needle": (0, 0, 9, 0)}))

    assert "together nine" in played.said
    assert result(played) is CountResult.AGREES
