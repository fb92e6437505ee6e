"""One looks, many watch: the newest message for each, and nobody holds up anybody.

asyncio's own primitives are the ground; no outside source for the times.
"""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any

import pytest

from voicecount.board import hub as board_hub
from voicecount.board.hub import MOST_VIEWERS, Hub, TooManyViewersError, Viewer


class Looks:
    """What a look gives: the messages that were put in, one by one."""

    def __init__(self) -> None:
        self.coming: list[bytes] = []
        self.looks = 0

    def __call__(self) -> bytes | None:
        """Look."""
        self.looks += 1
        return self.coming.pop(0) if self.coming else None


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(board_hub, "LOOK_SECONDS", 0.001)
    monkeypatch.setattr(board_hub, "REPEAT_SECONDS", 0.02)


def hub_of(looks: Looks) -> Hub:
    return Hub(looks, lambda: b"still", lambda: b"whole")


def during(work: Callable[[Hub, Looks], Awaitable[Any]]) -> None:
    """Do something while a hub runs."""

    async def run() -> None:
        looks = Looks()
        hub = hub_of(looks)
        task = asyncio.create_task(hub.run())
        try:
            async with asyncio.timeout(10):
                await work(hub, looks)
        finally:
            task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await task

    asyncio.run(run())


async def next_new(messages: AsyncIterator[bytes]) -> bytes:
    """Give the next message that is no repetition."""
    while (message := await anext(messages)) == b"still":
        pass
    return message


def test_everything_first_then_each_change() -> None:
    async def work(hub: Hub, looks: Looks) -> None:
        viewer = hub.join()
        messages = hub.messages(viewer)
        assert await anext(messages) == b"whole"
        for text in (b"one", b"two"):
            looks.coming.append(text)
            assert await next_new(messages) == text
        hub.leave(viewer)

    during(work)


def test_it_repeats_while_nothing_changes() -> None:
    """A viewer that is sent nothing could not tell a still room from a cut cable."""

    async def work(hub: Hub, looks: Looks) -> None:
        messages = hub.messages(hub.join())
        assert await anext(messages) == b"whole"
        before = looks.looks
        assert await anext(messages) == b"still"
        assert looks.looks - before > 5
        assert await anext(messages) == b"still"

    during(work)


def test_a_slow_viewer_gets_the_newest_only() -> None:
    """What was not fetched is replaced, so that nothing grows; a quick one gets every message."""

    async def work(hub: Hub, looks: Looks) -> None:
        slow, quick = hub.join(), hub.join()
        seen = hub.messages(quick)
        assert await anext(seen) == b"whole"
        for n in range(200):
            looks.coming.append(b"%d" % n)
            assert await next_new(seen) == b"%d" % n
        held = [value for value in vars(slow).values() if isinstance(value, bytes)]
        assert held == [b"199"]
        assert await anext(hub.messages(slow)) in {b"199", b"still"}

    during(work)


def test_many_viewers() -> None:
    """Each of as many as may gets the same; a further one is refused until one has left."""

    async def work(hub: Hub, looks: Looks) -> None:
        viewers = [hub.join() for _ in range(MOST_VIEWERS)]
        assert hub.viewers == MOST_VIEWERS
        with pytest.raises(TooManyViewersError):
            hub.join()
        streams = [hub.messages(viewer) for viewer in viewers]
        for messages in streams:
            assert await anext(messages) == b"whole"
        looks.coming.append(b"new")
        assert {await next_new(messages) for messages in streams} == {b"new"}
        hub.leave(viewers[3])
        hub.leave(viewers[3])  # leaving twice is leaving once
        assert hub.viewers == MOST_VIEWERS - 1
        hub.join()

    during(work)


def test_one_that_left_is_sent_nothing() -> None:
    async def work(hub: Hub, looks: Looks) -> None:
        gone, there = hub.join(), hub.join()
        gone.message = None
        hub.leave(gone)
        messages = hub.messages(there)
        assert await anext(messages) == b"whole"
        looks.coming.append(b"new")
        assert await next_new(messages) == b"new"
        assert gone.message is None

    during(work)


def test_the_end_lets_all_go() -> None:
    """Those who wait, those who have not begun, and those with a message that was not fetched."""

    async def work(hub: Hub, looks: Looks) -> None:
        waiting = hub.messages(hub.join())
        assert await anext(waiting) == b"whole"
        task = asyncio.create_task(anext(waiting, b"ended"))
        await asyncio.sleep(0)
        full = hub.messages(hub.join())
        hub.end()
        looks.coming.append(b"late")
        assert await anext(full, b"ended") == b"ended"
        assert await task == b"ended"
        assert await anext(hub.messages(hub.join()), b"ended") == b"ended"

    during(work)


def test_the_end_does_not_wait_for_a_look() -> None:
    """Whoever waits is let go at once, also when nobody looks any more."""

    async def run() -> None:
        hub = hub_of(Looks())
        messages = hub.messages(hub.join())
        assert await anext(messages) == b"whole"
        waits = asyncio.create_task(anext(messages, b"ended"))
        await asyncio.sleep(0.01)
        hub.end()
        assert await asyncio.wait_for(waits, 5) == b"ended"

    asyncio.run(run())


def test_a_look_that_hangs_holds_up_no_viewer() -> None:
    """A disk that hangs stops the looks, not the loop; viewers are sent nothing meanwhile."""

    async def run() -> None:
        import threading  # noqa: PLC0415

        free = threading.Event()
        hub = Hub(lambda: b"x" if free.wait(10) else None, lambda: b"still", lambda: b"whole")
        task = asyncio.create_task(hub.run())
        messages = hub.messages(hub.join())
        assert await anext(messages) == b"whole"
        waits = asyncio.create_task(anext(messages))
        done, _ = await asyncio.wait([waits], timeout=0.1)
        assert not done
        free.set()
        assert await asyncio.wait_for(waits, 5) == b"x"
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task

    asyncio.run(run())


def test_a_message_put_twice_is_fetched_once() -> None:
    async def run() -> None:
        viewer = Viewer()
        viewer.put(b"a")
        viewer.put(b"b")
        assert await viewer.take() == b"b"
        with pytest.raises(TimeoutError):
            await asyncio.wait_for(viewer.take(), 0.02)

    asyncio.run(run())
