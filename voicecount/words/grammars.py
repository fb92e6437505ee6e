"""One grammar for each vocabulary, built when it is first asked for and then kept."""

from collections.abc import Callable

from voicecount.words.graph import Grammar
from voicecount.words.vocabulary import FIRST, Vocabulary


class Grammars:
    """Gives the grammar of a moment. Few moments differ, so all are kept."""

    def __init__(self, build: Callable[[Vocabulary], Grammar]) -> None:
        self._build = build
        self._kept: dict[Vocabulary, Grammar] = {}

    def __call__(self, vocabulary: Vocabulary = FIRST) -> Grammar:
        """Give the grammar of a vocabulary."""
        if vocabulary not in self._kept:
            self._kept[vocabulary] = self._build(vocabulary)
        return self._kept[vocabulary]
