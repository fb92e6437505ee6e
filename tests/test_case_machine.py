"""Random cases with both people, their slips and a machine that dies, as a state machine.

What holds is checked by ``case_model``, which does its own sums from the words alone. Thousands
of cases are played by ``python -m benchmarks.random_cases``.
"""

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from case_model import ViolationError
from case_play import ACTIONS, CIRC, SCRUB, SHEETS, CasePlay, MortalDisk, call, random_case
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from voicecount.count.events import LineConfirmed
from voicecount.count.roles import Role
from voicecount.count.sums import Sum
from voicecount.errors import VoicecountError
from voicecount.sheet.model import Sheet
from voicecount.talk import fill


def first(options: Sequence[Any]) -> Any:
    """Choose the plainest."""
    return options[0]


def initial_count(play: CasePlay) -> None:
    """Hold the whole initial count, by the right words."""
    for item, n in (("lap-sponge", 10), ("needle", 4), ("tip", 1), ("clamp", 2)):
        call(play, item, None, n, first)
        play.wait()
        play.number(CIRC, n)
    play.command(CIRC, "finish")


class Case(RuleBasedStateMachine):
    """A case; each rule is a few utterances, chosen at random."""

    play: CasePlay
    folder: "tempfile.TemporaryDirectory[str] | None" = None

    @initialize(sheet=st.sampled_from(SHEETS), memory=st.booleans(), later=st.booleans())
    def opens(self, sheet: Sheet, memory: bool, later: bool) -> None:
        self.folder = tempfile.TemporaryDirectory(prefix="case-")
        self.play = CasePlay(sheet, Path(self.folder.name), memory=memory)
        if later:
            initial_count(self.play)
            self.play.command(CIRC, "begin")

    def act(self, data: st.DataObject, *names: str) -> None:
        name = data.draw(st.sampled_from(names))
        ACTIONS[name][1](self.play, lambda options: data.draw(st.sampled_from(options)))

    @rule(data=st.data())
    def count(self, data: st.DataObject) -> None:
        self.act(data, "count_line", "count_all", "confirm", "none_elsewhere", "opposite")

    @rule(data=st.data())
    def go_on(self, data: st.DataObject) -> None:
        self.act(data, "next_count", "next_count", "added", "other_count")

    @rule(data=st.data())
    def tell(self, data: st.DataObject) -> None:
        self.act(data, "incident", "incident", "take_back", "people", "pause", "end_case")

    @precondition(lambda self: self.folder is not None and self.play.paper.open)
    @rule(data=st.data())
    def look_for_it(self, data: st.DataObject) -> None:
        self.act(data, "difference", "all_steps")

    @rule(data=st.data())
    def say_anything(self, data: st.DataObject) -> None:
        self.act(data, "anything")

    @rule(data=st.data())
    def die(self, data: st.DataObject) -> None:
        self.act(data, "crash")

    @invariant()
    def three_say_the_same(self) -> None:
        if self.folder is not None:
            self.play.check()

    def teardown(self) -> None:
        if self.folder is not None:
            try:
                self.play.end()
            finally:
                self.play.journal.close()
                self.folder.cleanup()


TestCase = Case.TestCase
TestCase.settings = settings(
    max_examples=100,
    stateful_step_count=30,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@pytest.mark.parametrize(
    ("owner", "name", "fault"),
    [
        (fill, "_told_by", lambda after, _before, _role: after),
        (Sum, "off", property(lambda self: min(0, self.counted - (self.expected or 0)))),
        (MortalDisk, "sync", lambda _self, _fd: None),
    ],
    ids=["one person agrees to himself", "too many is none", "no sync"],
)
def test_random_cases_find_a_fault_that_is_put_in(
    owner: object, name: str, fault: object, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Each of these faults is found within 80 cases, so the checks are no mirror of the code."""
    monkeypatch.setattr(owner, name, fault)
    with pytest.raises((ViolationError, VoicecountError)):  # noqa: PT012 - any of them may find it
        for seed in range(50000, 50080):
            folder = tmp_path / str(seed)
            folder.mkdir()
            random_case(seed, folder)


def in_closing_count(tmp_path: Path) -> CasePlay:
    """Give a case in its closing count, all by the right words."""
    play = CasePlay(SHEETS[1], tmp_path)
    initial_count(play)
    play.command(CIRC, "begin:closing")
    return play


def both_say(play: CasePlay, item: str, *numbers: int) -> None:
    """Count an item at every place, called and confirmed."""
    for place, n in zip(play.paper.places, numbers, strict=True):
        call(play, item, place, n, first)
        play.wait()
        play.number(CIRC, n)


def test_two_opposite_errors_in_different_lines_do_not_cancel(tmp_path: Path) -> None:
    """One needle more and one clamp less are two differences, though the sum of all is right."""
    play = in_closing_count(tmp_path)
    both_say(play, "lap-sponge", 10, 0)
    both_say(play, "needle", 3, 2)
    both_say(play, "tip", 1, 0)
    both_say(play, "clamp", 1, 0)
    missing = {one.item: one.missing for one in play.paper.open.values()}
    assert missing == {"needle": -1, "clamp": 1}
    play.command(CIRC, "finish")
    assert play.paper.results[-1] == "differs"
    assert len(play.folded.discrepancies) == 2


def test_opposite_errors_at_two_places_of_one_line_are_no_difference(tmp_path: Path) -> None:
    """Where a clamp lies does not matter to the sum of its line, which is made over all places."""
    play = in_closing_count(tmp_path)
    both_say(play, "clamp", 0, 2)
    assert not play.paper.open
    assert play.folded.expected("clamp") == 2


def test_the_listener_objects_to_a_line_that_nobody_called(tmp_path: Path) -> None:
    """The model is no mirror: an event with a number that was not said is found out."""
    play = in_closing_count(tmp_path)
    play.say(SCRUB, item="clamp", place="field", numbers=(1, 2))
    step = play.dialogue.settle(play.dialogue.next_deadline or 0.0)
    changed = step.events[0].model_copy(update={"numbers": (1,), "counted": 1, "total": 1})
    with pytest.raises(ViolationError, match="the scrub called"):
        play.paper.claim(changed)


def test_the_listener_objects_to_a_number_that_only_the_scrub_said(tmp_path: Path) -> None:
    """A confirmation whose number the circulator did not say is found out."""
    play = in_closing_count(tmp_path)
    play.say(SCRUB, item="clamp", place="field", numbers=(1, 2))
    play.wait()
    play.command(CIRC, "say_again")
    claimed = LineConfirmed(
        at=play.now,
        by=Role.CIRCULATOR,
        item="clamp",
        place="field",
        line=play.paper.stored,
        number=2,
    )
    with pytest.raises(ViolationError, match="did not say the number"):
        play.paper.claim(claimed)


def test_an_item_that_a_count_leaves_out_is_not_taken(tmp_path: Path) -> None:
    """The scrub is told so, and the program goes on."""
    play = in_closing_count(tmp_path)
    play.command(CIRC, "finish")
    play.command(CIRC, "begin:final")
    both_say(play, "clamp", 2, 0)
    assert ("clamp", "field") not in play.paper.lines
    assert not any(key.item == "clamp" for key in play.folded.tallies)


def test_a_number_for_what_had_no_place_asks_for_the_place(tmp_path: Path) -> None:
    """After "where?" was not answered, a bare number is no line of nowhere."""
    play = in_closing_count(tmp_path)
    play.say(SCRUB, item="needle", numbers=(4,))
    play.command(SCRUB, "none_elsewhere")
    play.say(SCRUB, numbers=(0,))
    play.wait()
    assert not play.folded.tallies
