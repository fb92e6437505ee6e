"""One decision: accept, ask or ignore, with the reason.

What is accepted follows from the probability of being wrong (``odds.py``) and from one setting, how
many wrong numbers in a thousand may be; never from an expected total. Some things are asked about
however sure they are: a name without a number, a run alone that leaps, and a number that nothing
vouches for with a number near it that sounds alike.
"""

from voicecount.hear.embedded.judge import Verdict, leaps
from voicecount.hear.embedded.odds import Odds
from voicecount.hear.embedded.signs import is_lone, signs, sound_alike
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning

WRONG_PER_THOUSAND = 3.0
"""The setting's default, over all the noise of the tuning part; in quiet far fewer are wrong."""
_TALK = 0.5
"""Above this probability speech was not meant for us."""
_STRAYS = 1
"""More phones than this belong to a word that is not in the reading."""
_CLOSE = 9.0
"""A rival nearer than this, in nats, is named as the reason."""
_TWIN = 6.0
"""How far fifteen alone must lead fifty, in nats: in noise only their endings part them."""


def decide(
    verdict: Verdict, odds: Odds, wrong_per_thousand: float = WRONG_PER_THOUSAND
) -> tuple[Outcome, Reason | None, float]:
    """Accept, ask, or ignore; with the reason, and the probability that the reading is wrong."""
    seen = signs(verdict)
    wrong = odds.wrong.probability(seen)
    limit = odds.limit(wrong_per_thousand)
    if wrong > limit and odds.talk.probability(seen) > _TALK:
        return Outcome.IGNORED, Reason.NOT_FOR_US, wrong
    if wrong > limit:
        return Outcome.UNSURE, _why_unsure(verdict), wrong
    reason = _why_ask_anyway(verdict)
    return (Outcome.ACCEPTED if reason is None else Outcome.UNSURE), reason, wrong


def _why_ask_anyway(verdict: Verdict) -> Reason | None:
    """Tell what must be asked about however sure it is."""
    meaning = verdict.best.meaning
    if leaps(meaning):
        return Reason.UNCLEAR_NAME
    if meaning.form is Form.NAME:
        return Reason.NO_NUMBER
    if is_lone(meaning) and any(sound_alike(meaning, other) for other in _near(verdict, _TWIN)):
        return Reason.SOUND_ALIKE
    return None


def _why_unsure(verdict: Verdict) -> Reason:
    """Tell in what way speech that was meant for us was not clear."""
    meaning = verdict.best.meaning
    near = _near(verdict, _CLOSE)
    rivals = [*near, *(verdict.own if verdict.disputed else ())]
    if any(sound_alike(meaning, rival) for rival in rivals):
        return Reason.SOUND_ALIKE
    if verdict.strays > _STRAYS and meaning.item is None and meaning.numbers:
        return Reason.UNKNOWN_NAME
    if meaning.form is Form.NAME and not near:
        return Reason.NO_NUMBER
    return Reason.CLOSE_CALL if rivals and verdict.strays <= _STRAYS else Reason.WEAK_MATCH


def _near(verdict: Verdict, nats: float) -> list[Meaning]:
    """Give the readings that the best one leads by less than so much."""
    best, *others = verdict.scores
    return [other.meaning for other in others if best.total - other.total < nats]
