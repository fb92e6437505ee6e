"""An earlier attempt, as far as progress is shown: when, which drill, its score and its rows."""

from dataclasses import dataclass

from voicecount.drill.judgement import Mark


@dataclass(frozen=True)
class Past:
    """One attempt that was judged."""

    when: str
    """ISO 8601, UTC."""
    drill: str
    """The drill's title."""
    score: float | None
    """0 to 1; None where nothing could be judged."""
    marks: tuple[Mark, ...]
    student: str = ""
    """The student's code; empty where it is known anyway."""
