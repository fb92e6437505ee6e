"""Tells a board what happens at this moment: an observer of the room, and a watch on a speaker."""

import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from voicecount.count.events import CarriedOn, Event, MicrophoneChanged, StoodBy
from voicecount.count.roles import Role
from voicecount.errors import VoiceError
from voicecount.hear.heard import Heard, Outcome
from voicecount.keep.clock import Clock
from voicecount.keep.now import NowFile
from voicecount.sheet.policy import Policy
from voicecount.sound.findings import NoiseState
from voicecount.sound.moments import Moment
from voicecount.speak.port import Clip, Speaker
from voicecount.talk.reply import Reply, ReplyKind

BEAT_SECONDS = 0.4
"""How often the file is written while nothing happens. A board calls the assistant gone after
``board.follow.GONE_SECONDS``, some beats."""
_PLAYING_SECONDS = 1.0
"""So much longer than a clip its playing may take."""

_ASKING = frozenset({ReplyKind.QUESTION.value, ReplyKind.READBACK.value})
"""Kinds of replies that somebody has to answer."""


class NowTeller:
    """Observes a room and writes what a board needs to know at once.

    It has to follow the stream, too: moments come all the time, many a second. With every beat it
    tells for how long nothing has gone on, so that boards can tell who works from who hangs.
    """

    def __init__(self, file: NowFile, monotonic: Callable[[], float]) -> None:
        self.noise: Callable[[], NoiseState | None] = lambda: None
        """Gives how loud the room is; set it where that is measured."""
        self.together = False
        """Whether both people count aloud at the same time."""
        self.roles: Mapping[int, Role] = {}
        """Whose each channel is, where that is known."""
        self._walk: dict[str, list[str]] | None = None
        self._file = file
        self._monotonic = monotonic
        self._lock = threading.Lock()
        self._beat = 0
        self._moved_at = monotonic()
        """When something went on last; later than now while a clip is played."""
        self._waits = False
        self._speaking = False
        self._hears = True
        self._unheard: set[int | None] = set()
        self._asks: dict[str, Any] | None = None
        self._of_standing_by = False
        self._partial: dict[str, Any] | None = None
        self._heard: dict[str, Any] | None = None
        self._said: dict[str, Any] | None = None
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def by(self, policy: Policy, roles: Mapping[int, Role]) -> None:
        """Learn the rules of the house, and whose each channel is."""
        self.together = policy.in_unison
        self._walk = {"steps": list(policy.steps), "search": list(policy.search)}
        self.roles = roles

    def start(self) -> None:
        """Write from now on, from a thread of its own."""
        self._write()
        self._thread = threading.Thread(target=self._run, name="now", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop, and remove the file."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()
        with self._lock:
            self._file.close()

    def following(self, stream: Iterable[Moment]) -> Iterator[Moment]:
        """Give a stream's moments, and know by them that it goes on."""
        self.moved(waits=True)
        for moment in stream:
            self.moved()
            yield moment
            self.moved(waits=True)
        self.moved()

    def moved(self, *, waits: bool = False) -> None:
        """Learn that something went on, and whether sound is now waited for."""
        self._moved_at, self._waits = self._monotonic(), waits

    def _still(self) -> float:
        """Give for how many seconds nothing has gone on.

        Without a microphone there is no sound to go on with; boards tell that nobody is heard.
        """
        if self._waits and not self._hears:
            return 0.0
        return max(0.0, round(self._monotonic() - self._moved_at, 1))

    def partial(self, heard: Heard, role: Role | None) -> None:
        """Tell what is being said."""
        self.moved()
        shown = _said_by(heard, role) if heard.text else None
        if shown != self._partial:
            self._partial = shown
            self._write()

    def heard(self, heard: Heard, role: Role | None) -> None:
        """Tell what was said, and that it is no longer open; talk in the room is not shown."""
        self.moved()
        self._partial = None
        if heard.outcome is not Outcome.IGNORED:
            reason = heard.reason.value if heard.reason is not None else None
            more = {"outcome": heard.outcome.value, "reason": reason}
            self._heard = {**_said_by(heard, role), **more}
        if heard.outcome is Outcome.ACCEPTED:
            self._asks = None
        self._write()

    def stored(self, event: Event) -> None:
        """Keep which microphones are not heard; the rest a board reads in the journal."""
        self.moved()
        self._of_standing_by |= isinstance(event, StoodBy | CarriedOn)
        if isinstance(event, MicrophoneChanged):
            if event.state in {"silent", "gone"}:
                self._unheard.add(event.channel)
            elif event.channel is None:
                self._unheard.clear()
            else:
                self._unheard.discard(event.channel)

    def replied(self, at: float, reply: Reply) -> None:
        """Tell what the assistant says."""
        self.moved()
        if reply.listens is not None and not self._of_standing_by:
            self._hears = reply.listens
        self._of_standing_by = False
        asks = {
            "kind": reply.kind.value,
            "next": reply.speak_next.value if reply.speak_next is not None else None,
        }
        if reply.kind is ReplyKind.NOTICE and self._asks is not None:
            asks = self._asks  # told in passing: what was asked before is still to be answered
        self._asks = asks if asks["kind"] in _ASKING else None
        self._said = {"text": reply.text, **asks, "at": at, "spoken": True}
        self._write()

    def unspoken(self, at: float, reply: Reply, _error: VoiceError) -> None:
        """Tell that it has to be read."""
        if self._said is not None and self._said["text"] == reply.text and self._said["at"] == at:
            self._said = {**self._said, "spoken": False}
            self._write()

    def speaks(self, speaking: bool, seconds: float = 0.0) -> None:
        """Tell that the assistant begins or ends to speak: people are not heard meanwhile.

        ``seconds`` is how long it may take; longer, and it hangs.
        """
        self._speaking = speaking
        self.moved()
        self._moved_at += seconds
        self._write()

    def rests(self, seconds: float) -> None:
        """Learn that it waits on purpose, as for people who read."""
        self.moved()
        self._moved_at += seconds

    def _run(self) -> None:
        while not self._stop.wait(BEAT_SECONDS):
            self._write()

    def _write(self) -> None:
        with self._lock:
            self._beat += 1
            noise = self.noise()
            self._file.write(
                {
                    "beat": self._beat,
                    "still": self._still(),
                    "together": self.together,
                    "speaking": self._speaking,
                    "hears": self._hears,
                    "unheard": self._not_heard(),
                    "walk": self._walk,
                    "partial": self._partial,
                    "heard": self._heard,
                    "said": self._said,
                    "noise": None
                    if noise is None
                    else {"state": noise.state.value, "above": round(noise.above, 1)},
                }
            )

    def _not_heard(self) -> list[str | None]:
        """Give whose microphones are not heard; None for a channel that is nobody's by itself."""
        roles = [None if channel is None else self.roles.get(channel) for channel in self._unheard]
        return sorted((one and one.value for one in roles), key=str)


class WatchedSpeaker:
    """Implements the speaker port with another one, and tells when it plays."""

    def __init__(self, inner: Speaker, teller: NowTeller) -> None:
        self._inner = inner
        self._teller = teller

    def play(self, clip: Clip) -> None:
        """Play, until it has really ended."""
        self._teller.speaks(True, clip.seconds + _PLAYING_SECONDS)
        try:
            self._inner.play(clip)
        finally:
            self._teller.speaks(False)


class WatchedClock:
    """Implements the clock port with another one, and tells when it waits on purpose."""

    def __init__(self, inner: Clock, teller: NowTeller) -> None:
        self._teller = teller
        self.wall, self.monotonic = inner.wall, inner.monotonic
        self._sleep = inner.sleep

    def sleep(self, seconds: float) -> None:
        """Wait that long."""
        self._teller.rests(seconds)
        self._sleep(seconds)
        self._teller.moved()


def _said_by(heard: Heard, role: Role | None) -> dict[str, Any]:
    who = role.value if role is not None else None
    meaning = heard.meaning
    item = meaning.item if meaning is not None else None
    place = meaning.place if meaning is not None else None
    return {"role": who, "text": heard.text, "item": item, "place": place, "at": heard.end}
