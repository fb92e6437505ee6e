"""A person's own sayings of one name: found in sound files, learned from, never kept as sound."""

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from voicecount.errors import RecordingError, UsageError
from voicecount.rehearse import pronounced, respelled
from voicecount.rehearse.alike import Names
from voicecount.rehearse.ears import Ears, Examined
from voicecount.rehearse.learned import Learnt
from voicecount.rehearse.lessons import LEAST_GAIN, Lesson
from voicecount.sheet.model import Sheet, Spoken
from voicecount.sound.files import FileSource
from voicecount.sound.frame import Utterance
from voicecount.sound.segment import utterances
from voicecount.words.graph import Phones
from voicecount.words.numbers import words_of

LEAST_SAYINGS = 3
_AGREEING = 2
"""So many sayings must agree."""
FURTHEST = 0.6
"""A person may say a name further from the dictionary than a machine."""


def find_name(sheet: Sheet, text: str) -> tuple[str, Spoken]:
    """Find a line by its id, or a name by how it is said. Raises UsageError."""
    words = words_of(text)
    for item in sheet.items:
        if item.id == text:
            return item.id, item.say[0]
        for spoken in item.say:
            if words and words in {words_of(spoken.one), words_of(spoken.many)}:
                return item.id, spoken
    raise UsageError(f"{text!r} is no line and no spoken name of the sheet; give one of its names")


def sayings_in(files: Sequence[Path]) -> list[Utterance]:
    """Cut the sayings out of sound files. Raises RecordingError unless there are three or more."""
    found = [utterance for file in files for utterance in utterances(FileSource(file))]
    if len(found) < LEAST_SAYINGS:
        named = ", ".join(str(file) for file in files)
        raise RecordingError(
            f"{named}: {len(found)} sayings found, {LEAST_SAYINGS} are needed; say the name alone, "
            "three times, with a second of silence between"
        )
    return found


def learn_own(
    line: str, spoken: Spoken, said: Sequence[Utterance], ears: Ears, names: Names
) -> tuple[Learnt, list[str]]:
    """Learn one name from its sayings; gives what is kept, and what was refused and why."""
    name = words_of(spoken.one)
    ears_on = [ears.examine(utterance) for utterance in said]
    lesson = Lesson()
    _own_sounds(lesson, line, spoken, ears_on, names)
    _own_spellings(lesson, line, name, ears_on, names)
    return lesson.learnt(line, spoken.one), lesson.refused


def _own_sounds(
    lesson: Lesson, line: str, spoken: Spoken, examined: Sequence[Examined], names: Names
) -> None:
    name, many = words_of(spoken.one), words_of(spoken.many)
    plurals = dict(zip(name, many, strict=False)) if len(name) == len(many) else {}
    heard: dict[str, list[Phones]] = {word: [] for word in name}
    for one in examined:
        best = pronounced.likeliest(name, names.lexicon, ((), ()), one.fit_sounds)
        for word, way in zip(name, one.phones_in(best), strict=True):
            heard[word].append(way)
    for word, ways in heard.items():
        agreed = pronounced.agreed([way for way in ways if way])
        if agreed is None:
            lesson.refused.append(f"{word}: no two sayings agree")
            continue
        why = pronounced.why_refused(agreed, word, (line, name), names, FURTHEST)
        if why is None and _helped(word, agreed, name, examined, names) < _AGREEING:
            why = "it helps too few of the sayings"
        if why is not None:
            if why != pronounced.KNOWN:
                lesson.refused.append(f"{word} as {' '.join(agreed)}: {why}")
            continue
        lesson.sounds[word] = (" ".join(agreed),)
        other = pronounced.sibling(
            word, agreed, {a: b for a, b in plurals.items() if a != b}, names.lexicon
        )
        if other is not None:
            lesson.sounds[plurals[word]] = (" ".join(other),)


def _helped(
    word: str, way: Phones, name: tuple[str, ...], examined: Sequence[Examined], names: Names
) -> int:
    """Count the sayings that fit clearly better with a further way to say a word."""
    new = pronounced.said_with(name, names.lexicon, word, way)
    known = pronounced.known_ways(name, names.lexicon)
    fits = [one.fit_sounds([*known, new]) for one in examined]
    return sum(pronounced.gain(fit[:-1], fit[-1:]) >= LEAST_GAIN for fit in fits)


def _own_spellings(
    lesson: Lesson,
    line: str,
    name: tuple[str, ...],
    examined: Sequence[Examined],
    names: Names,
) -> None:
    found: Counter[respelled.Found] = Counter()
    for one in examined:
        words = respelled.name_part(one.written(), (), ())
        left = respelled.difference(name, [word.lower() for word in words or ()])
        if left is not None:
            found[left] += 1
    for (part, text), times in found.most_common(1):
        if times < _AGREEING:
            lesson.refused.append(f'{part} as "{text}": no two sayings agree')
            continue
        why = respelled.why_refused((part, text), line, name, names)
        if why is None:
            lesson.spelled[part] = (text,)
        else:
            lesson.refused.append(f'{part} as "{text}": {why}')
