"""What the peers share: the answer behind the port, and the line for a missing package."""

from importlib.util import find_spec

from voicecount.errors import ModelError
from voicecount.hear.port import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.sound.frame import Utterance
from voicecount.words.meaning import Form, Meaning


def need(package: str, wheel: str) -> None:
    """Refuse where a package is missing. Raises ModelError."""
    if find_spec(package) is None:
        raise ModelError(f"{wheel}: not installed; run 'pip install {wheel}'")


def answer(
    utterance: Utterance,
    meaning: Meaning | None,
    text: str,
    *,
    margin: float | None = None,
    ratio: float | None = None,
) -> Heard:
    """Accept every whole count or command; a threshold on margin or ratio is drawn afterwards.

    A peer has no rule of its own for what to ask again, so what is no whole reading is ignored
    where nothing was read, and asked again where a name was read without its number.
    """
    outcome, reason = Outcome.ACCEPTED, None
    if meaning is None:
        outcome, reason = Outcome.IGNORED, Reason.NOT_FOR_US
    elif meaning.form is Form.NAME:
        outcome, reason = Outcome.UNSURE, Reason.NO_NUMBER
    return Heard(
        utterance.channel,
        utterance.start,
        utterance.end,
        outcome,
        meaning,
        text,
        margin=margin,
        ratio=ratio,
        reason=reason,
    )
