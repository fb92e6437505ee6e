"""What makes the sound of an utterance unfit to be heard, whatever its words are."""

from math import inf

from voicecount.reasons import Reason
from voicecount.sound.frame import Utterance
from voicecount.sound.level import clipped_share


def refusal(utterance: Utterance, *, most_clipped: float, longest: float = inf) -> Reason | None:
    """Tell why an utterance must be said again before anyone listens to it, or give None.

    ``most_clipped`` is the share of samples, 0 to 1, that may stand at full scale; ``longest`` is
    in seconds.
    """
    if utterance.lost:
        return Reason.SOUND_LOST
    if utterance.cut or utterance.end - utterance.start > longest:
        return Reason.TOO_LONG
    if clipped_share(utterance.samples) > most_clipped:
        return Reason.CLIPPED
    return None
