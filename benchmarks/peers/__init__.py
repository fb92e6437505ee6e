"""Other ways to hear a count, each behind the recogniser port, for measuring beside ours.

They get the same sound and the same names, and the best use of each that we know. None of them is
part of voicecount. Libraries are imported when a peer is loaded; one that is missing is named.
"""

from collections.abc import Callable, Mapping

from benchmarks.peers import free_text, jsgf, prompted, word_list
from voicecount.hear.port import Recogniser

Loader = Callable[[int], Recogniser]
"""Threads to a recogniser. Raises ModelError, one line, where something is missing."""

PEERS: Mapping[str, Loader] = {
    "sphinx jsgf": jsgf.load,
    "free text": free_text.load,
    "prompted whisper": prompted.load,
    "vosk": word_list.load,
}
