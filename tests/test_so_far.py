"""How much was heard and asked again is written down before a count ends, and begins anew then."""

from pathlib import Path

from room_rig import Setting, script

from voicecount.commands.script import ScriptRecogniser
from voicecount.count.events import CountFinished, UtterancesHeard
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.talk.so_far import HeardSoFar


def heard(outcome: Outcome, reason: Reason | None = None) -> Heard:
    """Make an answer."""
    return Heard(0, 0.0, 1.0, outcome, None, "", reason=reason)


def test_outcomes_and_reasons_are_counted_and_begin_anew() -> None:
    """Each utterance once; reasons in the order of their codes, without those that did not come."""
    so_far = HeardSoFar()
    for one in (
        heard(Outcome.ACCEPTED),
        heard(Outcome.UNSURE, Reason.NO_NUMBER),
        heard(Outcome.UNSURE, Reason.CLOSE_CALL),
        heard(Outcome.UNSURE, Reason.NO_NUMBER),
        heard(Outcome.IGNORED, Reason.NOT_FOR_US),
    ):
        so_far.take(one)
    told = so_far.event(7.0)

    assert (told.at, told.utterances, told.accepted, told.ignored) == (7.0, 5, 1, 1)
    assert told.asked == (("close_call", 1), ("no_number", 2))
    assert so_far.event(8.0) == UtterancesHeard(at=8.0, utterances=0, accepted=0, ignored=0)


def test_it_is_written_down_before_the_count_that_it_belongs_to_ends(tmp_path: Path) -> None:
    """The next count begins at nothing; what was said to end the first one is among its own."""
    rig = Setting(tmp_path, ScriptRecogniser())
    rig.run(
        script(
            tmp_path,
            "2 scrub: lap sponges, one, two, three, four, five\n8 circulator: five\n"
            "14 scrub: what a day it was\n20 scrub: the count is finished\n",
        ).moments()
    )
    kept = rig.kept()
    at = next(at for at, event in enumerate(kept) if isinstance(event, CountFinished))
    told = kept[at - 1]

    assert isinstance(told, UtterancesHeard)
    assert (told.utterances, told.accepted, told.ignored) == (4, 3, 1)
    # A resume passes over what ended by the last record: not the words that end the count.
    assert told.at == kept[at - 2].at < kept[at].at
