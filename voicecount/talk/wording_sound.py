"""Every sentence about the sound of the room: the sound check, and noise. See wording.py.

A sentence says what is and what to change. The go promises nothing.
"""

from collections.abc import Callable, Mapping

from voicecount.sound.findings import Finding, Noise, Problem, SoundCheck
from voicecount.talk.text import capital

_PLACES = ("first", "second")

_Sentence = Callable[[str, str], str]
"""Takes a person and a microphone, each as they are called."""

TOLD: Mapping[Finding, _Sentence] = {
    Finding.NO_SOUND: lambda _, microphone: (
        f"No sound comes from {microphone}. Look at its switch and its cable."
    ),
    Finding.NOT_HEARD: lambda person, microphone: (
        f"{person} is not heard. Look at the switch of {microphone}, and speak up."
    ),
    Finding.SWAPPED: lambda *_: "The two microphones are the other way round. Change them over.",
    Finding.NOT_TOLD_APART: lambda *_: (
        "Both are heard alike on each microphone. Each wear one, and stand apart."
    ),
    Finding.CLIPPED: lambda _, microphone: (
        f"{microphone} is too loud. Turn it down, or move it away."
    ),
    Finding.TOO_QUIET: lambda _, microphone: f"{microphone} is too quiet. Move it nearer.",
    Finding.HUM: lambda _, microphone: (
        f"A hum is on {microphone}. Try another cable, or another socket."
    ),
    Finding.TOO_NOISY: lambda _, microphone: (
        f"Too much noise is on {microphone}. Move it nearer, or make the room quieter."
    ),
    Finding.NOISY: lambda _, microphone: (
        f"Noise is on {microphone}. Move it nearer. I will ask more often."
    ),
    Finding.LEAKS: lambda person, _: (
        f"{person} is nearly as loud on the other microphone. Move the microphones apart."
    ),
    Finding.LEAKS_SOMEWHAT: lambda person, _: (
        f"{person} is loud on the other microphone. Stand apart. I will ask more often."
    ),
}
"""What was found, and what to change."""

NOISE: Mapping[Noise, str] = {
    Noise.FINE: "The noise is less. I ask as before.",
    Noise.LOUD: "It is getting loud. I will ask more often.",
    Noise.TOO_LOUD: "It is too loud to hear well. I will not guess. Speak up, or wait for quiet.",
}
"""What is said when the noise changes."""


MICROPHONE: Mapping[str, str] = {
    "silent": "A microphone gives no sound. Look at its switch and its cable.",
    "heard": "The microphone gives sound again.",
    "gone": "The microphone is gone. Nothing is heard. I keep trying.",
    "back": "The microphone is back. Say again what you said meanwhile.",
}
"""What is said when a microphone changes."""


ONE_MICROPHONE: Mapping[str, str] = {
    "silent": "{} gives no sound. Look at its switch and its cable.",
    "heard": "{} gives sound again.",
    "gone": "{} is gone. Whoever wears it is not heard. I keep trying.",
    "back": "{} is back. Say again what you said into it meanwhile.",
}
"""The same of one microphone of two."""


def microphone(state: str, channel: int | None = None) -> str:
    """Say that a microphone has changed; with its channel where the other one still hears."""
    if channel is None or channel >= len(_PLACES):
        return MICROPHONE[state]
    return ONE_MICROPHONE[state].format(f"The {_PLACES[channel]} microphone")


def for_measuring() -> str:
    """Give the sentence by which a room is measured."""
    return "This is my voice. I measure how this room sounds."


def spoke_meanwhile() -> str:
    """Ask for what a person said while the assistant spoke."""
    return "You spoke while I did. Say that again."


def other_voice() -> str:
    """Say that another voice takes over."""
    return "Another voice speaks from now on."


def not_spoken_before(text: str) -> str:
    """Say an alert that could not be spoken when it was due."""
    return f"This could not be spoken before: {text}"


def say_this(person: str, sentence: str) -> str:
    """Ask one person for their turn of the sound check."""
    return f"{capital(person)}, say: {sentence} Then count to five."


def told(check: SoundCheck) -> str:
    """Say the most urgent thing that was found, or the go."""
    return problem(check.problems[0]) if check.problems else _heard(check)


def problem(found: Problem) -> str:
    """Say one thing that was found, and what to change."""
    person = "one of you" if found.who is None else f"the {found.who}"
    said = TOLD[found.code](person, _microphone(found))
    return capital(said)


def noise(state: Noise) -> str:
    """Say that the noise of the room has changed."""
    return NOISE[state]


def _heard(check: SoundCheck) -> str:
    """Say who can be heard; nothing more is known."""
    people = list(check.channel_of)
    if len(people) == 1:
        return f"The {people[0]} can be heard."
    return "Both can be heard." if people else "Nobody was heard yet."


def _microphone(found: Problem) -> str:
    if found.who is not None:
        return f"the {found.who}'s microphone"
    if found.channel is None or found.channel >= len(_PLACES):
        return "one microphone"
    return f"the {_PLACES[found.channel]} microphone"
