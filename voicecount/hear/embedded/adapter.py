"""The default recogniser: one encoder, phone heads that search, a text decoder that judges."""

import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from voicecount import __version__
from voicecount.hear.embedded.candidates import Reading, readings
from voicecount.hear.embedded.decide import WRONG_PER_THOUSAND, decide
from voicecount.hear.embedded.decoder import Decoder
from voicecount.hear.embedded.encoder import Encoder
from voicecount.hear.embedded.ensemble import Ensemble, Hearing
from voicecount.hear.embedded.follow import Follow, SoFar
from voicecount.hear.embedded.graph import PhoneGraph, build_graph
from voicecount.hear.embedded.head import STEP_SECONDS
from voicecount.hear.embedded.judge import Evidence, Verdict, judge
from voicecount.hear.embedded.memory import give_back, keep_apart
from voicecount.hear.embedded.odds import Odds
from voicecount.hear.embedded.search import Search
from voicecount.hear.embedded.second_encoder import SecondEncoder
from voicecount.hear.embedded.spell import respellings
from voicecount.hear.heard import Rival
from voicecount.hear.port import Heard, Outcome, Word, still_open
from voicecount.hear.refusal import refusal
from voicecount.reasons import Reason
from voicecount.sound.frame import RATE, Samples, Utterance
from voicecount.sound.level import at_level, measure, own_stretch
from voicecount.words.grammar import Grammar, Tag, parse
from voicecount.words.numbers import words_of
from voicecount.words.pronounce import Lexicon

_CLIPPED_SHARE = 0.01
_NOISY_DB = 25.0
"""With less than this between voice and noise, more is cut at the ends."""
_BEFORE, _AFTER = 0.1, 0.05
"""Seconds of a word before its first and after its last mark."""
_WORDS_A_SECOND = 6.5
"""More number words than this in a second are no person's."""


@dataclass
class EmbeddedRecogniser:
    """Implements the recogniser port. Grammars are compiled once and kept."""

    encoder: Encoder
    second: SecondEncoder
    heads: Ensemble
    decoder: Decoder
    odds: Odds
    wrong_per_thousand: float = WRONG_PER_THOUSAND
    """How many numbers in a thousand accepted ones may be wrong: fewer are asked about more."""
    _stricter: float = 1.0
    _graphs: dict[Grammar, tuple[PhoneGraph, Lexicon]] = field(default_factory=dict)
    _followed: dict[int, Follow] = field(default_factory=dict)
    _thread: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1, "hear"))
    """One that waits for another's: so what an utterance needs lies apart from what stays, and
    leaves no holes among it (see memory.py)."""

    @classmethod
    def load(
        cls, threads: int = 2, wrong_per_thousand: float = WRONG_PER_THOUSAND
    ) -> "EmbeddedRecogniser":
        """Load all weights. Raises ModelError."""
        keep_apart()
        return cls(
            Encoder.load(threads),
            SecondEncoder.load(threads),
            Ensemble.load(),
            Decoder.load(threads),
            Odds.load(),
            wrong_per_thousand,
        )

    @property
    def name(self) -> str:
        """Name and version of recogniser and weights, for the record."""
        return (
            f"embedded {__version__}, {self.heads.version}, {self.odds.version}, "
            "moonshine tiny-en 0.0.52, whisper tiny.en 0.1.0"
        )

    def hear(self, utterance: Utterance, grammar: Grammar) -> Heard:
        """Understand one utterance within what the grammar allows."""
        return self.explain(utterance, grammar)[0]

    def explain(self, utterance: Utterance, grammar: Grammar) -> tuple[Heard, Verdict | None]:
        """Understand one utterance, and give what the judges came to; None when they saw none."""
        begun = time.perf_counter()
        heard, verdict = self._thread.submit(self._explain, utterance, grammar).result()
        took = 1000 * (time.perf_counter() - begun)
        give_back()
        return replace(heard, latency_ms=round(took, 1)), verdict

    def _explain(self, utterance: Utterance, grammar: Grammar) -> tuple[Heard, Verdict | None]:
        refused = refusal(utterance, most_clipped=_CLIPPED_SHARE)
        if refused is not None:
            return _answer(utterance, refused), None
        first, stop = _stretch(utterance.samples)
        verdict = self._judge(at_level(utterance.samples[first:stop]), grammar)
        if verdict is None:
            return _answer(utterance, Reason.NOT_FOR_US, Outcome.IGNORED), None
        outcome, reason, wrong = decide(
            verdict, self.odds, self._stricter * self.wrong_per_thousand
        )
        base = Heard(
            utterance.channel,
            utterance.start,
            utterance.end,
            outcome,
            None,
            "",
            margin=round(verdict.margin, 3),
            ratio=round(verdict.ratio, 3),
            wrong=round(wrong, 5),
            reason=reason,
        )
        if outcome is Outcome.IGNORED:  # talk in the room is not written down, not even misheard
            return base, verdict
        words = _words(verdict, utterance.offset + first / RATE)
        text = " ".join(word for token in verdict.best.tokens for word in token.words)
        rivals = tuple(Rival(one.meaning, round(behind, 2)) for one, behind in verdict.rivals)
        heard = replace(base, meaning=verdict.best.meaning, text=text, words=words, rivals=rivals)
        if outcome is Outcome.ACCEPTED and _too_fast(verdict.best, words):
            heard = replace(heard, outcome=Outcome.UNSURE, reason=Reason.TOO_FAST)
        return heard, verdict

    def follow(self, so_far: Utterance, grammar: Grammar) -> Heard:
        """Give what is heard of an open utterance, to be shown and never taken."""
        return self.followed(so_far, grammar)[0]

    def followed(self, so_far: Utterance, grammar: Grammar) -> tuple[Heard, SoFar]:
        """Follow an open utterance, and give what was seen of it."""
        begun = time.perf_counter()
        found = self._thread.submit(self._follow, so_far, grammar).result()
        text = " ".join(word for token in found.tokens for word in token.words)
        heard = still_open(so_far, text)
        took = 1000 * (time.perf_counter() - begun)
        return replace(heard, latency_ms=round(took, 1)), found

    def _follow(self, so_far: Utterance, grammar: Grammar) -> SoFar:
        known = self._followed.get(so_far.channel)
        if known is None or not known.fits(so_far, grammar):
            graph, _ = self._compiled(grammar)
            known = Follow(self.encoder, self.heads.heads[0], graph, grammar, so_far.offset)
            self._followed[so_far.channel] = known
        return known.hear(so_far.samples)

    def be_stricter(self, factor: float) -> None:
        """Allow ``factor`` times as many wrong numbers as usual, so that more is asked about."""
        self._stricter = factor

    def listen(self, voice: Samples) -> tuple[NDArray[np.float32], Hearing]:
        """Encode a voice at its level; gives the decoder's frames, and what the heads heard."""
        frames = self.encoder.encode(voice)
        return frames, self.heads.hear((frames, self.second.encode(voice)))

    def _judge(self, voice: Samples, grammar: Grammar) -> Verdict | None:
        frames, hearing = self.listen(voice)
        writing = self.decoder.write_meanwhile(frames, len(voice) / RATE)
        graph, lexicon = self._compiled(grammar)
        searches = [Search(graph, grammar.finals, grammar.start) for _ in hearing.shares]
        for search, heard in zip(searches, hearing.log_probabilities, strict=True):
            search.run(heard)
        written = writing()
        own = parse(words_of(written.text), grammar)
        found = readings(searches, hearing, lexicon, own)
        if not found:
            return None
        meanings = frozenset(meaning for meaning, _ in own)
        respelled = respellings(grammar)
        evidence = Evidence(hearing, frames, written, meanings, respelled)
        return judge(found, evidence, self.decoder)

    def _compiled(self, grammar: Grammar) -> tuple[PhoneGraph, Lexicon]:
        if grammar not in self._graphs:
            lexicon = Lexicon(dict(grammar.sounds))
            self._graphs[grammar] = (build_graph(grammar, lexicon), lexicon)
        return self._graphs[grammar]


def _answer(utterance: Utterance, reason: Reason, outcome: Outcome = Outcome.UNSURE) -> Heard:
    return Heard(
        utterance.channel, utterance.start, utterance.end, outcome, None, "", reason=reason
    )


def _stretch(samples: Samples) -> tuple[int, int]:
    if measure(samples).above_noise < _NOISY_DB:
        return own_stretch(samples, drop_db=20.0, pad=0.3)
    return own_stretch(samples, drop_db=35.0, pad=0.25)


def _words(verdict: Verdict, offset: float) -> tuple[Word, ...]:
    """Place every word; the words of a name share its time by their letters.

    The head marks a phone somewhere inside it, so each word is widened a little, never into the
    one before.
    """
    words: list[Word] = []
    first = 0
    before = offset
    for token, way in zip(verdict.best.tokens, verdict.best.ways, strict=True):
        inside = np.flatnonzero(
            (verdict.places >= 2 * first + 1) & (verdict.places <= 2 * (first + len(way)) - 1)
        )
        at = max(before, offset + float(inside[0]) * STEP_SECONDS - _BEFORE)
        before = offset + float(inside[-1] + 1) * STEP_SECONDS + _AFTER
        seconds = before - at
        letters = sum(map(len, token.words))
        for word in token.words:
            share = seconds * len(word) / letters
            words.append(Word(word, round(at, 3), round(at + share, 3)))
            at += share
        first += len(way)
    return tuple(words)


def _too_fast(best: Reading, words: Sequence[Word]) -> bool:
    """Tell whether more numbers were found than a person can say in that time."""
    spoken = [word for token in best.tokens for word in (token,) * len(token.words)]
    numbers = [word for token, word in zip(spoken, words, strict=True) if token.tag is Tag.NUMBER]
    if len(numbers) < 4:
        return False
    return len(numbers) / (numbers[-1].end - numbers[0].start) > _WORDS_A_SECOND
