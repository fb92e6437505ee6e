"""What was heard is written down more than once in a case; a report tells the sum of it."""

from pathlib import Path

from cases import begun
from test_report_gather import facts_of, kept

from voicecount.count.events import Event, UtterancesHeard


def test_all_that_was_heard_is_added_up(tmp_path: Path) -> None:
    """With the last writing only, a case of hours would look like that of its last count."""
    play = begun()
    last = play.events[-1].at
    first, second = (
        UtterancesHeard(
            at=last + 1,
            utterances=90,
            accepted=41,
            ignored=33,
            asked=(("faint", 11), ("clipped", 5)),
        ),
        UtterancesHeard(
            at=last + 2,
            utterances=17,
            accepted=8,
            ignored=2,
            asked=(("faint", 4), ("close_call", 3)),
        ),
    )
    there = [one for one in play.events if isinstance(one, UtterancesHeard)]
    before = [
        sum(getattr(one, name) for one in there) for name in ("utterances", "accepted", "ignored")
    ]
    events: list[Event] = [*play.events, first, second]
    heard = facts_of(kept(events, tmp_path / "a.vcj")).heard
    assert heard is not None
    assert [heard.utterances, heard.accepted, heard.ignored] == [
        one + more for one, more in zip(before, (107, 49, 35), strict=True)
    ]
    assert heard.asked == (("clipped", 5), ("close_call", 3), ("faint", 15))


def test_nothing_heard_is_told_as_nothing_known(tmp_path: Path) -> None:
    """A record that does not tell must not look like one in which nothing was heard."""
    events = [one for one in begun().events if not isinstance(one, UtterancesHeard)]
    assert facts_of(kept(events, tmp_path / "a.vcj")).heard is None
