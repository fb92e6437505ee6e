"""A sound, heard as a drill's attempt is heard."""

from voicecount.drill.attempt import Attempt
from voicecount.drill.hearing import Hearing
from voicecount.drill.load import Loaded
from voicecount.hear.port import Recogniser
from voicecount.sound.frame import RATE, Samples
from voicecount.sound.segment import utterances
from voicecount.testing.sound import FakeSource
from voicecount.words.graph import Grammar


def heard_as_attempt(
    sound: Samples, loaded: Loaded, recogniser: Recogniser, grammar: Grammar
) -> Attempt:
    """Hear a whole recording at RATE, one channel, utterance by utterance."""
    hearing = Hearing(loaded, recogniser, grammar)
    for utterance in utterances(FakeSource(sound)):
        hearing.add(utterance)
    return hearing.attempt(len(sound) / RATE)
