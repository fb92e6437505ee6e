"""Free transcription by the very weights that we use, and the names found by rapidfuzz."""

from dataclasses import dataclass

from benchmarks.peers.answers import answer
from benchmarks.peers.mapping import map_text
from voicecount.hear.embedded.decoder import Decoder
from voicecount.hear.embedded.encoder import Encoder
from voicecount.hear.port import Heard, Recogniser
from voicecount.sound.frame import RATE, Utterance
from voicecount.words.grammar import Grammar


@dataclass(frozen=True)
class FreeText:
    """Implements the recogniser port.

    Confidence: the text's average log-probability per word together with the nearness of what it
    was taken for (margin), and the text's log-probability alone (ratio).
    """

    encoder: Encoder
    decoder: Decoder
    name: str = "Moonshine tiny, free text, rapidfuzz"

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand one utterance."""
        frames = self.encoder.encode(utterance.samples)
        written = self.decoder.write(frames, len(utterance.samples) / RATE)
        mapped = map_text(written.text, grammar)
        if mapped is None:
            return answer(utterance, None, written.text, ratio=written.score)
        average = written.score / max(len(written.text.split()), 1)
        return answer(
            utterance,
            mapped.meaning,
            mapped.text,
            margin=average + 4 * mapped.nearness,
            ratio=written.score,
        )


def load(threads: int) -> Recogniser:
    """Load the weights. Raises ModelError."""
    return FreeText(Encoder.load(threads), Decoder.load(threads))
