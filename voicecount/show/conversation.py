"""The conversation as it happens: time, who, said, answered."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from rich.console import Console
from rich.table import Table
from rich.text import Text

from voicecount.count.events import Event
from voicecount.count.roles import Role
from voicecount.errors import VoiceError
from voicecount.hear.heard import Heard, Outcome
from voicecount.keep.clock import Clock
from voicecount.reasons import MEANINGS
from voicecount.show.console import clock_time, printable
from voicecount.talk.reply import Reply

ASSISTANT = "assistant"
UNKNOWN = "someone"
"""Who spoke on a single channel."""
ANSWERED = "answered"
UNSPOKEN = "unspoken"
"""The outcome of a reply whose sound could not be played."""
PARTIAL = "partial"
"""The outcome of words that are still being said."""

_STYLES = {Role.SCRUB: "cyan", Role.CIRCULATOR: "magenta", ASSISTANT: "bold"}


@dataclass(frozen=True)
class Line:
    """One thing said by a person or answered by the assistant."""

    time: float
    """Seconds from the start of the stream."""
    who: str
    """A role, ``someone``, or ``assistant``."""
    words: str
    outcome: str
    """What became of it: ``accepted``, ``unsure``, ``ignored``, ``answered``, ``unspoken``."""
    note: str = ""
    """Why it was not taken or not spoken, in words."""


class Conversation:
    """Follows a room and keeps every line; ``tell`` is called with each as it comes.

    A reply that proves to be unspoken is told again, without its words.
    """

    def __init__(
        self,
        tell: Callable[[Line], None] | None = None,
        tell_partial: Callable[[Line], None] | None = None,
    ) -> None:
        self._tell = tell
        self._tell_partial = tell_partial
        self._last_failure = ""
        self.lines: list[Line] = []

    def partial(self, heard: Heard, role: Role | None) -> None:
        """Show what is still being said; it is no line yet."""
        if self._tell_partial is not None and heard.text:
            who = UNKNOWN if role is None else role.value
            self._tell_partial(Line(heard.start, who, heard.text, PARTIAL))

    def heard(self, heard: Heard, role: Role | None) -> None:
        """Add what a person said."""
        note = "" if heard.reason is None else MEANINGS[heard.reason]
        who = UNKNOWN if role is None else role.value
        self._add(Line(heard.start, who, heard.text, heard.outcome.value, note))

    def stored(self, event: Event) -> None:
        """Add nothing: what is stored is read back."""

    def replied(self, at: float, reply: Reply) -> None:
        """Add what the assistant says."""
        self._add(Line(at, ASSISTANT, reply.text, ANSWERED))

    def unspoken(self, at: float, reply: Reply, error: VoiceError) -> None:
        """Mark the reply as one that has to be read; the same cause is told in full once."""
        why = str(error)
        note = "not spoken" if why == self._last_failure else f"not spoken: {why}"
        self._last_failure = why
        line = Line(at, ASSISTANT, reply.text, UNSPOKEN, note)
        self.lines[-1] = line
        if self._tell is not None:
            self._tell(replace(line, words=""))

    def _add(self, line: Line) -> None:
        self.lines.append(line)
        if self._tell is not None:
            self._tell(line)


class Printer:
    """Prints lines; with a clock, slowly enough to read them."""

    def __init__(self, console: Console, clock: Clock | None = None) -> None:
        self._console = console
        self._clock = clock
        self._fresh = 0

    def partial(self, line: Line) -> None:
        """Show words that are still being said, on a terminal only, until the next line."""
        if not self._console.is_terminal:
            return
        text = f"{clock_time(line.time).rjust(7)}  {line.who}  {printable(line.words)} …"
        self._erase()
        shown = text[-(self._console.width - 1) :]
        self._console.print(Text(shown, "dim"), end="\r")
        self._fresh = len(shown)

    def _erase(self) -> None:
        if self._fresh:
            self._console.print(" " * self._fresh, end="\r")
            self._fresh = 0

    def __call__(self, line: Line) -> None:
        """Print one line."""
        self._erase()
        time, who, words = clock_time(line.time).rjust(7), line.who, _words(line)
        style = _STYLES.get(who, "")
        if self._console.is_terminal:
            grid = Table.grid(padding=(0, 2), expand=True)
            for width in (7, 10):
                grid.add_column(width=width, no_wrap=True)
            grid.add_column(ratio=1)
            grid.add_row(Text(time, "dim"), Text(who, style), words)
            self._console.print(grid)
        else:
            self._console.print(f"{time}  {who:<10}  {words.plain}", markup=False, soft_wrap=True)
        if self._clock is not None:
            self._clock.sleep(min(2.4, 0.4 + 0.03 * len(words.plain)))


def _words(line: Line) -> Text:
    """Give the words with what became of them; never by colour alone."""
    words = printable(line.words)
    if line.outcome == Outcome.IGNORED:
        return Text(f"({words or '…'}; not taken: {line.note})", "dim")
    if line.outcome == UNSPOKEN:
        return Text(f"({line.note})", "italic")
    if line.who == ASSISTANT:
        return Text(f"→ {words}", "bold")
    text = Text(words or "…")
    if line.outcome == Outcome.UNSURE:
        text.append(f"  (not sure: {line.note})", "italic")
    return text
