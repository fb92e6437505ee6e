"""A quick recogniser of sound that is always of the same opinion about the same sound."""

import time
import zlib

from voicecount.hear.heard import Heard
from voicecount.hear.port import Recogniser
from voicecount.hear.typed import TypedRecogniser
from voicecount.sound.frame import Utterance
from voicecount.words.graph import Grammar, Tag

_SECONDS = 0.1
"""What hearing takes, so that there is a middle in which something can be stopped."""
_RUNS = ("one two three", "one two three four five", "one two four five", "one")


class QuickRecogniser:
    """Takes any utterance for a line of the sheet: which one, its samples decide."""

    name = "quick recogniser of the tests"

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Give a line, after a moment."""
        time.sleep(_SECONDS)
        names = [token.words for token in grammar.names if token.tag is Tag.ITEM]
        number = zlib.crc32((utterance.samples * 1000).astype("int16").tobytes())
        said = " ".join((*names[number % len(names)], _RUNS[number // 7 % len(_RUNS)]))
        return TypedRecogniser().understand(
            said, grammar, channel=utterance.channel, start=utterance.start, end=utterance.end
        )


def quick(wrong_per_thousand: float) -> Recogniser:  # noqa: ARG001 - as every ear
    """Load it, in no time."""
    return QuickRecogniser()
