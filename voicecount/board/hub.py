"""One follower, many viewers: each gets the newest message, and a slow one only the newest.

The journal is looked at in one place, every page is rendered once, and nothing that a viewer does
or fails to do can hold up another one or make anything grow.
"""

import asyncio
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field

LOOK_SECONDS = 0.05
"""How often the journal is looked at."""
REPEAT_SECONDS = 0.5
"""How often something is sent while nothing changes: a viewer sees that it is not cut off."""
MOST_VIEWERS = 64


class TooManyViewersError(Exception):
    """As many are watching as may."""


@dataclass(eq=False)
class Viewer:
    """A place for one message: a newer one takes the place of one that was not fetched."""

    message: bytes | None = None
    ready: asyncio.Event = field(default_factory=asyncio.Event)

    def put(self, message: bytes) -> None:
        """Have it fetched next."""
        self.message = message
        self.ready.set()

    async def take(self) -> bytes:
        """Fetch the newest one, as soon as there is one."""
        await self.ready.wait()
        self.ready.clear()
        return self.message or b""


class Hub:
    """Looks by ``look`` (a message, or None while nothing changed) and hands on what it gives.

    ``repeat`` gives what is sent while nothing changes.
    """

    def __init__(
        self,
        look: Callable[[], bytes | None],
        repeat: Callable[[], bytes],
        whole: Callable[[], bytes],
    ) -> None:
        self._look = look
        self._repeat = repeat
        self._whole = whole
        self._viewers: set[Viewer] = set()
        self._ended = False

    def end(self) -> None:
        """End the messages of every viewer."""
        self._ended = True
        for viewer in self._viewers:
            viewer.ready.set()

    @property
    def viewers(self) -> int:
        """How many are watching."""
        return len(self._viewers)

    async def run(self) -> None:
        """Look again and again, until cancelled."""
        quiet = 0.0
        while True:
            # The journal is on a disk that may hang: the loop that serves must not wait for it.
            message = await asyncio.to_thread(self._look)
            if message is None and quiet >= REPEAT_SECONDS:
                message = self._repeat()
            if message is None:
                quiet += LOOK_SECONDS
            else:
                quiet = 0.0
                for viewer in self._viewers:
                    viewer.put(message)
            await asyncio.sleep(LOOK_SECONDS)

    def join(self) -> Viewer:
        """Give a place for one more viewer, who then has to leave. Raises TooManyViewersError."""
        if len(self._viewers) >= MOST_VIEWERS:
            raise TooManyViewersError
        viewer = Viewer()
        viewer.put(self._whole())
        self._viewers.add(viewer)
        return viewer

    def leave(self, viewer: Viewer) -> None:
        """Take a viewer's place away."""
        self._viewers.discard(viewer)

    async def messages(self, viewer: Viewer) -> AsyncIterator[bytes]:
        """Give one viewer's messages, the first at once, until all are let go."""
        while not self._ended:
            message = await viewer.take()
            if not self._ended:
                yield message
