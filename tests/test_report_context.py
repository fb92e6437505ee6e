"""The published figures, computed anew from what was printed; the source stands beside each."""

import pytest

from voicecount.report import context
from voicecount.report.context import (
    BARENFANGER,
    CIMA,
    EGOROVA,
    EGOROVA_COUNTS,
    GAWANDE,
    GREENBERG,
    LEFT_BEHIND,
    PARTS,
    PUBLISHED,
    SUSMALLIAN,
    TRIEU,
    ZHI,
    beside,
)
from voicecount.report.context_sums import CHECKED, Checked, Parts, Published, Source, Topic

ALL = (*PUBLISHED, *LEFT_BEHIND)


def _one(source: Source, says: str) -> Published:
    (found,) = (one for one in ALL if one.source is source and says in one.says)
    return found


def _value(source: Source, says: str) -> float:
    value = _one(source, says).value
    assert value is not None
    return value


def _parts(source: Source, says: str) -> Parts:
    (found,) = (one for one in PARTS if one.source is source and says in one.says)
    return found


def test_cima_2008() -> None:
    # J Am Coll Surg 2008;207:80-7: 0.178 and 0.356 per 1000, 62 %, 67 %; "about 1:5,500"
    assert _value(CIMA, "items left behind") == pytest.approx(0.1779, abs=5e-5)
    assert _value(CIMA, "reports of such") == pytest.approx(0.3557, abs=5e-5)
    assert _value(CIMA, "whose count had agreed") == pytest.approx(61.8, abs=0.05)
    assert _value(CIMA, "X-rays that showed") == pytest.approx(66.7, abs=0.05)
    assert round(191_168 / 34) == 5623
    assert "5,623" in _one(CIMA, "items left behind").note


def test_greenberg_2008() -> None:
    # Ann Surg 2008;248:337-41: 45/34/21 %, 59/38/3 %, 12.8 %
    kinds = [one for one in beside(Topic.WHAT_DIFFERS) if one.source is GREENBERG]
    behind = beside(Topic.BEHIND)
    for found, exact, printed in (
        (kinds, (44.8, 34.5, 20.7), ("45 %", "34 %", "21 %")),
        (behind, (58.6, 37.9, 3.4), ("59 %", "38 %", "3 %")),
    ):
        assert sum(one.k or 0 for one in found) == 29
        assert {one.n for one in found} == {29}
        assert [one.value for one in found] == pytest.approx(exact, abs=0.05)
        assert tuple(one.printed for one in found) == printed
    assert _value(GREENBERG, "at least one difference") == pytest.approx(12.8, abs=0.05)
    # 29 of 2457 episodes, 1.2 %; 8.6 min over 16.6 episodes, about 31 s: worked out, not printed
    episodes = _one(GREENBERG, "all episodes")
    assert (round(episodes.n or 0), episodes.checked) == (2457, Checked.DERIVED)
    assert episodes.value == pytest.approx(1.18, abs=0.005)
    assert _value(GREENBERG, "one episode") == pytest.approx(31.1, abs=0.05)


def test_egorova_2008() -> None:
    # Ann Surg 2008;247:13-8: 153,263 operations, 1,062 differences; 77.2 %, 99.2 %, 1.6 %, 54 %
    table = EGOROVA_COUNTS
    assert (table.all, table.differed, table.left) == (153_263, 1062, 22)
    assert 100 * table.sensitivity == pytest.approx(77.3, abs=0.05)
    assert 100 * table.predictive == pytest.approx(1.60, abs=0.005)
    assert 100 * table.specificity == pytest.approx(99.3, abs=0.05)
    assert 100 * 12 / table.left == pytest.approx(54.5, abs=0.05)
    assert table.all / table.left == pytest.approx(7000, rel=0.01)  # "one in 7,000"
    assert round(1062 / 70) == 15
    assert _value(EGOROVA, "differences reported") == pytest.approx(6.93, abs=0.005)
    assert _value(EGOROVA, "so told") == pytest.approx(100 * table.sensitivity)
    assert _value(EGOROVA, "had an item left") == pytest.approx(100 * table.predictive)


def test_zhi_2024() -> None:
    # BMC Nursing 2024, 10.1186/s12912-024-01912-1, abstract and Table 2
    assert _value(ZHI, "mean in minutes") == pytest.approx(4.855, abs=0.0005)
    assert sum(n for _, n in _parts(ZHI, "came from").parts) == 697
    assert sum(n for _, n in _parts(ZHI, "concerned").parts) == 697
    rate = _one(ZHI, "per hour")
    assert rate.n == pytest.approx(82.13, abs=0.005)
    assert rate.value == pytest.approx(8.49, abs=0.005)
    assert rate.printed == "8.7 per hour"
    assert pytest.approx(0.687, abs=0.0005) == 697 / 1015
    whom = _parts(ZHI, "concerned")
    assert [whom.percent(n) for n in range(3)] == pytest.approx([48.2, 34.9, 16.9], abs=0.05)
    # Table 2 prints these percentages
    table = [13.3, 4.6, 5.0, 20.7, 16.8, 17.2, 12.5, 2.9, 7.0]
    sources = _parts(ZHI, "came from")
    assert [sources.percent(n) for n in range(9)] == pytest.approx(table, abs=0.051)


def test_susmallian_2022() -> None:
    # Isr J Health Policy Res 2022;11:19, abstract: 0.259 per 1000; shares of 145, not of 154
    assert _value(SUSMALLIAN, "events with") == pytest.approx(0.259, abs=0.0005)
    shares = [("without", 53.10), ("mild", 32.41), ("severe", 14.48), ("textiles", 28.97)]
    for says, printed in (*shares, ("not reported", 15.86)):
        assert _value(SUSMALLIAN, says) == pytest.approx(printed, abs=0.005)
        assert _one(SUSMALLIAN, says).printed == f"{printed:.2f} %"
    harm = _parts(SUSMALLIAN, "what came")
    assert sum(n for _, n in harm.parts) == harm.whole == 145
    assert pytest.approx(0.037, abs=0.0006) == 1000 * 21 / 559_910


def test_trieu_2023() -> None:
    # Plast Reconstr Surg Glob Open 2023;11:e5419, abstract; it cuts 5.45 to 5.4
    assert _value(TRIEU, "X-rays") == pytest.approx(21.4, abs=0.05)
    kinds = _parts(TRIEU, "kind of operation")
    assert sum(n for _, n in kinds.parts) == kinds.whole == 55
    exact = [49.1, 14.5, 10.9, 10.9, 9.1, 5.5]
    assert [kinds.percent(n) for n in range(6)] == pytest.approx(exact, abs=0.05)


def test_barenfanger_2004() -> None:
    # Am J Clin Pathol 2004;121:801-3: 3.5 %; "5 %" is printed for 6 of 95
    assert _value(BARENFANGER, "reading back") == pytest.approx(3.53, abs=0.005)
    k, n = context.BARENFANGER_PHYSICIANS
    assert 100 * k / n == pytest.approx(6.3, abs=0.05)


def test_gawande_2003() -> None:
    # N Engl J Med 2003;348:229-35: 37 of 54 patients; 69 % and 31 % of 61 items
    assert _value(GAWANDE, "operated on again") == pytest.approx(68.5, abs=0.05)
    assert _value(GAWANDE, "sponges") == pytest.approx(68.9, abs=0.05)
    assert _value(GAWANDE, "instruments") == pytest.approx(31.1, abs=0.05)


def test_printed_and_computed_agree_or_a_note_says_so() -> None:
    for one in ALL:
        if one.value is None or one.printed is None:
            continue
        number = one.printed.split()[0]
        half = 0.5 * 10 ** -len(number.partition(".")[2])
        assert abs(one.value - float(number)) <= half * 1.01 or one.note, one.says


def test_every_figure_can_be_found_again_and_shown() -> None:
    for one in ALL:
        assert one.figure != "no figure", one.says
        assert str(one.source.year) in str(one.source)
        assert one.checked in CHECKED
        if one.value is not None:
            assert one.n is not None
            assert f"{int(one.n):,}" in one.figure
    assert str(CIMA).endswith("doi 10.1016/j.jamcollsurg.2007.12.047")
    assert set(Topic) == {one.topic for one in PUBLISHED}


def test_a_figure_without_numbers_is_the_printed_one() -> None:
    assert _one(GREENBERG, "resolved").figure == "13 min"
    assert _one(ZHI, "per hour").figure == "8.49 per hour (697 over 82.13)"
    assert _one(CIMA, "reports of such").figure == "0.356 per thousand (68 of 191,168)"
    assert _one(GREENBERG, "at least one").figure == "12.8 % (19 of 148)"
    assert _one(GREENBERG, "resolved").value is None
    assert Published(Topic.TIME, ZHI, "nothing").figure == "no figure"


def test_every_source_is_named_once_and_in_full() -> None:
    named = context.sources()
    assert len(named) == len(set(named)) == 10
    assert {one.source for one in ALL} == set(named)
    assert list(named) == sorted(named, key=str)
    assert GAWANDE.short == "Gawande et al. 2003"


def test_none_of_it_is_a_target() -> None:
    assert "no targets" in context.CAUTION
