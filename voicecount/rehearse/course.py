"""The whole rehearsal: say, listen, say again what was hard, learn, and listen once more."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from voicecount.rehearse.alike import Names, pairs
from voicecount.rehearse.ears import Answer, Ears
from voicecount.rehearse.learned import Learnt, with_learned
from voicecount.rehearse.noise import in_room
from voicecount.rehearse.sayings import (
    Saying,
    first_manners,
    further_manners,
    names_in,
    sayings,
)
from voicecount.rehearse.school import School
from voicecount.rehearse.takes import Progress, Rehearsal, Take, name_of
from voicecount.rehearse.voices import Say
from voicecount.rehearse.workers import at_once
from voicecount.sheet.model import Sheet
from voicecount.sound.frame import Utterance
from voicecount.words.grammar import build_grammar, parse
from voicecount.words.graph import Grammar


def rehearse(
    sheet: Sheet, voices: Mapping[str, Say], ears: Ears, tell: Progress, own: Sequence[Learnt] = ()
) -> Rehearsal:
    """Rehearse a sheet; ``own`` is what a person's own sayings taught, which is always in use."""
    begun = time.monotonic()
    plain = build_grammar(sheet)
    grammar = with_learned(plain, own)
    names = Names(plain)
    result = Rehearsal(sheet, names, pairs(names), voices=tuple(voices))
    listen = _Listening(voices, ears, grammar, tell)
    manners = first_manners(tuple(voices), names_in(sheet))
    result.takes += listen("listening", list(sayings(sheet, manners)))
    hard = frozenset(name_of(sheet, take) for take in result.takes if not take.right_before)
    more = further_manners(tuple(voices))
    again = list(sayings(sheet, more, only=hard, first=len(manners)))
    result.takes += listen("listening again", again)
    school = School(result, grammar, ears, tell)
    result.learnt = school.proved(school.lessons(hard))
    result.seconds = time.monotonic() - begun
    return result


@dataclass
class _Listening:
    """Says and hears."""

    voices: Mapping[str, Say]
    ears: Ears
    grammar: Grammar
    tell: Progress

    def __call__(self, what: str, said: Sequence[Saying]) -> list[Take]:
        takes = []
        self.tell(what, 0, len(said))
        sounds = map(self._say, said)
        for saying, (heard, answer) in zip(said, at_once(self._hear, sounds), strict=True):
            meaning = next(m for m, _ in parse(saying.words, self.grammar) if m.item == saying.item)
            takes.append(Take(saying, heard, meaning, answer, answer))
            self.tell(what, len(takes), len(said))
        return takes

    def _say(self, saying: Saying) -> Utterance:
        manner = saying.manner
        sound = self.voices[manner.voice](saying.text)
        return in_room(sound, manner.noise, manner.above, seed=f"{saying.text} {saying.part}")

    def _hear(self, utterance: Utterance) -> tuple[Utterance, Answer]:
        return utterance, self.ears.hear(utterance, self.grammar)
