"""Which letters of a record can be set at all, and what stands in place of the others.

A letter that no font has must not vanish from a name. The typesetter complains of such a letter
where it stands alone; within a joined one it may drop it silently. So each letter is tried alone
first, and then each word as it is.
"""

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import typst

from voicecount.report.marks import CLOSES, OPENS, mark

STANDARDS: tuple[Literal["a-2a", "ua-1"], ...] = ("a-2a", "ua-1")
"""What the files follow."""

FONTS = ("Libertinus Serif", "New Computer Modern", "DejaVu Sans Mono")
"""Those that come with the typesetter, in the order in which a letter is looked for."""

_TRIAL = """\
#set document(title: "trial")
#set text(font: json(bytes(sys.inputs.fonts)))
#for text in json(bytes(sys.inputs.texts)) [
  #box(text) #strong(text) #std.text(weight: "semibold", text) #upper(text) \\
]
"""
"""Every text in each way in which the template sets texts."""

_LACKS = re.compile(r'the text `"(.+?)"` could not be displayed')
_ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")
_WORD = re.compile(r"\s?\S*[^\x00-\x7f]\S*")
"""A word that is not of ASCII alone, with the space before it, to which an accent may attach."""

_JOINING = frozenset(f"\u200c\u200d\ufe0e\ufe0f{OPENS}{CLOSES}")
"""They only shape the letters beside them, or say where these stand."""


@dataclass(frozen=True)
class Letters:
    """What has to be done so that every letter is seen."""

    machine: bool = False
    """Whether the machine's fonts are needed."""
    lacking: frozenset[str] = frozenset()
    """Letters that no font has."""
    unset: frozenset[str] = field(default=frozenset())
    """Words that cannot be set although each of their letters can."""

    @classmethod
    def of(cls, content: Any) -> "Letters":
        """Try all letters and words of some JSON values."""
        words = {word for text in _texts(content) for word in _WORD.findall(text)}
        letters = {letter for word in words for letter in word if not letter.isascii()}
        foreign = _lacking(letters - _JOINING, machine=False)
        lacking = _lacking(foreign, machine=True)
        found = cls(machine=foreign != lacking, lacking=lacking)
        shown = sorted({found.shown(word) for word in words})
        return cls(found.machine, lacking, frozenset(_unset(shown, machine=found.machine)))

    def shown(self, value: Any) -> Any:
        """Give the same values with marks in place of letters that cannot be set."""
        if isinstance(value, str):
            return _WORD.sub(lambda found: self._shown(found[0]), value)
        if isinstance(value, dict):
            return {name: self.shown(one) for name, one in value.items()}
        return [self.shown(one) for one in value] if isinstance(value, list) else value

    def _shown(self, word: str) -> str:
        word = "".join(mark(letter) if letter in self.lacking else letter for letter in word)
        if word not in self.unset:
            return word
        return "".join(
            letter if letter.isascii() or letter in (OPENS, CLOSES) else mark(letter)
            for letter in word
        )


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for one in value.values() if isinstance(value, dict) else value:
            yield from _texts(one)


def _lacking(letters: set[str] | frozenset[str], *, machine: bool) -> frozenset[str]:
    """Give those of some letters that no font has."""
    complaint = _complaint(sorted(letters), machine=machine)
    found = {
        _ESCAPED.sub(lambda code: chr(int(code[1], 16)), text) for text in _LACKS.findall(complaint)
    }
    return frozenset(found & letters)


def _unset(texts: Sequence[str], *, machine: bool) -> Iterator[str]:
    """Find the texts that cannot be set, by halves."""
    if not _complaint(texts, machine=machine):
        return
    if len(texts) == 1:
        yield texts[0]
        return
    half = len(texts) // 2
    yield from _unset(texts[:half], machine=machine)
    yield from _unset(texts[half:], machine=machine)


def _complaint(texts: Sequence[str], *, machine: bool) -> str:
    """Set texts on trial; give what the typesetter says against it, or nothing."""
    if not texts:
        return ""
    try:
        typst.Compiler(ignore_system_fonts=not machine).compile(
            _TRIAL.encode(),
            sys_inputs={"texts": json.dumps(texts), "fonts": json.dumps(FONTS)},
            pdf_standards=list(STANDARDS),
        )
    except typst.TypstError as error:
        return str(error.diagnostic)
    return ""
