"""The partner of a drill: what it says, and when. Pure: no sound, no clock, no disk.

    Heard, partial Heard, time ─▶ Session ─▶ Speech, Speech, … ─▶ (spoken) ─▶ Said

It follows along and does not teach: a line may be called in any order, again, or be taken back, and
is read back as the student called it. Nothing tells how many lie there before the drill is over.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from voicecount.drill.attempt import Said
from voicecount.drill.calls import COUNTS, Call, numbers_of, runs, so_far
from voicecount.drill.lines import Lines, Speech
from voicecount.drill.model import Drill, EventKind, Task
from voicecount.drill.steps import Step, StepKind, When
from voicecount.drill.vocabulary import vocabulary
from voicecount.hear.heard import Heard, Outcome
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.talk import wording
from voicecount.talk.text import sentence
from voicecount.words.grammar import build_grammar
from voicecount.words.graph import Grammar
from voicecount.words.meaning import Form, Meaning

SCENE, SAY_AGAIN, AGAIN, END = "scene", "say_again", "again", "end"
"""Ids of what the partner says beside the cues of ``steps.py``."""

ENDED = "That is the end of the drill."
SILENT = "Nothing was heard for a long time. The drill ends here."

_Due = tuple[float, Callable[[], list[Speech]]]


@dataclass(frozen=True)
class Limits:
    """How long the partner waits, in seconds of the stream. Our choice."""

    settle: float | None = None
    """Silence that ends a run; None takes the sheet's policy, or what the drill's least pace leaves
    between two numbers where that is longer."""
    name: float = 6.0
    """Silence after a name alone, before the partner asks for its numbers."""
    answer: float = 8.0
    """Silence after a call of the partner, before it is called once more."""
    grace: float = 4.0
    """Silence after the last step, in which the student may still change something."""
    silence: float = 45.0
    """Silence that ends the drill."""


class End(StrEnum):
    """Why a drill is over."""

    DONE = "done"
    """Every step is done."""
    FINISHED = "finished"
    """The student said that the count is finished."""
    SILENCE = "silence"
    """Nobody said anything for a long time."""


class Session:
    """Follows one attempt. All times are seconds from the start of the stream."""

    def __init__(
        self,
        drill: Drill,
        sheet: Sheet,
        *,
        limits: Limits | None = None,
        grammar: Grammar | None = None,
    ) -> None:
        self._drill = drill
        self._sheet = sheet
        self._limits = limits or Limits()
        self._settle = self._limits.settle or max(
            sheet.policy.settle_seconds, 60.0 / drill.pace.least
        )
        self._grammar = grammar or build_grammar(sheet, vocabulary(drill, sheet))
        self._confirms = drill.task is Task.CONFIRM
        self._lines = Lines(drill, sheet)
        self._queue: list[Step] = []
        self._waits: Step | None = None
        self._repeated = False
        self._call: Call | None = None
        self._last: Call | None = None
        self._place: str | None = None
        self._quiet = 0.0
        self._spoke = 0.0
        self._standing = False
        self._latest: tuple[Speech, ...] = ()
        self.ended: End | None = None
        """Why it is over; None while it goes on."""

    @property
    def over(self) -> bool:
        """Whether nothing more is said or waited for."""
        return self.ended is not None

    @property
    def may_interrupt(self) -> bool:
        """Whether open utterances have to be followed: the partner may talk into a run."""
        return not self._confirms and self._lines.may_interrupt

    def begin(self) -> tuple[Speech, ...]:
        """Tell the scene, and begin what does not begin with a call of the student."""
        self._queue = self._lines.leading()
        return self._say([Speech(SCENE, self._drill.about), *self._next()])

    def said(self, said: Said) -> None:
        """Learn when something was really spoken: silence counts from its end."""
        self._spoke = said.start
        self._quiet = max(self._quiet, said.end)

    def partial(self, heard: Heard) -> tuple[Speech, ...]:
        """Take an open utterance as far as it has come: the partner may talk into it."""
        meaning = so_far(heard, self._grammar)
        if self.over or meaning is None or self._confirms:
            return ()
        call = self._joined(meaning, numbers_of(meaning), heard.end)
        return () if call is None else self._say(self._interrupting(call))

    def heard(self, heard: Heard) -> tuple[Speech, ...]:
        """Take a whole utterance of the student."""
        if self.over or heard.outcome is Outcome.IGNORED:
            return ()
        self._quiet = max(self._quiet, heard.end)
        self._standing = False
        return self._say(self._heard(heard))

    def tick(self, until: float) -> tuple[Speech, ...]:
        """Let time pass: no utterance that is still to come begins before ``until``.

        Gives what is due first; where that is something to say, the rest waits for the next tick.
        """
        while not self.over:
            due, act = min(self._deadlines(), key=lambda one: one[0])
            if due >= until:
                break
            speeches = self._say(act())
            if speeches:
                return speeches
        return ()

    def _deadlines(self) -> list[_Due]:
        """Give what happens when nobody says anything, and when."""
        found: list[_Due] = []
        call, waits, limits = self._call, self._waits, self._limits
        if call is not None and not call.broken:
            wait = self._settle if call.numbers else limits.name
            found.append((max(call.end, self._quiet) + wait, self._close))
        if waits is not None:
            within = limits.answer if waits.within is None else waits.within
            found.append((self._quiet + within, self._not_answered))
        if call is None and waits is None and self._lines.all_done:
            found.append((self._quiet + limits.grace, lambda: self._end(End.DONE)))
        if not self._standing:
            found.append((self._quiet + limits.silence, lambda: self._end(End.SILENCE)))
        return found or [(float("inf"), list)]

    def _say(self, speeches: list[Speech]) -> tuple[Speech, ...]:
        if speeches:
            self._latest = tuple(speeches)
        return tuple(speeches)

    def _end(self, why: End) -> list[Speech]:
        self.ended = why
        return [Speech(END, SILENT if why is End.SILENCE else ENDED)]

    def _heard(self, heard: Heard) -> list[Speech]:
        meaning = heard.meaning
        # A number that sounds like another is an answer all the same; the judge looks which.
        alike = self._confirms and heard.reason is Reason.SOUND_ALIKE
        if meaning is None or (heard.outcome is Outcome.UNSURE and not alike):
            return self._unclear(heard)
        if meaning.form is Form.COMMAND and meaning.command is not None:
            return self._commanded(meaning.command)
        if meaning.form is Form.PLACE:
            self._place = meaning.place
        if not numbers_of(meaning) or meaning.form not in COUNTS:
            return []  # such as something that is never counted; the judge tells
        return self._answered() if self._confirms else self._counted(meaning, heard)

    # The student calls

    def _counted(self, meaning: Meaning, heard: Heard) -> list[Speech]:
        objected = self._objected_by_number(meaning)
        if objected is not None:
            return objected
        speeches: list[Speech] = []
        for part in runs(numbers_of(meaning)):
            call = self._joined(meaning, part, heard.end)
            if call is None:
                return [Speech(SAY_AGAIN, wording.which_item())]
            before = self._call
            if before is not None and self._is_whole(before, call):
                speeches += self._close()
            self._leave()
            self._call = call
        if self._call is not None and heard.start < self._spoke:
            self._call = self._call.broken_off()  # the partner talked into it
            return speeches
        return speeches + (self._interrupting(self._call) if self._call else [])

    def _is_whole(self, before: Call, call: Call) -> bool:
        """Tell whether a run is over by the one that comes now."""
        if not before.numbers or before.broken:
            return False
        further = call.numbers[:1] == (1,) and self._lines.is_package(before)
        return before.line != call.line or further

    def _joined(self, meaning: Meaning, numbers: tuple[int, ...], end: float) -> Call | None:
        """Give the run in hand with what was said now; None where nobody knows which line."""
        before = self._call
        if meaning.item is None and before is None:
            last = self._last
            if last is None:
                return None
            return replace(last.joined(numbers, end, named=False), extends=numbers[:1] != (1,))
        if meaning.item is None and before is not None:
            return before.joined(numbers, end, named=False)
        item = meaning.item or ""
        place = meaning.place or self._lines.place_of(item, before, self._place)
        if before is not None and (before.item, before.place) == (item, place):
            return before.joined(numbers, end, named=True)
        return Call(item, place, numbers, end)

    def _close(self) -> list[Speech]:
        """End the run in hand: read its line back where it is whole, and begin what follows."""
        call, self._call = self._call, None
        if call is None:
            return []
        if not call.numbers:
            self._call = call.broken_off()
            return [Speech(SAY_AGAIN, wording.how_many(self._sheet.item(call.item)))]
        self._last, self._place = replace(call, extends=False), None
        if not self._lines.take(call):
            return []  # a further package is to come
        misread = self._lines.misread(call)
        self._queue = self._lines.following(call)
        if misread is not None:
            return [misread, *self._next()]
        return [*self._lines.read_back(call), *self._next()]

    def _interrupting(self, call: Call) -> list[Speech]:
        """Talk into a run that has come to the number planned."""
        speech = self._lines.interruption(call)
        if speech is None:
            return []
        self._call = call.broken_off()
        return [speech]

    # Events and answers

    def _next(self) -> list[Speech]:
        """Begin the next step that does not begin with a call of the student."""
        if self._waits is not None or not self._queue:
            return []
        self._waits = self._queue.pop(0)
        self._repeated = False
        return _begins(self._waits)

    def _answered(self) -> list[Speech]:
        """Take the step that waits as done, rightly or not."""
        step, self._waits = self._waits, None
        if step is None:
            return []
        self._lines.done.add(step.id)
        return self._next()

    def _not_answered(self) -> list[Speech]:
        """Go on without an answer; what the partner called is called once more first."""
        step = self._waits
        if step is not None and self._confirms and not self._repeated:
            self._repeated = True
            return _begins(step)
        return self._answered()

    def _leave(self) -> None:
        """Pass over answers that did not come: the student went on with the count."""
        waiting = [] if self._waits is None else [self._waits]
        self._lines.done.update(step.id for step in (*waiting, *self._queue))
        self._waits, self._queue = None, []

    def _objected_by_number(self, meaning: Meaning) -> list[Speech] | None:
        """Take one number to a misread line as the answer; None where it is something else."""
        step, last = self._waits, self._last
        if step is None or last is None or step.kind is not StepKind.OBJECT:
            return None
        numbers = numbers_of(meaning)
        if len(numbers) != 1 or meaning.item not in {None, last.item}:
            return None
        right = numbers == (self._lines.total(last),)
        return self._objected() if right else self._answered()

    def _objected(self) -> list[Speech]:
        """Put a misreading right."""
        last = self._last
        return [*([] if last is None else self._lines.read_back(last)), *self._answered()]

    # What else may be said

    def _unclear(self, heard: Heard) -> list[Speech]:
        """Ask for what was not understood, unless the partner itself talked into it."""
        meaning = heard.meaning
        if heard.start < self._spoke:
            return []
        name = meaning.item if meaning is not None and meaning.form is Form.NAME else None
        if name is None or meaning is None or heard.reason is not Reason.NO_NUMBER:
            if self._call is not None:
                self._call = self._call.broken_off()
            return [Speech(SAY_AGAIN, wording.unsure(heard.reason))]
        if self._confirms:
            return []
        before = self._call
        place = meaning.place or self._lines.place_of(name, before, self._place)
        call = Call(name, place, (), heard.end)
        if before is not None and before.line == call.line and before.numbers:
            self._call = replace(before, end=heard.end)
            return []
        speeches = self._close() if before is not None and self._is_whole(before, call) else []
        self._leave()
        self._call = call
        return speeches

    def _commanded(self, command: str) -> list[Speech]:
        step = self._waits
        if command == "finish":
            return self._finish()
        if command == "say_again":
            return list(self._latest)
        self._standing = command == "stand_by"
        if step is not None and command in step.expect:
            misread = step.planted is not None and step.planted.kind is EventKind.MISREAD
            return self._objected() if misread else self._answered()
        return self._to_a_call(command) if self._confirms else self._to_a_line(command)

    def _to_a_line(self, command: str) -> list[Speech]:
        """Take a line back that the student does not want to stand."""
        if command == "yes" and self._waits is not None and self._waits.kind is StepKind.OBJECT:
            return self._answered()
        call = self._call if command == "start_over" and self._call is not None else self._last
        if command not in {"start_over", "take_back", "no"} or call is None:
            return []
        self._lines.forget(call.line)
        self._call = Call(call.item, call.place, (), self._quiet, broken=True)
        name = self._sheet.item(call.item).name(2)
        return [Speech(AGAIN, sentence(f"{name}, again from one"))]

    def _to_a_call(self, command: str) -> list[Speech]:
        """Take a yes as an answer; call the line again where the student does not agree."""
        if command == "yes":
            return self._answered()
        if command in {"no", "start_over"} and self._waits is not None:
            self._repeated = True
            return _begins(self._waits)
        return []

    def _finish(self) -> list[Speech]:
        """End the drill; a run in hand is read back first."""
        call, self._call = self._call, None
        speeches: list[Speech] = []
        if call is not None and call.numbers and not call.broken:
            self._lines.take(call)
            speeches = self._lines.read_back(call)
        return speeches + self._end(End.FINISHED)


def _begins(step: Step) -> list[Speech]:
    """Give what the partner says when a step begins."""
    return [Speech(cue.id, cue.words) for cue in step.cues if cue.when is When.STEP_BEGINS]
