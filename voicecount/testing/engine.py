"""An engine without any process: the work is done here, in turn, as a worker would do it."""

from collections.abc import Callable, Iterator, Sequence

from voicecount.drill.engines import Failure, Made, Thing, attempted


class HereEngine:
    """Implements the engine port in this very process."""

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers

    @property
    def name(self) -> str:
        """What it is, in a few words."""
        return "this process"

    def map(
        self,
        work: Callable[[Thing], Made],
        todo: Sequence[Thing],
        carry: Callable[[Thing], Thing] | None = None,  # noqa: ARG002 - it sees all files
    ) -> Iterator[tuple[int, Made | Failure]]:
        """Give each result in turn."""
        for place, thing in enumerate(todo):
            yield place, attempted(work, thing)
