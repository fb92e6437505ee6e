"""Which voice speaks, and what happens when it cannot."""

import sys
from collections.abc import Callable, Iterable
from functools import partial

from voicecount.errors import VoicecountError, VoiceError
from voicecount.speak.manner import AtLoudness, Manner, WithinTime
from voicecount.speak.port import Clip, Voice
from voicecount.speak.self_test import check_voice

KINDS = ("embedded", "system", "none")


def default_kind(platform: str = sys.platform) -> str:
    """Name the voice used when none is asked for: what Linux brings along is hard to follow."""
    return "embedded" if platform.startswith("linux") else "system"


class FallbackVoice:
    """Speaks with the first voice until it fails; from then on with the second, announced once.

    Whoever plays what is said takes ``words`` and has them spoken first. The first voice is not
    tried again while the second can be had: a voice that comes and goes would be harder to follow
    than a strange one. When the second fails as well, VoiceError is raised for each text, so that
    people are told to read it.
    """

    def __init__(
        self,
        first: Voice,
        second: Callable[[], Voice],
        announce: Callable[[str], None],
        *,
        said: str = "",
    ) -> None:
        self._voice = first
        self._second: Callable[[], Voice] | None = second
        self._announce = announce
        self._said = said
        self._words = ""

    @property
    def name(self) -> str:
        """Name of the voice that speaks now."""
        return self._voice.name

    def words(self) -> str:
        """Give, once, the words by which the other voice tells that it has taken over."""
        words, self._words = self._words, ""
        return words

    def speak(self, text: str) -> Clip:
        """Make the sound of a text; VoiceError when the second voice fails, too."""
        try:
            return self._voice.speak(text)
        except VoiceError as error:
            if self._second is None:
                raise
            make, self._second, failed = self._second, None, error
        try:
            self._voice = make()
        except VoicecountError as error:
            raise VoiceError(f"{failed}; nor can the other voice speak ({error})") from error
        self._announce(f"{failed}; from now on the {self._voice.name} voice speaks")
        self._words = self._said
        return self._voice.speak(text)


def choose_voice(
    kind: str | None,
    *,
    together: Iterable[str] = (),
    announce: Callable[[str], None],
    makers: dict[str, Callable[[], Voice]] | None = None,
    manner: Manner | None = None,
    said: str = "",
) -> Voice | None:
    """Give the voice of a kind (None for the default), or None for ``none``.

    A voice that was asked for by name has no second; the default falls back to the other one and
    ``announce`` is told in one line. Raises VoicecountError when none can be had. ``makers``
    replaces the real voices in tests. With ``manner``, as in a live room, each voice is tested
    before it is taken, speaks in that manner, and is given up when it hangs; ``said`` are the words
    by which the other voice takes over.
    """
    if kind == "none":
        return None
    rate = 1.0 if manner is None else manner.rate
    makers = makers or {
        "embedded": lambda: _embedded(together, rate),
        "system": lambda: _system(together, rate),
    }
    if manner is not None:
        makers = {name: partial(_tested, maker, manner) for name, maker in makers.items()}
    if kind is not None:
        return makers[kind]()
    first = default_kind()
    second = "system" if first == "embedded" else "embedded"
    try:
        return FallbackVoice(makers[first](), makers[second], announce, said=said)
    except VoicecountError as error:
        voice = makers[second]()
        announce(f"{error}; the {voice.name} voice speaks instead")
        return voice


def _tested(maker: Callable[[], Voice], manner: Manner) -> Voice:
    voice = WithinTime(maker())
    check_voice(voice)  # as it is: at another loudness silence would be none
    return AtLoudness(voice, manner.loudness)


def _embedded(together: Iterable[str], rate: float) -> Voice:
    from voicecount.speak.embedded import EmbeddedVoice  # noqa: PLC0415 - loads only what speaks

    return EmbeddedVoice.load(together, rate)


def _system(together: Iterable[str], rate: float) -> Voice:
    from voicecount.speak.system import SystemVoice  # noqa: PLC0415 - loads only what speaks

    return SystemVoice(together=together, rate=rate)
