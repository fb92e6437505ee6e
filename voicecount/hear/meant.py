"""Was it meant for the assistant? What was unclear is asked about only where it may have been.

Noise that sounds like a word, and talk from across the room, would else be answered with questions
for hours. What was understood is never touched: only what would have been asked about is let go,
and never while a call or a question is in hand, in which a missed word would count. Who goes on
being too faint is told so.
"""

from collections import deque
from dataclasses import replace
from math import inf
from typing import Protocol

from voicecount.hear.port import Cautious, Follower, Heard, Outcome, Recogniser, still_open
from voicecount.reasons import Reason
from voicecount.sound.findings import SoundCheck
from voicecount.sound.frame import Utterance
from voicecount.sound.level import measure
from voicecount.words.grammar import Grammar
from voicecount.words.meaning import Form

FAINT_DB = 14.0
"""How far the loud parts of a sound lie under those of its channel's weakest voice for it to be
nobody at a microphone, as ``own_voice_db`` (sound/speech.py) inside an utterance."""
_KEPT = 8
_ENOUGH = 3
"""Voices that must be known of a channel before a sound is called faint beside them."""
_AGAIN_SECONDS = 20.0
"""Two faint sounds within so long may be a person who is not heard."""
_TOLD_SECONDS = 60.0
"""So long nobody is told again that it was too faint."""
_UNFIT = frozenset({Reason.SOUND_LOST, Reason.CLIPPED})
"""Faults of the sound itself: somebody may have said anything."""


class Voices:
    """How loud the people at each channel speak, in dB under full scale."""

    def __init__(self) -> None:
        self._checked: dict[int, float] = {}
        self._accepted: dict[int, deque[float]] = {}

    def checked(self, found: SoundCheck) -> None:
        """Learn the voices of a sound check; the weaker one where two share a channel."""
        self._checked = {}
        for row in found.channels:
            if row.speech is not None and row.loud is not None:
                self._checked[row.channel] = min(row.loud, self._checked.get(row.channel, row.loud))

    def accepted(self, utterance: Utterance) -> None:
        """Learn from words that were understood: people turn away, and microphones slip."""
        levels = self._accepted.setdefault(utterance.channel, deque(maxlen=_KEPT))
        levels.append(measure(utterance.samples).loud)

    def is_faint(self, utterance: Utterance) -> bool:
        """Tell whether a sound is too weak to be of somebody at that microphone."""
        levels = list(self._accepted.get(utterance.channel, ()))
        checked = self._checked.get(utterance.channel)
        if checked is None and len(levels) < _ENOUGH:
            return False
        weakest = min([*levels, *([] if checked is None else [checked])])
        return measure(utterance.samples).loud < weakest - FAINT_DB


class Attentive(Protocol):
    """What is known of the talk: what somebody may be about to say. A dialogue is one."""

    @property
    def awaits_more(self) -> bool:
        """Whether a call or a question is in hand: whatever comes may belong to it."""
        ...

    @property
    def awaits_words(self) -> bool:
        """Whether anything but a command is waited for."""
        ...


class MeantRecogniser:
    """Implements the recogniser port with another one, whose acceptances stay as they are."""

    def __init__(self, inner: Recogniser, attention: Attentive, voices: Voices) -> None:
        self._inner = inner
        self._attention = attention
        self._voices = voices
        self._faint_at: dict[int, float] = {}
        self._told_at: dict[int, float] = {}

    @property
    def name(self) -> str:
        """Name and version of the other one, for the record."""
        return self._inner.name

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand one utterance; let go what is unclear and was hardly meant."""
        heard = self._inner.hear(utterance, grammar)
        if not len(utterance.samples):  # typed
            return heard
        if heard.outcome is Outcome.ACCEPTED:
            self._voices.accepted(utterance)
        if heard.outcome is not Outcome.UNSURE or self._attention.awaits_more:
            return heard
        if heard.reason in _UNFIT:  # of lost sound not even the loudness is known
            return heard
        if self._voices.is_faint(utterance):
            return self._faint(heard, utterance)
        meaning = heard.meaning
        command = meaning is not None and meaning.form in {Form.COMMAND, Form.CHOICE}
        named = meaning is not None and meaning.item is not None
        if command or named or self._attention.awaits_words:
            return heard
        return _let_go(heard, Reason.NOT_FOR_US)

    def _faint(self, heard: Heard, utterance: Utterance) -> Heard:
        """Let a faint sound go; but now and then tell who may not be heard at all."""
        before = self._faint_at.get(utterance.channel, -inf)
        told = self._told_at.get(utterance.channel, -inf)
        now = self._faint_at[utterance.channel] = utterance.end
        again = before < now <= before + _AGAIN_SECONDS and now > told + _TOLD_SECONDS
        if again and self._attention.awaits_words:
            self._told_at[utterance.channel] = now
            return replace(heard, reason=Reason.FAINT)
        return _let_go(heard, Reason.FAINT)

    def follow(self, so_far: Utterance, grammar: Grammar) -> Heard:
        """Give what is heard of an open utterance; nothing of a faint one."""
        if not isinstance(self._inner, Follower) or self._voices.is_faint(so_far):
            return still_open(so_far)
        return self._inner.follow(so_far, grammar)

    def be_stricter(self, factor: float) -> None:
        """Make the other one ask more often."""
        if isinstance(self._inner, Cautious):
            self._inner.be_stricter(factor)


def _let_go(heard: Heard, reason: Reason) -> Heard:
    """Nothing of talk in the room is written down, not even misheard.

    What a faint sound may have meant stays for the dialogue: it may have named another item.
    """
    meaning = heard.meaning if reason is Reason.FAINT else None
    return replace(
        heard, outcome=Outcome.IGNORED, reason=reason, meaning=meaning, text="", words=None
    )
