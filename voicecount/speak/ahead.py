"""A voice that makes its sound before it is due: what will probably be said next is made meanwhile.

A text that was not foreseen is made when it is due, as ever. Nothing is said that was not asked
for: a clip made in vain is thrown away.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable

from voicecount.speak.port import Clip, Voice

KEPT = 16
"""Clips that are kept: the questions of a case come again and again."""


class AheadVoice:
    """Speaks with another voice, in a thread of its own, one text at a time; the latest waits.

    ``speak`` is called from one thread, ``prepare`` from the same. ``before`` gives, once, words
    that have to be spoken before whatever is spoken next, as that another voice has taken over.
    """

    def __init__(self, voice: Voice, before: Callable[[], str] = str) -> None:
        self._voice = voice
        self._before = before
        self._clips: OrderedDict[str, Clip] = OrderedDict()
        self._wanted: str | None = None
        self._making: str | None = None
        self._turn = threading.Condition()
        self._thread: threading.Thread | None = None

    @property
    def name(self) -> str:
        """Name of the voice, for the record."""
        return self._voice.name

    def prepare(self, text: str) -> None:
        """Begin to make a text's sound, unless it is there; returns at once.

        Another text that waits is forgotten.
        """
        with self._turn:
            if not text or text in self._clips or text == self._making:
                return
            self._wanted = text
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, daemon=True)
                self._thread.start()
            self._turn.notify_all()

    def speak(self, text: str) -> Clip:
        """Give a text's sound; VoiceError as the voice gives it."""
        with self._turn:
            self._wanted = None
            self._turn.wait_for(lambda: self._making is None)
            clip = self._clips.get(text)
            if clip is None:
                clip = self._voice.speak(text)
                self._keep(text, clip)
            self._clips.move_to_end(text)
            words = self._before()
            return self._voice.speak(f"{words} {text}") if words else clip

    def _keep(self, text: str, clip: Clip) -> None:
        self._clips[text] = clip
        while len(self._clips) > KEPT:
            self._clips.popitem(last=False)

    def _work(self) -> None:
        while True:
            with self._turn:
                self._turn.wait_for(lambda: self._wanted is not None)
                text, self._wanted = self._wanted, None
                self._making = text
            clip = None
            try:
                clip = self._voice.speak(text) if text else None
            except Exception:  # noqa: BLE001, S110 - who asks for it when it is due is told
                pass
            finally:
                with self._turn:
                    self._making = None
                    if text and clip is not None:
                        self._keep(text, clip)
                    self._turn.notify_all()
