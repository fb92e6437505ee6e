"""Cases whose bundles are tried, names of bad will, and how a bundle is looked into."""

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import fromstring

import pytest
from fhir_facts import DAMAGE, RIBBON, case, count, difference, inside, item_sum

from voicecount.commands.journals import CODEC
from voicecount.commands.verify import check
from voicecount.keep.reading import load_whole_part
from voicecount.report.facts import CaseFacts
from voicecount.report.gather import gather

GOLDEN = sorted((Path(__file__).parent / "golden").glob("*.vcj"))
HOSTILE = {
    "script": "<script>alert(1)</script>&\"'",
    "right_to_left": "\u05e4\u05d3 \u05d2\u05d6\u05d4 12",
    "override": "abc\u202e31\u202c",
    "isolate": "\u2066abc\u2069\u2069\u2068",
    "emoji": "\U0001f9fd\U0001f469\u200d\u2695\ufe0f",
    "long": "x" * 200,
    "controls": "a\x00b\x01c\x1fd\x7fe\u0085f\x0bg",
    "spaces": " \t\r\n ",
    "nothing": "",
    "half_a_pair": "a\ud800b",
    "no_character": "a\ufffeb\uffffc",
    "comment": "]]><!-- --><p onclick='x()'>",
}

Json = dict[str, Any]


@cache
def golden(path: Path) -> CaseFacts:
    return gather(
        path.name,
        check(load_whole_part(path, CODEC)).reading,
        given=(("Case", "G 1"),),
        made="2031-05-06T09:00:00+00:00",
        made_by="voicecount 9.9.9",
    )


def hostile_case(name: str) -> CaseFacts:
    """Put a name wherever a text of outside can stand."""
    facts = case(name)
    counts = (*facts.counts, count(6, "asked", name, sums=(item_sum(RIBBON),)))
    return facts.model_copy(
        update={
            "title": name,
            "journal": name,
            "software": name,
            "given": ((name, name),),
            "team": (("ab", name), ("cd", name)),
            "cautions": (name,),
            "counts": counts,
            "due": (name,),
            "recogniser": name,
            "voice": name,
            "made_by": name,
            "in_patient": (
                inside(RIBBON, 37, site=name, removal=name),
                inside(name, 38, site=name),
            ),
            "discrepancies": (*facts.discrepancies, difference(5, item=name, reason=name)),
            "chain": facts.chain.model_copy(
                update={"whole": False, "damage": name, "notes": (name,)}
            ),
        }
    )


CASES = {
    "made_up": case(),
    "damaged": case(chain=case().chain.model_copy(update={"whole": False, "damage": DAMAGE})),
    "open": case(closed=None, counts=(), due=("skin count",), heard=None),
    "empty": case(
        given=(),
        heard=None,
        counts=(),
        due=(),
        happenings=(),
        discrepancies=(),
        in_patient=(),
        sound=(),
        items=(),
        team=(),
        cautions=(),
        roles_told_apart=False,
    ),
    **{path.stem: golden(path) for path in GOLDEN},
    **{name: hostile_case(text) for name, text in HOSTILE.items()},
}
every_case = pytest.mark.parametrize("facts", CASES.values(), ids=CASES)


def values(part: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Give every plain value with the names on the way to it."""
    if isinstance(part, dict):
        for name, inner in part.items():
            yield from values(inner, (*path, name))
    elif isinstance(part, list):
        for inner in part:
            yield from values(inner, path)
    else:
        yield path, part


def resources(made: Json, kind: str | None = None) -> list[Json]:
    found = [entry["resource"] for entry in made["entry"]]
    return [one for one in found if kind in {None, one["resourceType"]}]


def by_url(made: Json) -> dict[str, Json]:
    return {entry["fullUrl"]: entry["resource"] for entry in made["entry"]}


def code_of(concept: Json) -> str | None:
    return concept["coding"][0]["code"] if "coding" in concept else None


def numbers(observation: Json) -> dict[str, int | None]:
    """Give an Observation's whole numbers by the code of their component."""
    return {
        code_of(part["code"]) or "": part.get("valueInteger")
        for part in observation["component"]
        if "valueInteger" in part or "dataAbsentReason" in part
    }


def paragraphs(resource: Json) -> list[str]:
    return ["".join(part.itertext()) for part in fromstring(resource["text"]["div"])]  # noqa: S314 - our own
