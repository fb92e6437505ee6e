"""A stream of sound as what happens on it: utterances, the quiet between them, and partial ones.

While an utterance is open it is given again and again as far as it has come, so that people see
what is heard. Once it has been silent for as long as the tail that is kept of it, what is given is
the very sound of the utterance that will end unless the voice goes on: its answer can be had before
it has ended.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from voicecount.sound.frame import RATE, FrameSource, Utterance
from voicecount.sound.segment import Segmenter
from voicecount.sound.speech import Reach, SegmentSettings

_BEHIND = 0.5
"""Seconds behind the sound at which only whole utterances are worth hearing."""
_NOTICED = 0.3
"""Seconds that a beginning voice may need until it is noticed."""


@dataclass(frozen=True)
class Quiet:
    """A moment on the stream: nobody's utterance still to come begins before ``until``."""

    until: float
    """Seconds from the start of the stream."""


@dataclass(frozen=True, eq=False)
class Partial:
    """An utterance that is open, as far as it has come."""

    utterance: Utterance
    whole: bool
    """Whether its sound is that of the utterance, if the voice does not go on."""


Moment = Utterance | Quiet | Partial


def moments(
    source: FrameSource,
    *,
    partial_every: float | None = None,
    segmenter: Segmenter | None = None,
    now: Callable[[], float] | None = None,
) -> Iterator[Moment]:
    """Give the utterances of a source by the order of their ends, and the quiet between them.

    With ``partial_every``, an open utterance is given whenever it has grown by so many seconds, and
    once when it has been silent long enough to be whole. ``segmenter`` may be one that others look
    at, as whether somebody speaks. ``now`` gives the stream's time: where the reader is behind it,
    open utterances are left out, so that it catches up instead of falling further behind.
    """
    segmenter = segmenter or Segmenter(source.channels)
    tail = SegmentSettings().tail
    begun: dict[int, float] = {}
    shown: dict[int, Reach] = {}
    for frame in source.frames():
        ended = segmenter.feed(frame)
        for utterance in ended:
            begun.pop(utterance.channel, None)
            shown.pop(utterance.channel, None)
        end = frame.start + len(frame.samples) / RATE
        reaches = [(channel, segmenter.reach(channel)) for channel in range(source.channels)]
        open_ = [(channel, reach) for channel, reach in reaches if reach is not None]
        for channel, reach in open_:
            begun.setdefault(channel, reach.start)
        yield from _with_quiet(ended, min([end - _NOTICED, *begun.values()]))
        if partial_every is None or (now is not None and now() - end > _BEHIND):
            continue
        for channel, reach in open_:
            whole = end - reach.end >= tail
            if _is_news(reach, shown.get(channel), partial_every, whole=whole):
                shown[channel] = reach
                so_far = segmenter.partial(channel)
                if so_far is not None:
                    yield Partial(so_far, whole)
    yield from _with_quiet(segmenter.flush(), float("inf"))


def _is_news(now: Reach, before: Reach | None, every: float, *, whole: bool) -> bool:
    """Tell whether a partial utterance is to be given: it grew enough, or has just become whole."""
    if before is None or before.start != now.start:
        return whole or now.end - now.start >= every
    if whole:
        return before.sound_end != now.sound_end
    return now.end - before.end >= every


def _with_quiet(ended: Sequence[Utterance], until: float) -> Iterator[Moment]:
    """Put before each utterance what is certain by then."""
    for place, utterance in enumerate(ended):
        yield Quiet(min([until, *(later.start for later in ended[place:])]))
        yield utterance
    yield Quiet(until)


def shifted(stream: Iterable[Moment], seconds: float) -> Iterator[Moment]:
    """Put a stream later on the clock, as after a resume."""
    for moment in stream:
        if isinstance(moment, Quiet):
            yield Quiet(moment.until + seconds)
        elif isinstance(moment, Partial):
            (later,) = shifted([moment.utterance], seconds)
            if isinstance(later, Utterance):
                yield Partial(later, moment.whole)
        else:
            yield replace(
                moment,
                start=moment.start + seconds,
                end=moment.end + seconds,
                offset=moment.offset + seconds,
            )
