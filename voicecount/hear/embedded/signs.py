"""What can be seen of a verdict that tells how likely it is to be wrong: one number for each sign.

None of them knows an expected total, a package, or what was counted before.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from voicecount.hear.embedded.judge import DECODER_FLOOR, Score, Verdict, leaps
from voicecount.words.meaning import Form, Meaning
from voicecount.words.soundalike import twins

FAR = 25.0
"""A lead of more nats than this is as good as any."""
_FAR_BY_HEAD = 15.0
_FAR_BY_DECODER = 12.0
_UNLIKE = 40.0
_MOST_STRAYS = 8


def signs(verdict: Verdict) -> dict[str, float]:
    """Give every sign of a verdict, always in the same order."""
    best, *others = verdict.scores
    meaning, first = best.meaning, others[:1]
    phones = max(1, len(verdict.best.phones))
    other_numbers = [one for one in others if one.meaning.numbers != meaning.numbers]
    other_names = [one for one in others if one.meaning.item != meaning.item]
    lone = is_lone(meaning)
    numbers_lead = _lead(best, other_numbers)
    each_phone = [score / phones for score in verdict.best.by_head]
    ratio = max(-_UNLIKE, min(0.0, verdict.ratio))
    found = {
        "lead": _lead(best, others),
        "root_lead": float(np.sqrt(max(0.0, min(FAR, verdict.margin)))),
        "lead_other_numbers": numbers_lead,
        "lead_other_name": _lead(best, other_names),
        "decoder_over_next": _by_decoder(best, first),
        "decoder_over_any": _by_decoder(best, others),
        "ratio": ratio,
        "ratio_for_length": ratio / float(np.sqrt(phones)),
        "strain": min(_UNLIKE, verdict.strain),
        "stray_row": float(min(_MOST_STRAYS - 2, verdict.stray)),
        "strays": float(min(_MOST_STRAYS, verdict.strays)),
        "heads_disagree": 10.0 * float(np.std(each_phone)),
        "phones": float(np.log(phones)),
        "lone": float(lone),
        "lone_lead": lone * min(_FAR_BY_HEAD, numbers_lead),
        "lone_named": float(lone and meaning.item is not None),
        "bare": float(meaning.item is None),
        "long_run": float(len(meaning.numbers) > 2 and not lone),
        "next_sounds_alike": float(bool(first) and sound_alike(meaning, first[0].meaning)),
        "name_only": float(meaning.form is Form.NAME),
        "command": float(meaning.form is Form.COMMAND),
        "none": float(meaning.form is Form.NONE),
        "not_counted": float(meaning.form is Form.NOT_COUNTED),
        "leaps": float(leaps(meaning)),
    }
    for number, fit in enumerate(each_phone):
        found[f"fit_{number}"] = 10.0 * fit
        found[f"over_next_{number}"] = _by_head(best, first, number)
        found[f"over_any_{number}"] = _by_head(best, others, number)
    return found


def is_lone(meaning: Meaning) -> bool:
    """Tell whether nothing in a reading vouches for its numbers: it is no run in order."""
    numbers = meaning.numbers
    in_order = len(numbers) > 1 and all(after == one + 1 for one, after in pairwise(numbers))
    return bool(numbers) and not in_order


def sound_alike(best: Meaning, other: Meaning) -> bool:
    """Tell whether two readings differ only in numbers that sound alike."""
    if (best.form, best.item) != (other.form, other.item):
        return False
    if len(best.numbers) != len(other.numbers) or best.numbers == other.numbers:
        return False
    pairs = zip(best.numbers, other.numbers, strict=True)
    return all(mine == theirs or theirs in twins(mine) for mine, theirs in pairs)


def _lead(best: Score, others: Sequence[Score]) -> float:
    """Give the smallest lead over some readings."""
    return min([FAR, *(best.total - other.total for other in others)])


def _by_decoder(best: Score, others: Sequence[Score]) -> float:
    """Give the decoder's smallest lead."""
    mine = max(DECODER_FLOOR, best.decoder)
    leads = [mine - max(DECODER_FLOOR, other.decoder) for other in others]
    return max(-_FAR_BY_DECODER, min([_FAR_BY_DECODER, *leads]))


def _by_head(best: Score, others: Sequence[Score], number: int) -> float:
    """Give one head's smallest lead."""
    leads = [best.by_head[number] - other.by_head[number] for other in others]
    return max(-_FAR_BY_HEAD, min([_FAR_BY_HEAD, *leads]))
