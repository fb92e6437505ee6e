"""Learning from what was heard, and listening again: what does harm is dropped."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from voicecount.hear.heard import Outcome
from voicecount.rehearse.ears import Ears, Examined
from voicecount.rehearse.learned import Learnt, with_learned
from voicecount.rehearse.lessons import Example, Lesson, learn
from voicecount.rehearse.takes import Key, Progress, Rehearsal, Take, name_of
from voicecount.rehearse.workers import at_once
from voicecount.words.graph import Grammar
from voicecount.words.numbers import words_of

HARMED = "all of it: sayings that were right before no longer were"
_SAFE = 15.0
"""A saying that was right and led by more nats stays right: its own name only gains."""
_NEIGHBOURS = 3
"""Other lines whose sayings a candidate must not take over."""


@dataclass
class School:
    """Learns from what was heard, and listens again."""

    result: Rehearsal
    grammar: Grammar
    ears: Ears
    tell: Progress
    _examined: dict[int, Examined] = field(default_factory=dict)

    def lessons(self, hard: frozenset[Key]) -> dict[Key, Lesson]:
        """Learn from every name that was not always heard right."""
        result = self.result
        found = {}
        for done, key in enumerate(sorted(hard)):
            self.tell("learning", done, len(hard))
            mine = [take for take in result.takes if self._key(take) == key]
            near = self._near(key)
            others = [
                self._example(take)
                for take in result.takes
                if take.saying.part == 0 and take.saying.item in near
            ]
            examples = [self._example(take) for take in mine]
            found[key] = learn(examples, others, self.grammar, result.names)
            if found[key].refused:
                result.refused[key[1]] = found[key].refused
        self.tell("learning", len(hard), len(hard))
        return found

    def proved(self, lessons: Mapping[Key, Lesson]) -> tuple[Learnt, ...]:
        """Listen again with everything learned, and drop what did a saying harm."""
        kept = {key: lesson for key, lesson in lessons.items() if lesson.sounds or lesson.spelled}
        while kept:
            learnt = tuple(lesson.learnt(*key) for key, lesson in kept.items())
            harmed = self._listen_after(with_learned(self.grammar, learnt), kept)
            if not harmed:
                return learnt
            for key in harmed:
                del kept[key]
                self.result.refused.setdefault(key[1], []).append(HARMED)
            for take in self.result.takes:
                take.after = take.before
        return ()

    def _listen_after(self, richer: Grammar, kept: Mapping[Key, Lesson]) -> set[Key]:
        """Hear the sayings that may change; give the names whose lessons did harm."""
        mine = [
            take
            for take in self.result.takes
            if self._key(take) in kept and not (take.right_before and take.before.margin > _SAFE)
        ]
        near = {key: self._near(key) for key in kept}
        beside = [
            take
            for take in self.result.takes
            if take.saying.part == 0
            and self._key(take) not in kept
            and any(take.saying.item in lines for lines in near.values())
        ]
        todo = [*mine, *beside]
        self.tell("listening after learning", 0, len(todo))
        answers = at_once(lambda take: self.ears.hear(take.utterance, richer), todo)
        for done, (take, answer) in enumerate(zip(todo, answers, strict=True), 1):
            take.after = answer
            self.tell("listening after learning", done, len(todo))
        return {
            key
            for key in kept
            if _harms(
                [take for take in mine if self._key(take) == key],
                [take for take in beside if take.saying.item in near[key]],
            )
        }

    def _example(self, take: Take) -> Example:
        if id(take) not in self._examined:
            self._examined[id(take)] = self.ears.examine(take.utterance)
        said = take.saying
        return Example(
            said.item,
            said.before,
            said.name,
            said.after,
            take.before.written,
            self._examined[id(take)],
            said.manner.teaches,
        )

    def _key(self, take: Take) -> Key:
        return name_of(self.result.sheet, take)

    def _near(self, key: Key) -> frozenset[str]:
        """Give the counted lines that sound nearest to a name."""
        names = self.result.names
        phones = names.by_line[key[0]][words_of(key[1])][0]
        nearest = names.nearest(phones, key[0], _NEIGHBOURS)
        return frozenset(line for _, line in nearest if line in names.counted)


def _harms(mine: Sequence[Take], beside: Sequence[Take]) -> bool:
    """Tell whether learning a name made its own sayings or its neighbours' worse."""
    fewer = sum(take.right_after for take in mine) < sum(take.right_before for take in mine)
    lost = any(take.right_before and not take.right_after for take in beside)
    return fewer or lost or any(map(_newly_wrong, mine))


def _newly_wrong(take: Take) -> bool:
    accepted = take.after.outcome is Outcome.ACCEPTED
    was = take.before.outcome is Outcome.ACCEPTED and take.before.meaning != take.meaning
    return accepted and take.after.meaning != take.meaning and not was
