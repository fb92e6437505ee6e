"""Facts of invented cases, built by hand, for the tests of the printed record."""

import hashlib
import re
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import made_facts
from made_facts import difference, inside, item_sum

from voicecount.commands.journals import CODEC
from voicecount.commands.verify import check
from voicecount.keep import witness
from voicecount.keep.reading import load_whole_part
from voicecount.report.facts import (
    CaseFacts,
    Chain,
    CountFacts,
    DroppedFacts,
    EventFacts,
    HappeningFacts,
    HeardFacts,
    ItemFacts,
    LineFacts,
    Moment,
    PlannedFacts,
    Session,
    SoundFacts,
    StepFacts,
    TenureFacts,
)
from voicecount.report.gather import CAUTIONS, gather

GOLDEN = Path(__file__).parent / "golden"
MADE = "2026-11-27T08:00:00+00:00"
HEAD = hashlib.sha256(b"an invented head").hexdigest()
BEGAN = datetime(2026, 3, 2, 7, 40, tzinfo=UTC)

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    '#import "x.typ": *',
    "*bold* _slanted_ = heading",
    r"back\slash \u{202e} $x^2$ $\frac{1}{2}$",
    "{{ 7 * 7 }} {% raw %} {# x #}",
    "a & b &amp; c",
    "שלום עולם",
    "مرحبا بك",
    "日本語の名前",
    "😀 👩‍⚕️",
    "e\u0301 n\u0303 İı ß",
    "x" * 200,
    "]]> --> */ </style>",
    "@label #{1 + 1} `code` // end",
)
"""Names that would be something else if they were ever markup, or that few fonts can draw."""


REASSURING = re.compile(
    r"\b(correct|safe|safely|safety|success\w*|succeeded|ok|okay|verified|all clear|cleared|"
    r"complete[ds]?|completely|accurate|good|fine|perfect|valid|passed|certified|guarantee\w*|"
    r"reassur\w*|no problem|nothing missing|accounted for)\b|[✓✔☑✅🟢👍]",
    re.IGNORECASE,
)
HARMLESS = ("Not complete.", "Passed off", "passed off it")
"""Where such a word says the opposite, or is about the field."""


def moment(record: int, at: float) -> Moment:
    return Moment(record=record, at=at, wall=(BEGAN + timedelta(seconds=at)).isoformat())


def item(id_: str, name: str, **more: Any) -> ItemFacts:
    return made_facts.item(id_, name=name, **more)


def line(number: int, at: float, **more: Any) -> LineFacts:
    values: dict[str, Any] = {
        "item": "lap_sponge",
        "numbers": (1, 2, 3, 4, 5),
        "counted": 5,
        "stored": moment(number + 1, at),
        "answered": moment(number + 1, at + 1),
    }
    return made_facts.line(number, **{**values, **more})


def count(number: int, opened: float, finished: float | None, **more: Any) -> CountFacts:
    values: dict[str, Any] = {
        "opened": moment(number, opened),
        "finished": None if finished is None else moment(number + 1, finished),
    }
    return made_facts.count(number, **{**values, **more})


def dropped(at: float, how: str, **more: Any) -> DroppedFacts:
    return DroppedFacts(when=moment(9, at), how=how, **more)


def tenure(
    role: str, person: str | None, began: float, ended: float | None, *, stands_in: bool = False
) -> TenureFacts:
    end = None if ended is None else moment(9, ended)
    return TenureFacts(
        role=role, person=person, began=moment(9, began), ended=end, stands_in=stands_in
    )


def planned(id_: str, title: str, kind: str, leaves_out: tuple[str, ...] = ()) -> PlannedFacts:
    return PlannedFacts(id=id_, title=title, kind=kind, leaves_out=leaves_out, unless_open=False)


def told(at: float, what: str, **more: Any) -> HappeningFacts:
    return made_facts.told(moment(9, at), what, **more)


def case(**more: Any) -> CaseFacts:
    """Give a case of one record, or more of it."""
    values: dict[str, Any] = {
        "recogniser": "typed 0.1.0",
        "began": moment(1, 0.0),
        "ended": moment(1, 0.0),
        "cautions": CAUTIONS,
    }
    return made_facts.case(more.pop("chain", chain()), **{**values, **more})


def chain(**more: Any) -> Chain:
    values: dict[str, Any] = {"digits": witness.digits(HEAD), "spoken": witness.spoken(HEAD)}
    return made_facts.chain(HEAD, **{**values, **more})


def damaged(**more: Any) -> CaseFacts:
    """Give a case whose journal does not verify."""
    where = "line 42: its content does not fit its hash (from byte 12903)"
    return whole(chain=chain(whole=False, damage=where, records=41), **more)


def whole(**more: Any) -> CaseFacts:
    """Give a case with something of every kind in it."""
    places = ("field", "mayo", "back_table", "off_field")
    many = ("wound", *places, "drapes")
    values: dict[str, Any] = {
        "given": (("Case", "K 2041"), ("Theatre", "4")),
        "title": "Caesarean, invented",
        "chain": chain(records=60, notes=("record 31: the wall clock went back by 00:10:00",)),
        "ended": moment(60, 5400.0),
        "sessions": (
            Session(first=1, last=30, software="voicecount 0.1.0"),
            Session(first=31, last=31, software=None),
        ),
        "team": (("robin", "Robin"), ("taylor", "Taylor")),
        "items": (
            item("lap_sponge", "lap sponge", added=5, expected=14, handed_over=1, inside=2),
            item("bulldog", "bulldog clamp", pieces=2, tucked=1, changed=-1, explained=1),
            item("needle", "suture needle", initial=None, expected=None, sheet=None),
        ),
        "counts": (
            count(
                1,
                30,
                300,
                lines=(
                    line(1, 40),
                    line(2, 60, entry="package", form="total", numbers=(5,), answered_by=None),
                    line(
                        3,
                        80,
                        stands=False,
                        confirmed=False,
                        numbers=(),
                        pieces=2,
                        dropped=dropped(82, "disputed", by="circulator", number=11),
                    ),
                    line(4, 90, confirmed=False, answered=None, answered_by=None, by=None),
                ),
                sums=(
                    item_sum("lap_sponge", flags=("further_package", "stated", "not_confirmed")),
                    item_sum("needle", counted=None, expected=None, off=None, confirmed=False),
                ),
                unconfirmed=("needle",),
                left=("bulldog",),
                refused=1,
                disputed=2,
                recounted=1,
                interruptions=1,
            ),
            count(
                2,
                600,
                660,
                id="addition",
                kind="addition",
                title="addition",
                sums=(item_sum("lap_sponge", counted=5, expected=None, off=None),),
                lines=(
                    line(5, 620),
                    line(8, 630, item="needle", counted=2, confirmed=False, answered=None),
                ),
            ),
            count(
                3,
                2400,
                3000,
                id="closing",
                kind="closing",
                title="closing count",
                places=places,
                result="differs",
                differing=("lap_sponge",),
                not_in_it=("bulldog",),
                lines=(line(6, 2410, place="field"), line(7, 2500, place="mayo")),
                sums=(
                    item_sum(
                        "lap_sponge",
                        places=(("field", 5), ("mayo", 5), ("back_table", None)),
                        counted=10,
                        inside=2,
                        tucked=0,
                        expected=14,
                        off=-2,
                    ),
                ),
            ),
            count(
                4,
                4000,
                4600,
                id="final",
                kind="final",
                title="final count",
                places=many,
                result="reconciled",
                sums=(item_sum("lap_sponge", places=tuple((place, 2) for place in many)),),
            ),
            count(5, 5000, None, id="asked", kind="asked", title="count", result=None),
            count(6, 5300, 5350, id="asked", kind="asked", title="count", result=None),
        ),
        "plan": (
            planned("initial", "initial count", "initial"),
            planned("closing", "closing count", "closing", leaves_out=("instruments",)),
        ),
        "tenures": (
            tenure("scrub", None, 0, 1300),
            tenure("circulator", "robin", 0, 1200),
            tenure("circulator", "taylor", 1200, None),
            tenure("scrub", "guest", 1300, 1400, stands_in=True),
            tenure("scrub", None, 1400, None),
        ),
        "due": ("skin count",),
        "happenings": (
            told(700, "incident.counted_off", item="lap_sponge", n=5, by="circulator"),
            told(900, "incident.packed", item="lap_sponge", n=2, site="pelvis", reason="on_ward"),
            told(950, "incident.other_number", item="needle", n=4, printed=5, agreed="scrub"),
            told(960, "incident.added", item="needle", n=1, count=3),
            told(1000, "turned_open", by="scrub", agreed="circulator"),
            told(
                1200,
                "people_changed",
                role="circulator",
                permanent=True,
                outgoing="robin",
                incoming="taylor",
                by="circulator",
                agreed="scrub",
            ),
            told(1300, "people_changed", role="scrub", permanent=False, incoming="guest"),
            told(1400, "people_changed", role="scrub", permanent=False, back=True),
            told(2200, "stood_by", by="scrub"),
            told(2300, "carried_on", by="scrub"),
            told(4900, "count_waived", title="skin count", reason="life_threatening", by="scrub"),
        ),
        "discrepancies": (
            difference(
                1,
                "lap_sponge",
                differs="line",
                expected=14,
                off=-2,
                off_now=-1,
                count=3,
                opened=moment(20, 2600),
                steps=(
                    StepFacts(when=moment(21, 2610), step="pause", answer="done", by="circulator"),
                    StepFacts(when=moment(22, 2620), step="recount", answer="done", n=12),
                    StepFacts(
                        when=moment(23, 2700), step="search", answer="found", where="floor", found=1
                    ),
                    StepFacts(
                        when=moment(24, 2750),
                        step="image",
                        answer="nothing_seen",
                        reader="radiologist",
                    ),
                    StepFacts(
                        when=moment(25, 2760), step="image", answer="not_done", reason="too_ill"
                    ),
                ),
                closed=moment(26, 2900),
                settled="not_found",
                reason="image_later",
                by="circulator",
                agreed="scrub",
            ),
            difference(
                2,
                "bulldog",
                differs="piece",
                expected=2,
                off=1,
                off_now=1,
                place="mayo",
                count=0,
                opened=moment(30, 3500),
            ),
            difference(
                3,
                "needle",
                differs="place",
                expected=5,
                off=-1,
                off_now=-1,
                place="off_field",
                count=4,
                opened=moment(33, 4100),
                closed=moment(35, 4200),
                settled="found",
                n=1,
                where="floor",
                by="scrub",
                agreed="circulator",
            ),
        ),
        "in_patient": (
            inside("lap_sponge", 2, removal="on_ward; not_planned", when=moment(12, 900), of=3),
            inside("bulldog", 1, site="not_said", on_purpose=False, when=moment(13, 950)),
        ),
        "sound": (
            SoundFacts(when=moment(2, 10), what="sound_checked", text="Both can be heard."),
            SoundFacts(when=moment(14, 1800), what="noise_changed", text="It is getting loud."),
            SoundFacts(
                when=moment(15, 2000), what="microphone_changed", text="A microphone is silent."
            ),
        ),
        "heard": HeardFacts(
            utterances=233, accepted=120, ignored=100, asked=(("faint", 12), ("close_call", 1))
        ),
        "events": (
            EventFacts(when=moment(1, 0), kind="case_opened", text="Case opened."),
            EventFacts(when=moment(16, 2200), kind="stood_by", text="Standing by."),
            EventFacts(when=moment(17, 2250), kind="stood_by", text="Standing by."),
            EventFacts(when=moment(18, 2300), kind="carried_on", text="Listening again."),
            EventFacts(when=moment(59, 5390), kind="stood_by", text="Standing by."),
            EventFacts(when=moment(60, 5400), kind="count_finished", text="Count 6 finished."),
        ),
    }
    return case(**{**values, **more})


def long_case(hours: float = 12, counts: int = 60) -> CaseFacts:
    """Give a case that goes on for hours, with counts at even distances."""
    every = hours * 3600 / counts
    return case(
        title="Long case",
        ended=moment(counts * 9, hours * 3600),
        counts=tuple(
            count(
                number,
                (number - 1) * every,
                (number - 1) * every + every / 2,
                title=f"cavity count {number}",
                kind="addition" if number % 5 == 0 else "cavity",
                lines=tuple(line(n, (number - 1) * every + 20 * n) for n in range(1, 9)),
            )
            for number in range(1, counts + 1)
        ),
        events=(EventFacts(when=moment(1, 0), kind="case_opened", text="Case opened."),),
    )


def hostile(name: str) -> CaseFacts:
    """Give a case in which every text that comes from outside is one name."""
    facts = whole()
    return facts.model_copy(
        update={
            "title": name,
            "given": ((name, name),),
            "journal": name,
            "team": (("robin", name), ("taylor", name)),
            "items": tuple(one.model_copy(update={"name": name}) for one in facts.items),
            "counts": tuple(one.model_copy(update={"title": name}) for one in facts.counts),
            "due": (name,),
            "software": name,
            "events": tuple(one.model_copy(update={"text": name}) for one in facts.events),
        }
    )


@cache
def golden(name: str = "whole_case_2026_11_26.vcj") -> CaseFacts:
    """Gather the facts of a journal that an earlier version wrote."""
    reading = check(load_whole_part(GOLDEN / name, CODEC)).reading
    given = (("Case", "C 2041"), ("Theatre", "4"))
    return gather(name, reading, given=given, made=MADE, made_by="voicecount 0.1.0")
