"""One decision: accept, ask or ignore, with the reason.

What is accepted follows from the probability of being wrong (``odds.py``) and from one setting, how
many wrong numbers in a thousand may be; never from an expected total. Some things are asked about
however sure they are: a name without a number, and a run alone that leaps.
"""

from voicecount.hear.embedded.judge import Verdict, leaps
from voicecount.hear.embedded.odds import Odds
from voicecount.hear.embedded.signs import signs, sound_alike
from voicecount.hear.heard import Outcome
from voicecount.reasons import Reason
from voicecount.words.meaning import Form

WRONG_PER_THOUSAND = 1.0
"""The setting's default."""
_TALK = 0.5
"""Above this probability speech was not meant for us."""
_STRAYS = 1
"""More phones than this belong to a word that is not in the reading."""
_CLOSE = 9.0
"""A rival nearer than this, in nats, is named as the reason."""


def decide(
    verdict: Verdict, odds: Odds, wrong_per_thousand: float = WRONG_PER_THOUSAND
) -> tuple[Outcome, Reason | None, float]:
    """Accept, ask, or ignore; with the reason, and the probability that the reading is wrong."""
    seen = signs(verdict)
    wrong = odds.wrong.probability(seen)
    limit = odds.limit(wrong_per_thousand)
    meaning = verdict.best.meaning
    if wrong > limit and odds.talk.probability(seen) > _TALK:
        return Outcome.IGNORED, Reason.NOT_FOR_US, wrong
    if wrong > limit:
        return Outcome.UNSURE, _why_unsure(verdict), wrong
    if leaps(meaning):
        return Outcome.UNSURE, Reason.UNCLEAR_NAME, wrong
    if meaning.form is Form.NAME:
        return Outcome.UNSURE, Reason.NO_NUMBER, wrong
    return Outcome.ACCEPTED, None, wrong


def _why_unsure(verdict: Verdict) -> Reason:
    """Tell in what way speech that was meant for us was not clear."""
    meaning = verdict.best.meaning
    near = [s.meaning for s in verdict.scores[1:] if verdict.scores[0].total - s.total < _CLOSE]
    rivals = [*near, *(verdict.own if verdict.disputed else ())]
    if any(sound_alike(meaning, rival) for rival in rivals):
        return Reason.SOUND_ALIKE
    if verdict.strays > _STRAYS and meaning.item is None and meaning.numbers:
        return Reason.UNKNOWN_NAME
    if meaning.form is Form.NAME and not near:
        return Reason.NO_NUMBER
    return Reason.CLOSE_CALL if rivals and verdict.strays <= _STRAYS else Reason.WEAK_MATCH
