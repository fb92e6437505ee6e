"""Random cases: two people, their slips, and a machine that dies; every record kept on a disk.

``CasePlay`` speaks, keeps and reopens as the room does, and lets the listener of ``case_model``
check every record. ``ACTIONS`` are what people may do; each takes a play and a way to choose.
"""

import random
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from case_model import Paper, Said, Thing, must

from voicecount.commands.journals import CODEC
from voicecount.count.events import Event
from voicecount.count.ledger import Ledger, apply, fold
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.hear.heard import Outcome
from voicecount.hear.typed import TypedRecogniser
from voicecount.keep.files import Disk
from voicecount.keep.journal import Journal
from voicecount.reasons import Reason
from voicecount.sheet.model import Sheet
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply, Step
from voicecount.testing.clock import FakeClock
from voicecount.testing.disk import MemoryDisk, PowerCut, WatchedDisk
from voicecount.words import choices
from voicecount.words.commands import BY_ID as COMMANDS
from voicecount.words.grammar import Grammar, build_grammar
from voicecount.words.numbers import in_words
from voicecount.words.places import BY_ID as PLACES
from voicecount.words.vocabulary import Vocabulary

Choose = Callable[[Sequence[Any]], Any]

SCRUB, CIRC = "scrub", "circulator"
CHANNEL = {SCRUB: 0, CIRC: 1}

PLAN = (
    {"id": "initial", "kind": "initial", "say": "initial count"},
    {"id": "uterus", "kind": "cavity", "say": "uterine count", "leaves_out": ["instruments"]},
    {"id": "closing", "kind": "closing", "say": "closing count"},
    {"id": "final", "kind": "final", "say": "final count", "leaves_out": ["instruments"]},
)
ITEMS = (
    {"id": "lap-sponge", "say": ["lap sponge"], "group": "sponges", "pack": 5, "expect": 10},
    {"id": "needle", "say": ["suture needle"], "group": "sharps", "expect": 4, "stated": True},
    {"id": "tip", "say": ["suction tip"], "group": "miscellaneous", "expect": 1, "pieces": 2},
    {"id": "clamp", "say": ["Kelly clamp"], "group": "instruments", "expect": 2},
)
NAMES = {"lap-sponge": "lap sponges", "needle": "suture needles", "tip": "suction tips"}
NAMES["clamp"] = "Kelly clamps"
TEAM = ({"id": "ada", "say": "nurse Ada"}, {"id": "ben", "say": "nurse Ben"})

SHEETS = tuple(
    Sheet.model_validate(
        {
            "title": "A random case",
            "items": [{**item, "say": list(item["say"])} for item in ITEMS],  # type: ignore[call-overload]
            "plan": list(PLAN),
            **more,
        }
    )
    for more in (
        {"policy": {"places": ["field", "back_table", "off_field"]}},
        {
            "policy": {
                "places": ["field", "off_field"],
                "steps": ["recount", "search", "image"],
                "search": ["wound", "floor"],
                "tucked_counts_until": "closing",
                "interrupted": "group",
            },
            "team": list(TEAM),
        },
        {
            "policy": {
                "places": ["mayo"],
                "steps": ["recount"],
                "interrupted": "count",
                "relief_counts": False,
            }
        },
        {"policy": {"places": ["field", "back_table"], "yes_confirms": True, "steps": ["pause"]}},
    )
)
"""Some sheets: what hospitals decide differently."""

_GRAMMARS: dict[tuple[str, Vocabulary], Grammar] = {}


class MortalDisk(WatchedDisk):
    """A disk on which the program can be made to die at a call that is still to come."""

    def __init__(self, disk: Disk | None = None) -> None:
        super().__init__(disk)
        self.left = 0
        self.when = ""

    def arm(self, left: int, when: str) -> None:
        """Die of the n-th write from here: before it, half of it, before its sync or after it."""
        self.left, self.when = left, when

    def write(self, fd: int, data: bytes) -> int:
        """Append, or die of it."""
        self.left -= 1
        if self.left == 0 and self.when == "before":
            raise PowerCut
        if self.left == 0 and self.when == "half":
            self.disk.write(fd, data[: max(1, len(data) // 2)])
            raise PowerCut
        return super().write(fd, data)

    def sync(self, fd: int) -> None:
        """Sync, or die of it."""
        if self.left == 0 and self.when == "written":
            raise PowerCut
        super().sync(fd)
        if self.left == 0 and self.when == "synced":
            raise PowerCut


class CasePlay:
    """One case, from the first word to wherever it gets."""

    def __init__(self, sheet: Sheet, folder: Path, *, memory: bool = False) -> None:
        self.sheet = sheet
        self.folder = folder
        self.memory = MemoryDisk() if memory else None
        self.disk = MortalDisk(self.memory)
        self.path = folder / "case.vcj"
        self.paper = Paper(
            {one.id: Thing(one.pack, one.pieces, one.stated) for one in sheet.items},
            [(one.id, str(one.kind)) for one in sheet.plan],
            glance=sheet.policy.glance,
            tucked=sheet.policy.tucked_counts_until,
            yes_confirms=sheet.policy.yes_confirms,
        )
        self.clock = FakeClock()
        self.now = 0.0
        self.tally: Counter[str] = Counter()
        self.words: list[str] = []
        """What was said, for reading a failure."""
        self.whole_step = True
        """False from a death within a step until the end of the count: its rest is lost."""
        first = open_case(
            sheet, at=0.0, software="test", recogniser="typed", voice="none", told_apart=True
        )
        self.journal = Journal.create(self.path, first, CODEC, disk=self.disk, clock=self.clock)
        self.dialogue = Dialogue(sheet, told_apart=True)
        self.events: list[Event] = list(self.journal.events)
        self.folded = fold(self.events)
        self.paper.claim(first)
        self.answered(self.dialogue.commit(self.events))

    # Speaking.

    def say(
        self,
        who: str,
        text: str = "",
        *,
        soon: bool = False,
        over: bool = False,
        sure: bool = True,
        **meant: Any,
    ) -> None:
        """Say something, after the call in hand is over unless it follows soon.

        ``over``: said into the last words of another.
        """
        if self.paper.ended:
            return
        if not soon and not over:
            self.wait()
        said = self._worded(who, text, meant)
        said.start = self.now + (-0.1 if over else 0.4)
        said.end = self.now = max(self.now + 0.01, said.start + 0.3 * len(said.text.split()))
        vocabulary = self.dialogue.vocabulary
        known = (self.sheet.digest, vocabulary)
        if known not in _GRAMMARS:
            _GRAMMARS[known] = build_grammar(self.sheet, vocabulary)
        heard = TypedRecogniser().understand(
            said.text,
            _GRAMMARS[known],
            channel=CHANNEL[who],
            start=said.start,
            end=said.end,
        )
        if not sure and heard.outcome is Outcome.ACCEPTED:
            heard = replace(heard, outcome=Outcome.UNSURE, reason=Reason.WEAK_MATCH)
        said.sure = heard.outcome is Outcome.ACCEPTED
        self.words.append(f"{who}{'' if said.sure else '?'}{' +' if soon else ''}: {said.text}")
        self.paper.hear(said)
        self.tally["utterances"] += 1
        foreseen = self.dialogue.foresee(heard, Role(who))
        self.take(self.dialogue.hear(heard, Role(who)), foreseen)

    def command(self, who: str, command: str, *, soon: bool = False) -> None:
        """Say a command."""
        if command.startswith("begin:"):
            title = next(one.say for one in self.sheet.plan if one.id == command[6:])
            self.say(who, f"begin the {title}", command=command, soon=soon)
        else:
            self.say(who, COMMANDS[command].phrases[0], command=command, soon=soon)

    def number(
        self,
        who: str,
        n: int,
        item: str | None = None,
        *,
        soon: bool = False,
        over: bool = False,
    ) -> None:
        """Say a number, perhaps with its name."""
        self.say(who, numbers=(n,), item=item, soon=soon, over=over)

    def answer(self, who: str, choice: str, phrase: str) -> None:
        """Say one of the answers that a question offers."""
        self.say(who, phrase, choice=choice)

    def wait(self) -> None:
        """Let the call in hand be over."""
        deadline = self.dialogue.next_deadline
        if deadline is not None:
            self.now = max(self.now, deadline)
            foreseen = self.dialogue.foresee(None)
            self.take(self.dialogue.settle(self.now), foreseen)

    def _worded(self, who: str, text: str, meant: dict[str, Any]) -> Said:
        said = Said(who, text, **meant)
        if not text:
            n = said.numbers
            run = len(n) > 1 or n in {(0,), (1,)} or said.item is None
            parts = [NAMES[said.item]] if said.item else []
            parts += [PLACES[said.place].phrases[0]] if said.place else []
            parts += ["total"] if n and not run else []
            parts += ["none"] if n == (0,) else [in_words(one) for one in n]
            parts += [in_words(said.pieces), "pieces"] if said.pieces else []
            said.text = " ".join(parts)
        return said

    # Keeping.

    def take(self, step: Step, foreseen: Reply | None = None) -> None:
        """Keep a step's events first, then tell the dialogue; all may end at any of them.

        What is said has to be what was foreseen.
        """
        must(not (step.events and step.reply), "a reply before its events are kept")
        if not step.events:
            must(step.reply == foreseen, "another reply was foreseen", foreseen)
            self.answered(step.reply)
            self.check()
            return
        try:
            stored = [self._kept(event) for event in step.events]
        except PowerCut:
            self.reopen(step.events, died=True)
            return
        reply = self.dialogue.commit(stored)
        must(reply == foreseen, "another reply was foreseen", foreseen)
        self.answered(reply)
        self.check()

    def _kept(self, event: Event) -> Event:
        kept = self.journal.append(event)
        self._believed(kept)
        return kept

    def _believed(self, event: Event) -> None:
        """Take what is in the journal for good."""
        if event.kind == "count_opened":
            self.whole_step = True
        if event.kind == "count_finished":
            must(not self.paper.owed(), "finished with a difference that is not open")
        self.events.append(event)
        self.folded = apply(self.folded, event)
        self.paper.claim(event)
        self.tally["events"] += 1
        self.tally[f"event {event.kind}"] += 1
        if event.kind == "discrepancy_closed":
            self.tally[f"closed {event.settled}"] += 1
        if event.kind == "count_finished":
            self.tally[f"result {event.result}"] += 1

    def answered(self, reply: Reply | None) -> None:
        """Listen to the assistant."""
        if reply is None:
            return
        self.words.append(f"    -> {reply.text}")
        self.paper.assistant = reply.text
        for never in ("safe", "all present", "may close", "can close", "all correct"):
            must(never not in reply.text.lower(), "it judged", reply.text)

    def check(self) -> None:
        """Compare the three: the dialogue's ledger, the journal's fold, the listener's paper."""
        must(self.dialogue.ledger == self.folded, "the ledger is not the fold of the journal")
        self.paper.compare(self.folded, whole_step=self.whole_step)

    # Dying.

    def crash(self, keep: int = 0) -> None:
        """End the program between two steps, and go on with the journal."""
        self.reopen((), died=False, keep=keep)

    def reopen(self, writing: Sequence[Event], *, died: bool, keep: int = 3) -> None:
        """Start again from what the disk holds."""
        self.tally["crashes"] += 1
        self.disk.arm(0, "")
        self.journal.close()
        known = len(self.events)
        if self.memory is not None:
            self.memory.power_cut(keep)
        ledgers: list[Ledger] = []
        self.journal = Journal.open(
            self.path,
            CODEC,
            check=lambda events: ledgers.append(fold(events)),
            disk=self.disk,
            clock=self.clock,
        )
        self.tally["reopenings"] += 1
        events = list(self.journal.events)
        must(events[:known] == self.events, "an acknowledged record is lost or changed")
        more = events[known:]
        must(len(more) <= 1, "more than the one record that was being written", len(more))
        if more:
            done = [event for event in self.events if event in writing]
            must(more[0] == writing[len(done) % len(writing)] or more[0] in writing, "another one")
            self._believed(more[0])
        must(ledgers[0] == self.folded, "the reopened ledger is not the fold")
        self.whole_step = self.whole_step and not died
        self.words.append("    (the program ended; the journal was opened again)")
        self.dialogue = Dialogue(self.sheet, told_apart=True, ledger=ledgers[0])
        self.answered(self.dialogue.opening())
        self.check()

    def end(self) -> None:
        """Close, and read the whole journal once more."""
        if not self.paper.ended:
            self.wait()
        self.crash()
        self.journal.close()
        must(fold(self.events) == self.dialogue.ledger, "the fold of all events")
        self.tally["cases"] += 1
        self.tally["ended by both"] += self.paper.ended
        self.tally["discrepancies opened"] += self.paper.opened_so_far
        self.tally["left open at the end"] += len(self.paper.open)


# What people may do.


def due(play: CasePlay) -> list[tuple[str, str | None]]:
    """Give the lines that are not done, in the order of counting."""
    paper = play.paper
    return [key for item in paper.items for key in paper.keys(item) if not paper.done(key)]


def right_number(play: CasePlay, item: str, place: str | None, choose: Choose) -> int:
    """Give a number that fits what is expected, as far as the listener knows."""
    paper = play.paper
    if not paper.places:
        return next(one.expect or 1 for one in play.sheet.items if one.id == item)
    rest = paper.expected(item) or 0
    rest -= paper.there(item) - paper.total((item, place))
    if place == paper.places[-1]:
        return max(0, rest)
    return int(choose([max(0, rest), max(0, rest // 2), 0]))


def call(play: CasePlay, item: str, place: str | None, n: int, choose: Choose) -> None:
    """Call a line as it should be called."""
    thing = play.paper.things[item]
    pieces = thing.pieces if thing.pieces > 1 and n else None
    if n == 0:
        play.say(SCRUB, item=item, place=place, numbers=(0,))
    elif not play.paper.places and thing.pack and n % thing.pack == 0 and n > thing.pack:
        for at in range(n // thing.pack):
            run = tuple(range(1, thing.pack + 1))
            play.say(SCRUB, item=None if at else item, numbers=run, soon=at > 0)
    elif thing.stated and n > 1 and choose([True, False]):
        play.say(SCRUB, item=item, place=place, numbers=(n,))
    else:
        run = tuple(range(1, n + 1))
        cut = choose([n, n, max(1, n - 1)]) if pieces is None else n
        play.say(SCRUB, item=item, place=place, numbers=run[:cut], pieces=pieces)
        if cut < n:
            play.say(SCRUB, numbers=run[cut:], soon=True)


def settled(play: CasePlay, choose: Choose) -> None:
    """Let the call be over; where it is asked, say what it was."""
    play.wait()
    if play.paper.assistant.endswith("Addition, or recount?"):
        play.command(SCRUB, choose(["recount", "recount", "recount", "addition"]))


def count_line(play: CasePlay, choose: Choose) -> None:
    """Call a line, and hear what the circulator says to it."""
    paper = play.paper
    keys = due(play)
    item, place = choose(keys[:3] or [(paper.items[0], (paper.places or (None,))[0])])
    n = right_number(play, item, place, choose) + choose([0, 0, 0, 0, 0, 0, 1, -1, -2])
    if choose([True] + [False] * 9):
        fault = choose([(2, 3), (1, 3), (1, 2, 2), (1, 2, 1), (2,), (1, 2, 4, 5)])
        play.say(SCRUB, item=item, place=place, numbers=fault)
    else:
        call(play, item, place, max(0, n), choose)
    answer_line(play, (item, place), choose)


def answer_line(play: CasePlay, key: tuple[str, str | None], choose: Choose) -> None:
    """Say something to a line that was called: the right thing in most cases."""
    how = choose(
        ["right"] * 8 + ["named", "wrong", "yes", "silence", "scrub", "no"] + ["soon", "over"]
    )
    if how not in {"soon", "over"}:
        settled(play, choose)
    n = play.paper.total(key)
    if how in {"soon", "over"} and play.dialogue.call is not None:
        n = play.dialogue.call.counted
    match how:
        case "right" | "soon" | "over":
            play.number(CIRC, n, soon=how == "soon", over=how == "over")
        case "named":
            play.number(CIRC, n, key[0])
        case "wrong":
            play.number(CIRC, max(0, n + choose([1, -1])))
        case "scrub":
            play.number(SCRUB, n)
        case "yes" | "no":
            play.command(CIRC, how)
        case _:
            pass


def count_all(play: CasePlay, choose: Choose) -> None:
    """Go through what is due in one go, one slip at most."""
    slip = choose([None, None, 1, 2, 3])
    for at in range(14):
        keys = due(play)
        if not keys or play.paper.standing_by:
            return
        item, place = keys[0]
        n = right_number(play, item, place, choose)
        call(play, item, place, max(0, n + (choose([1, -1, -2]) if at == slip else 0)), choose)
        settled(play, choose)
        play.number(CIRC, play.paper.total((item, place)))


def whole_count(play: CasePlay, choose: Choose) -> None:
    """Begin a count if none is open, go through all of it without a slip, and end it."""
    if not play.paper.counting:
        play.command(CIRC, choose(["begin", "begin", "ask_count"]))
    for key in due(play):
        call(play, *key, right_number(play, *key, choose), choose)
        settled(play, lambda options: options[0])
        play.number(CIRC, play.paper.total(key))
        if play.paper.open and choose([True, False]):
            return
    play.command(choose([SCRUB, CIRC]), "finish")


def opposite(play: CasePlay, choose: Choose) -> None:
    """Count one line too high and another as much too low."""
    if not play.paper.places:
        return
    for more in (1, -1):
        keys = due(play)
        if not keys:
            return
        item, place = keys[0] if more > 0 else keys[-1]
        n = max(0, right_number(play, item, place, choose) + more)
        call(play, item, place, n, choose)
        play.wait()
        play.number(CIRC, play.paper.total((item, place)))


def confirm(play: CasePlay, choose: Choose) -> None:
    """Say the number of a line that waits."""
    waits = [key for key, lines in play.paper.lines.items() if lines and not play.paper.done(key)]
    if waits:
        answer_line(play, choose(waits), choose)


def none_elsewhere(play: CasePlay, choose: Choose) -> None:
    """Say that there is none anywhere else."""
    if play.paper.places:
        play.command(choose([SCRUB, SCRUB, CIRC]), "none_elsewhere")
        play.number(choose([CIRC, CIRC, SCRUB]), 0)


def other_count(play: CasePlay, choose: Choose) -> None:
    """Finish the count, begin another, or say that it cannot be done."""
    who = choose([SCRUB, CIRC])
    what = choose(["finish", "finish", "begin", "begin", "ask_count", "add", "named", "waive"])
    if what == "named":
        what = f"begin:{choose([one.id for one in play.sheet.plan])}"
    play.command(who, what)
    if what == "waive":
        reason = choose(choices.WAIVE)
        play.answer(who, reason.id, reason.phrases[0])
        agree(play, who, choose)


def next_count(play: CasePlay, choose: Choose) -> None:
    """End a count that is done and begin the next."""
    if play.paper.counting and not (due(play) and choose([True, True, True, False])):
        play.command(CIRC, "finish")
        play.command(choose([SCRUB, CIRC]), choose(["begin", "begin", "add", "ask_count"]))
    elif not play.paper.counting:
        play.command(CIRC, "begin")
    else:
        count_all(play, choose)


def added(play: CasePlay, choose: Choose) -> None:
    """Add something, whole."""
    if play.paper.counting:
        return
    play.command(SCRUB, "add")
    item = choose(list(play.paper.things))
    thing = play.paper.things[item]
    call(play, item, None, thing.pack or choose([1, 2, 3]), choose)
    answer_line(play, (item, None), choose)
    if choose([True, True, False]):
        play.command(CIRC, "finish")


def agree(play: CasePlay, who: str, choose: Choose, n: int | None = None) -> None:
    """Answer a form that one person began: the other agrees, does not, or says nothing."""
    other = CIRC if who == SCRUB else SCRUB
    how = choose(["agree"] * 6 + ["same person", "wrong", "no", "silence", "both yes"])
    right = (
        (lambda one: play.command(one, "yes")) if n is None else (lambda one: play.number(one, n))
    )
    match how:
        case "agree":
            right(other)
        case "same person":
            right(who)
            right(choose([who, other]))
        case "wrong" if n is not None:
            play.number(other, n + 1)
        case "no":
            play.command(other, "no")
        case "both yes":
            play.command(who, "yes")
            play.command(other, "yes")
        case _:
            pass


INCIDENTS = (
    *("dropped", "cut", "broken", "incomplete", "tucked", "untucked", "packed", "packing_out"),
    *("other_number", "hand_over", "count_off", "one_too_many", "add"),
)


def incident(play: CasePlay, choose: Choose) -> None:
    """Tell what happened to an item."""
    who = choose([SCRUB, CIRC])
    form = choose(INCIDENTS)
    if form == "add" and not (play.paper.counting and play.paper.places):
        return
    item = choose(list(play.paper.things))
    n = choose([1, 1, 2, 3])
    play.command(who, form)
    if choose([True] * 6 + [False]):
        teller = choose([who] * 5 + [CIRC if who == SCRUB else SCRUB])
        if form == "other_number":
            play.say(teller, item=item, numbers=(5,))
            play.number(teller, n)
        elif choose([True, True, False]):
            play.say(teller, item=item, numbers=(n,))
        else:
            play.say(teller, item=item)
            play.number(choose([who, teller]), n)
        if form in {"tucked", "packed"}:
            site = choose(choices.SITES)
            play.answer(choose([who, teller]), site.id, site.phrases[0])
        for of, answers in (("packed", choices.REMOVAL), ("hand_over", choices.HAND_OVER)):
            if of == form:
                one = choose(answers)
                play.answer(who, one.id, one.phrases[0])
    agree(play, who, choose, n)


def take_back(play: CasePlay, choose: Choose) -> None:
    """Ask to take a line back."""
    who = choose([SCRUB, CIRC])
    play.command(who, "take_back")
    agree(play, who, choose)


def difference(play: CasePlay, choose: Choose) -> None:
    """Do a step about a difference, or end it."""
    who = choose([SCRUB, CIRC])
    if not play.paper.open:
        return
    first = play.paper.open[min(play.paper.open)]
    what = choose(
        [
            "done",
            "done",
            "nothing_there",
            "nothing_there",
            "cannot",
            "found",
            "found",
            "stays_missing",
            "explained",
            "yes",
        ]
    )
    play.command(who, what)
    match what:
        case "found":
            where = choose(choices.WHERE)
            play.answer(who, where.id, where.phrases[0])
            n = max(1, first.missing + choose([0, -1]))
            play.number(who, n)
            agree(play, who, choose, n)
        case "stays_missing" | "explained":
            one = choose(choices.DECISION if what == "stays_missing" else choices.EXPLAINED)
            play.answer(who, one.id, one.phrases[0])
            agree(play, who, choose)
        case "done" if choose([True, False]):
            one = choose(choices.IMAGE)
            play.answer(who, one.id, one.phrases[0])
            reader = choose(choices.READER)
            play.answer(who, reader.id, reader.phrases[0])
        case "yes":
            play.command(CIRC if who == SCRUB else SCRUB, "yes")
        case "cannot" if choose([True, False]):
            one = choose(choices.NO_IMAGE)
            play.answer(who, one.id, one.phrases[0])
        case _:
            pass


def all_steps(play: CasePlay, choose: Choose) -> None:
    """Go through every step of a difference, count again, and end it."""
    for _ in range(14):
        if not play.paper.open or play.paper.standing_by or play.paper.ended:
            return
        first = play.paper.open[min(play.paper.open)]
        keys = [key for key in due(play) if key[0] == first.item] if play.paper.places else []
        if keys:
            item, place = keys[0]
            n = right_number(play, item, place, choose)
            call(play, item, place, n + choose([0, 0, 0, 1]), choose)
            settled(play, choose)
            play.number(CIRC, play.paper.total((item, place)))
        elif "Each of you, say: yes" in play.paper.assistant:
            both = [SCRUB, CIRC]
            play.command(both[0], "yes")
            play.command(both[1], "yes")
        else:
            play.command(SCRUB, choose(["done", "nothing_there", "cannot"]))
            if choose([True] * 3 + [False]):
                continue
            difference(play, choose)


def people(play: CasePlay, choose: Choose) -> None:
    """Somebody takes over, or comes back; or the operation turns open."""
    who = choose([SCRUB, CIRC])
    form = choose(
        [
            "change_scrub",
            "change_circulator",
            "break_scrub",
            "break_circulator",
            "back",
            "turn_open",
        ]
    )
    play.command(who, form)
    team = play.sheet.people
    for _ in range({"c": 2, "b": 1}.get(form[0], 0) if team and form != "back" else 0):
        one = choose(team)
        play.answer(who, one.id, one.phrases[0])
    agree(play, who, choose)


def pause(play: CasePlay, choose: Choose) -> None:
    """Stand by, say something, carry on."""
    if choose([True, False]):  # in the middle of a call
        item, place = (due(play) or [("clamp", None)])[0]
        play.say(SCRUB, item=item, place=place, numbers=(1, 2))
    play.command(choose([SCRUB, CIRC]), "stand_by", soon=True)
    count_line(play, choose)
    play.command(choose([SCRUB, CIRC]), "carry_on")


ANYTHING = ("start_over", "say_again", "whats_left", "read_tally", "addition", "recount", "yes",
            "no", "carry_on", "take_back", "finish", "none_elsewhere", "done", "found", "end_case",
            "cut", "waive")  # fmt: skip


def anything(play: CasePlay, choose: Choose) -> None:
    """Say whatever comes to mind, whoever it is, whenever it is."""
    who, soon = choose([SCRUB, CIRC]), choose([True, False])
    match choose(["command", "command", "number", "run", "name", "unsure"]):
        case "command":
            play.command(who, choose(ANYTHING), soon=soon)
        case "number":
            item = choose([None, *play.paper.things])
            play.number(who, choose(range(12)), item, soon=soon)
        case "run":
            start, length = choose([1, 1, 1, 2, 4]), choose(range(1, 7))
            run = tuple(range(start, start + length))
            item = choose([None, *play.paper.things])
            place = choose([None, *play.paper.places])
            play.say(who, item=item, place=place, numbers=run, soon=soon)
        case "name":
            play.say(who, item=choose(list(play.paper.things)), soon=soon)
        case _:
            run = tuple(range(1, choose(range(2, 5))))
            play.say(who, item="clamp", numbers=run, soon=soon, sure=False)


def end_case(play: CasePlay, choose: Choose) -> None:
    """Ask to end the record; seldom, so that cases are long."""
    if choose([True, False, False]):
        who = choose([SCRUB, CIRC])
        play.command(who, "end_case")
        agree(play, who, choose)


def crash(play: CasePlay, choose: Choose) -> None:
    """End the program here, or at a record that is still to be written."""
    when = choose(["now", "before", "half", "written", "synced"])
    if when == "now":
        play.crash(keep=choose([0, 1, 200]))
    else:
        play.disk.arm(choose([1, 1, 2, 3]), when)


ACTIONS: dict[str, tuple[int, Callable[[CasePlay, Choose], None]]] = {
    "count_line": (6, count_line),
    "count_all": (6, count_all),
    "whole_count": (4, whole_count),
    "opposite": (1, opposite),
    "confirm": (2, confirm),
    "none_elsewhere": (1, none_elsewhere),
    "other_count": (1, other_count),
    "next_count": (5, next_count),
    "added": (2, added),
    "incident": (4, incident),
    "take_back": (1, take_back),
    "difference": (5, difference),
    "all_steps": (3, all_steps),
    "people": (1, people),
    "pause": (1, pause),
    "anything": (4, anything),
    "end_case": (1, end_case),
    "crash": (2, crash),
}
"""Every action with how often it comes."""

STEPS = (15, 60)
"""How many actions a random case has: from, to."""


def random_case(seed: int, folder: Path) -> CasePlay:
    """Play the case of a seed to its end. Raises what goes wrong, with the play as ``play``."""
    dice = random.Random(seed)  # noqa: S311 - no secret
    names = list(ACTIONS)
    weights = [ACTIONS[name][0] for name in names]
    play = CasePlay(dice.choice(SHEETS), folder, memory=dice.random() < 0.5)
    try:
        for _ in range(dice.randint(*STEPS)):
            if play.paper.ended:
                break
            name = dice.choices(names, weights)[0]
            play.words.append(f"  [{name}]")
            ACTIONS[name][1](play, dice.choice)
        play.end()
    except Exception as error:
        error.play = play  # type: ignore[attr-defined]
        raise
    finally:
        play.journal.close()
    return play
