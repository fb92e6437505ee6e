"""Utterances to calls: a name and all parts of its run, however often the student breathes. Pure.

Spoken … ─▶ gather ─▶ Call (one line, or a run without a name), answers, what nothing explains
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import inf

from voicecount.drill.attempt import Said
from voicecount.drill.judge_heard import Spoken, Unheard, give_up
from voicecount.drill.judge_plan import Key, Line, PlanOfLines
from voicecount.reasons import Reason
from voicecount.words.meaning import Form, Meaning
from voicecount.words.soundalike import twins

FRESH = frozenset({"start_over", "take_back", "recount", "no"})
"""Commands after which numbers without a name begin the line in hand again."""
SAID_AGAIN = 2.0
"""Seconds. The last number said once more within so long, and before the partner speaks, was said
twice; later it is the sum told again. The usual longest pause inside a line; our choice."""
NEAR = 2
"""How far a number alone may be from the one that is due to be believed, although another sounds
like it that is farther: five after three is a number left out, and no nine. Our choice."""


@dataclass(frozen=True)
class Chunk:
    """One utterance of a call."""

    spoken: Spoken
    named: bool
    fresh: bool = False
    """Whether it begins the line again, by a command or after other words."""

    @property
    def start(self) -> float:
        """Give its start."""
        return self.spoken.start

    @property
    def end(self) -> float:
        """Give its end."""
        return self.spoken.end


@dataclass
class Call:
    """One line as it was called: utterances in a row."""

    key: Key | None
    """None for a run without a name."""
    chunks: list[Chunk] = field(default_factory=list)
    topic: Key | None = None
    """Of a run without a name: the line called before it."""
    lost: bool = False
    """Whether its name may be in something that was not understood."""
    place_lost: bool = False
    """The same of its place."""

    @property
    def start(self) -> float:
        """Give its start."""
        return self.chunks[0].start

    @property
    def end(self) -> float:
        """Give its end."""
        return max(chunk.end for chunk in self.chunks)

    @property
    def values(self) -> tuple[int, ...]:
        """Give all its numbers."""
        return tuple(value for chunk in self.chunks for value in chunk.spoken.values)


@dataclass
class Gathered:
    """Everything that was said, by what it is."""

    calls: list[Call] = field(default_factory=list)
    answers: list[Spoken] = field(default_factory=list)
    """Commands, and numbers that belong to no call."""
    unheard: list[Unheard] = field(default_factory=list)


class _Gathering:
    """Takes one utterance after another."""

    def __init__(self, plan: PlanOfLines, said: Iterable[Said], unheard: Sequence[Unheard]) -> None:
        self.found = Gathered()
        self._plan = plan
        self._said = tuple(said)
        self._unheard = tuple(unheard)
        self._hand: Call | None = None
        self._fresh = False
        self._place: str | None = None

    def take(self, spoken: Spoken) -> None:
        """Take the next utterance."""
        meaning = spoken.meaning
        if meaning.form is Form.COMMAND:
            self._fresh |= meaning.command in FRESH
            self.found.answers.append(spoken)
        elif meaning.form is Form.PLACE:
            self._place = meaning.place
        elif meaning.form in {Form.CHOICE, Form.NOT_COUNTED}:
            self.found.answers.append(spoken)
        elif meaning.item is None and meaning.place is None and self._place is None:
            self._bare(spoken)
        else:
            self._named(spoken, meaning)

    def _named(self, spoken: Spoken, meaning: Meaning) -> None:
        hand = self._hand
        topic = hand.key or hand.topic if hand is not None else None
        item = meaning.item or (topic[0] if topic is not None else None)
        if item is None:
            self._orphan(spoken)
            return
        place = meaning.place or self._place
        lost = place is None and (spoken.words_before or self._other_between(spoken))
        key = self._key(item, place, None if lost else topic)
        if spoken.asked is Reason.SOUND_ALIKE and spoken.values != self._due(key):
            self.found.unheard.append(give_up(spoken))
            return
        self._place = None
        same = hand is not None and hand.key == key and not lost
        if same and hand is not None and _told_again(hand, spoken):
            self.found.answers.append(spoken)
            return
        if not same:
            hand = self._begin(Call(key, place_lost=lost))
        self._add(hand, spoken, named=True)

    def _between(self, spoken: Spoken) -> list[Meaning | None]:
        """Give the readings of what was not understood since the last words of the line in hand."""
        after = self._hand.chunks[-1].start if self._hand is not None else -inf
        return [
            one.meaning
            for one in (*self._unheard, *self.found.unheard)
            if after <= one.start < spoken.start
        ]

    def _other_between(self, spoken: Spoken) -> bool:
        """Tell whether something not understood, of another item or of none, came just before."""
        own = {None, spoken.meaning.item}
        return any(one is None or one.item not in own for one in self._between(spoken))

    def _key(self, item: str, place: str | None, topic: Key | None) -> Key:
        """Give the line that is meant; an item without a place is at the one in hand."""
        lines = self._plan.of_item(item)
        if lines and all(line.key[1] is None for line in lines):
            return (item, None)
        if place is None and topic is not None and topic[0] == item:
            return topic
        return (item, place)

    def _due(self, key: Key) -> tuple[int, ...]:
        """Give what a number alone has to be, to be believed although another sounds like it."""
        line = self._plan.by_key.get(key)
        if line is None:
            return ()
        hand = self._hand
        if hand is not None and hand.key == key and hand.values and hand.values[-1] < line.number:
            return (hand.values[-1] + 1,)
        return (line.number,)

    def _bare(self, spoken: Spoken) -> None:
        hand, values = self._hand, spoken.values
        if hand is None or not values:
            self._orphan(spoken)
            return
        line = None if hand.key is None else self._plan.by_key.get(hand.key)
        before = hand.values[-1] if hand.values else 0
        goes_on = values[0] == before + 1
        if spoken.asked is not None and not self._explained(hand, line, spoken, before + 1):
            self.found.unheard.append(give_up(spoken))
            return
        if line is not None and self._is_answer(hand, line, spoken, goes_on=goes_on):
            self.found.answers.append(spoken)
        elif self._may_be_lost(hand, line, spoken):
            self._orphan(spoken, lost=True)
        elif values[0] == 1 and hand.values and not self._fresh and self._whole(hand, line):
            self._orphan(spoken)
        else:
            self._add(hand, spoken, named=False)

    def _may_be_lost(self, hand: Call, line: Line | None, spoken: Spoken) -> bool:
        """Tell whether something not understood may have named the line of these numbers.

        Then they go on with the line in hand only where that is not whole, and they are higher.
        """
        if hand.key is None:
            return False
        between = self._between(spoken)
        named = any(one is not None and one.item not in {None, hand.key[0]} for one in between)
        higher = (
            bool(hand.values) and not self._whole(hand, line) and spoken.values[0] > hand.values[-1]
        )
        doubt = bool(between) or spoken.words_before
        return doubt and (named or (bool(hand.values) and not higher))

    def _whole(self, hand: Call, line: Line | None) -> bool:
        """Tell whether all packages of the line in hand have been called."""
        if line is None:
            return hand.key is not None
        runs = sum(value <= 1 for value in hand.values) or 1
        if hand.values[-1] == line.number:
            return True
        cut = any(one.cue == line.interruption and one.start > hand.start for one in self._said)
        return runs - cut >= len(line.holds) and hand.values[-1] >= line.holds[-1]

    def _explained(self, hand: Call, line: Line | None, spoken: Spoken, due: int) -> bool:
        """Tell whether the line in hand vouches for numbers that were asked about.

        They go on with it or begin it again, or are one number near the one that is due while what
        sounds like it is not; after the partner's words, one that is told then.
        """
        values = spoken.values
        if len(values) > 1:
            return values[0] in {due, 1}
        if line is not None and self._over(hand, line, spoken):
            return values[0] in {due, *line.told}
        far = all(abs(twin - due) > NEAR for twin in twins(values[0]))
        return values[0] == due or (abs(values[0] - due) <= NEAR and far)

    def _is_answer(self, hand: Call, line: Line, spoken: Spoken, *, goes_on: bool) -> bool:
        """Tell whether numbers are said to the partner, and not counted."""
        values = spoken.values
        if not hand.values or self._fresh or values[0] == 1:
            return len(values) == 1 and bool(hand.values) and self._over(hand, line, spoken)
        lone = len(values) == 1
        if self._over(hand, line, spoken):
            whole = values[0] == line.number or self._whole(hand, line)
            return not goes_on or (lone and whole)
        again = lone and values[0] == hand.values[-1] and self._whole(hand, line)
        return again and spoken.start - hand.end > SAID_AGAIN

    def _over(self, hand: Call, line: Line | None, spoken: Spoken) -> bool:
        """Tell whether the partner has taken the line as done before these words."""
        if line is None:
            return False
        after = hand.chunks[-1].start
        ids = line.done_cues | set(line.events)
        return any(one.cue in ids and after < one.start <= spoken.start for one in self._said)

    def _orphan(self, spoken: Spoken, *, lost: bool = False) -> None:
        if not spoken.values:
            return
        if spoken.asked is not None:
            self.found.unheard.append(give_up(spoken))
            return
        hand = self._hand
        topic = hand.key or hand.topic if hand is not None else None
        self._add(self._begin(Call(None, topic=topic, lost=lost)), spoken, named=False)

    def _begin(self, call: Call) -> Call:
        self._hand = call
        self._fresh = False
        self.found.calls.append(call)
        return call

    def _add(self, hand: Call | None, spoken: Spoken, *, named: bool) -> None:
        if hand is not None:
            hand.chunks.append(Chunk(spoken, named, self._fresh))
            self._fresh = False


def gather(
    spoken: Sequence[Spoken],
    plan: PlanOfLines,
    said: Iterable[Said],
    unheard: Sequence[Unheard] = (),
) -> Gathered:
    """Join utterances to calls, in the order in which they were said."""
    gathering = _Gathering(plan, said, unheard)
    for one in spoken:
        gathering.take(one)
    return gathering.found


def _told_again(hand: Call, spoken: Spoken) -> bool:
    """Tell whether a name with one number only tells the sum of the run before it."""
    values = spoken.values
    return len(values) == 1 and values[0] > 1 and bool(hand.values) and values[0] == hand.values[-1]
