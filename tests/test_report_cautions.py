"""Sentences of caution: one source, and none of them lacks where a record is read."""

from pathlib import Path

import pytest
import report_facts

from voicecount import cautions
from voicecount.report import gather, many_pages
from voicecount.report.fhir import bundle

ROOT = Path(__file__).parents[1]
SENTENCES = (
    cautions.NOT_REPLACED,
    cautions.NEVER_SAFE,
    cautions.SILENCE,
    cautions.CALLED_CORRECT,
    cautions.MISHEARS,
)


@pytest.mark.parametrize(
    "phrase",
    ["wound exploration", "safe to close", "never consent", "been called correct", "in quiet too"],
)
def test_each_sentence_has_one_source(phrase: str) -> None:
    """No module of the record writes it anew."""
    report, commands = ROOT / "voicecount" / "report", ROOT / "voicecount" / "commands"
    found = [*report.glob("*.py"), *commands.glob("report*.py")]
    assert len(found) > 30
    assert [path.name for path in found if phrase in path.read_text(encoding="utf-8")] == []
    assert sum(phrase in sentence for sentence in SENTENCES) == 1


@pytest.mark.parametrize("sentence", SENTENCES)
def test_none_of_them_is_missing_from_a_record(sentence: str) -> None:
    """They stand in a case's cautions, which every form of the record holds, and on its page."""
    assert sentence.lower() in " ".join(gather.CAUTIONS).lower()
    docs = (ROOT / "docs" / "report.md").read_text(encoding="utf-8").lower()
    assert sentence.lower() in docs or sentence == cautions.SILENCE


def test_many_records_and_fhir_say_them_too() -> None:
    """What they replace, what they never say, and that the program mishears."""
    many = " ".join(many_pages.CAUTIONS)
    for sentence in (cautions.NOT_REPLACED, cautions.NEVER_SAFE, cautions.MISHEARS):
        assert sentence in many
    composition = bundle(report_facts.case(cautions=()))["entry"][0]["resource"]
    for sentence in (cautions.NOT_REPLACED, cautions.NEVER_SAFE, cautions.SILENCE):
        assert sentence in composition["text"]["div"]
