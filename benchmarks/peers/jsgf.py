"""PocketSphinx with a strict grammar of the sheet, and pronunciations added at run time.

Its confidence is what one would try first: how far the score of the best path lies from that of a
free loop of phones over the same sound (margin), and the score per second alone (ratio). Wide
beams and no second pass gave most right answers of the settings tried.
"""

import math
import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from benchmarks.peers.answers import answer, need
from voicecount.hear.port import Heard, Recogniser
from voicecount.sound.frame import RATE, Utterance
from voicecount.words.grammar import Grammar, parse
from voicecount.words.graph import Tag
from voicecount.words.numbers import NUMBER_WORDS
from voicecount.words.pronounce import Lexicon

_BEAMS = {"beam": 1e-80, "wbeam": 1e-60, "pbeam": 1e-80}
FORMS = (
    "<item>",
    "[<item>] <number>+",
    "yes [<item>] <number>",
    "[yes] <number> <item>",
    "[yes] [<item>] <number>* [in] <number> <pieces> [each]",
    "[yes] <number> <item> [in] <number> <pieces> [each]",
    "<item> (total | total of | in all) <number>",
    "<item> <number> (total | in all)",
    "<item> none",
    "no <item>",
    "[yes] [<number>] <not_counted> <number>*",
    "<command>",
)
"""What may be said, as voicecount/words/grammar.py has it; the graph itself, written rule by rule,
is more than PocketSphinx can take in, which copies a rule wherever it is used."""


def grammar_text(grammar: Grammar) -> str:
    """Write a grammar as JSGF."""
    names = _ways(grammar, Tag.ITEM)
    not_counted = _ways(grammar, Tag.NOT_COUNTED)
    by_value = sorted(NUMBER_WORDS.items(), key=lambda pair: pair[1])
    tens = [word for word, value in by_value if 20 <= value < 100]
    units = [word for word, value in by_value if 1 <= value < 10]
    small = [word for word, value in by_value if 1 <= value < 20]
    forms = [form for form in FORMS if not_counted or "<not_counted>" not in form]
    rules = {
        "unit": units,
        "below": [*small, f"({' | '.join(tens)}) [<unit>]"],
        "number": ["zero", "<below>", "one hundred [[and] <below>]"],
        "pieces": ["pieces", "piece"],
        "item": names,
        "not_counted": not_counted,
        "command": _ways(grammar, Tag.COMMAND),
    }
    lines = ["#JSGF V1.0;", "grammar count;", f"public <said> = {' | '.join(forms)};"]
    lines += [f"<{name}> = {' | '.join(ways)};" for name, ways in rules.items() if ways]
    return "\n".join(lines) + "\n"


def _ways(grammar: Grammar, tag: Tag) -> list[str]:
    """Give the word lists of a kind of token, each once."""
    spoken = (arc.token.words for arc in grammar.arcs if arc.token.tag is tag)
    return list(dict.fromkeys(" ".join(map(spelled, words)) for words in spoken))


def _log(score: float) -> float:
    return math.log(max(score, 1e-300))


def spelled(word: str) -> str:
    """Give a word's name in the grammar and the dictionary: letters and "_" only."""
    return re.sub(r"[^a-z]", "_", word.lower())


def pronunciations(grammar: Grammar) -> Mapping[str, list[str]]:
    """Give the pronunciations of every word, as the dictionary writes them: "word", "word(2)"."""
    lexicon = Lexicon(dict(grammar.sounds))
    return {
        word: [" ".join(way) for way in lexicon.pronounce(word)] for word in sorted(grammar.words)
    }


class StrictGrammar:
    """Implements the recogniser port."""

    name = "PocketSphinx, strict JSGF"

    def __init__(self) -> None:
        from pocketsphinx import Decoder, get_model_path  # noqa: PLC0415

        model = f"{get_model_path()}/en-us/en-us"
        self._decoder: Any = Decoder(
            hmm=model, lm=None, dict=None, loglevel="FATAL", bestpath=False, **_BEAMS
        )
        self._decoder.add_allphone_file("phones", None)
        self._known: dict[Grammar, tuple[str, dict[str, str]]] = {}

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand one utterance; the grammar is compiled once and kept."""
        search, words = self._search(grammar)
        sound = (np.clip(utterance.samples, -1, 1) * 32767).astype("<i2").tobytes()
        self._run(search, sound)
        found = self._decoder.hyp()
        if found is None or not found.hypstr:
            return answer(utterance, None, "")
        said = [word for part in found.hypstr.split() for word in (words.get(part, part),)]
        score = _log(found.best_score)
        self._run("phones", sound)
        free = self._decoder.hyp()
        margin = score - _log(free.best_score) if free is not None else None
        read = dict.fromkeys(meaning for meaning, _ in parse(said, grammar))
        meaning = next(iter(read)) if len(read) == 1 else None
        ratio = score / (len(utterance.samples) / RATE)
        return answer(utterance, meaning, " ".join(said), margin=margin, ratio=ratio)

    def _run(self, search: str, sound: bytes) -> None:
        self._decoder.activate_search(search)
        self._decoder.start_utt()
        self._decoder.process_raw(sound, full_utt=True)
        self._decoder.end_utt()

    def _search(self, grammar: Grammar) -> tuple[str, dict[str, str]]:
        if grammar not in self._known:
            words: dict[str, str] = {}
            for word, ways in pronunciations(grammar).items():
                words[spelled(word)] = word
                for at, way in enumerate(ways):
                    name = spelled(word) + (f"({at + 1})" if at else "")
                    if self._decoder.lookup_word(name) is None:
                        self._decoder.add_word(name, way, update=False)
            name = f"count{len(self._known)}"
            self._decoder.add_jsgf_string(name, grammar_text(grammar))
            self._known[grammar] = (name, words)
        return self._known[grammar]


def load(threads: int) -> Recogniser:
    """Load it; it has one thread in any case. Raises ModelError."""
    del threads
    need("pocketsphinx", "pocketsphinx")
    return StrictGrammar()
