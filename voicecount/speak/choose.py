"""Which voice speaks, and what happens when it cannot."""

import sys
from collections.abc import Callable, Iterable

from voicecount.errors import VoicecountError, VoiceError
from voicecount.speak.port import Clip, Voice

KINDS = ("embedded", "system", "none")


def default_kind(platform: str = sys.platform) -> str:
    """Name the voice used when none is asked for: what Linux brings along is hard to follow."""
    return "embedded" if platform.startswith("linux") else "system"


class FallbackVoice:
    """Speaks with the first voice until it fails; from then on with the second, announced once."""

    def __init__(
        self, first: Voice, second: Callable[[], Voice], announce: Callable[[str], None]
    ) -> None:
        self._voice = first
        self._second: Callable[[], Voice] | None = second
        self._announce = announce

    @property
    def name(self) -> str:
        """Name of the voice that speaks now."""
        return self._voice.name

    def speak(self, text: str) -> Clip:
        """Make the sound of a text; VoiceError when the second voice fails, too."""
        try:
            return self._voice.speak(text)
        except VoiceError as error:
            if self._second is None:
                raise
            self._voice, failed = self._second(), error
            self._second = None
        self._announce(f"{failed}; from now on the {self._voice.name} voice speaks")
        return self._voice.speak(text)


def choose_voice(
    kind: str | None,
    *,
    together: Iterable[str] = (),
    announce: Callable[[str], None],
    makers: dict[str, Callable[[], Voice]] | None = None,
) -> Voice | None:
    """Give the voice of a kind (None for the default), or None for ``none``.

    A voice that was asked for by name has no second; the default falls back to the other one and
    ``announce`` is told in one line. Raises VoicecountError when none can be had. ``makers``
    replaces the real voices in tests.
    """
    if kind == "none":
        return None
    makers = makers or {
        "embedded": lambda: _embedded(together),
        "system": lambda: _system(together),
    }
    if kind is not None:
        return makers[kind]()
    first = default_kind()
    second = "system" if first == "embedded" else "embedded"
    try:
        return FallbackVoice(makers[first](), makers[second], announce)
    except VoicecountError as error:
        voice = makers[second]()
        announce(f"{error}; the {voice.name} voice speaks instead")
        return voice


def _embedded(together: Iterable[str]) -> Voice:
    from voicecount.speak.embedded import EmbeddedVoice  # noqa: PLC0415 - loads only what speaks

    return EmbeddedVoice.load(together)


def _system(together: Iterable[str]) -> Voice:
    from voicecount.speak.system import SystemVoice  # noqa: PLC0415 - loads only what speaks

    return SystemVoice(together=together)
