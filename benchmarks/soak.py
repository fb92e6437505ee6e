"""Hours of an operating room through the whole live room: what grows, what is lost, what is taken.

    python -m benchmarks.soak --hours 8
    python -m benchmarks.soak --hours 1 --real-time

One case, one process, wired as in a real room, the journal on disk. People talk in every noise, now
and then the team counts, the device loses sound and goes away. Printed are memory, threads and open
files over the hours; whether every sample is accounted for; what was taken of the talk, which was
meant for nobody; and how the real lines fared. Nothing is played; the voice is made.
"""

import argparse
import json
import os
import tempfile
import threading
import time
from collections import Counter, deque
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median
from typing import Any

from benchmarks.live_case import SOUND, Case, Materials
from benchmarks.soak_sound import VOICE_DB, Said, SoakCapture
from benchmarks.soak_sound import Room as SoundRoom
from voicecount.commands.run import PARTIAL_SECONDS
from voicecount.count.events import Event, LineStored
from voicecount.count.roles import Role
from voicecount.errors import VoiceError
from voicecount.hear.heard import Heard, Outcome
from voicecount.keep.clock import SystemClock
from voicecount.live import Note, Watched, keeper, microphone_note, noted
from voicecount.sound.device import DeviceSource
from voicecount.sound.findings import ChannelSound, SoundCheck
from voicecount.sound.frame import RATE
from voicecount.sound.moments import moments
from voicecount.sound.segment import Segmenter
from voicecount.sound.watchdog import Change
from voicecount.speak.ahead import AheadVoice
from voicecount.speak.choose import choose_voice
from voicecount.speak.player import SilentSpeaker
from voicecount.talk.reply import Reply
from voicecount.testing.clock import FakeClock

GRAMMARS = Path(__file__).parent.parent / "grammars"
CALLED = {
    "Lap sponges, one, two, three, four, five.": ("lap_sponge", 5),
    "Suture needles, total four.": ("suture_needle", 4),
    "Suture needles, total two.": ("suture_needle", 2),
    "Skin blades, one, two.": ("skin_blade", 2),
    "Cautery tip, one.": ("cautery_tip", 1),
    "Kelly clamps, one, two, three, four.": ("kelly", 4),
}
"""What has to be stored of each line that the team calls."""
WARM_SECONDS = 1800.0
"""By then every kind of moment has come, and what is kept for good is there."""
SAMPLE_SECONDS = 60.0
SPAN_SECONDS = 900.0
"""The growth is that of the median over so long: one look may fall into an utterance."""
LOOKS = round(SPAN_SECONDS / SAMPLE_SECONDS)
MEDIAN_DB = -26.0
"""What a sound check measures of these voices: their loud parts are at VOICE_DB."""
MOST_GROWTH = 0.05
"""Share by which the memory may grow from then on."""


class FastClock(FakeClock):
    """Time that passes as fast as it is waited for; the device delivers meanwhile."""

    def __init__(self) -> None:
        super().__init__()
        self.capture: SoakCapture | None = None

    def sleep(self, seconds: float) -> None:
        """Let time pass; a list of every wait would be taken for the assistant's memory."""
        if seconds > 0:
            self.advance(seconds)

    def advance(self, seconds: float) -> None:
        """Let time pass."""
        super().advance(seconds)
        if self.capture is not None:
            self.capture.deliver_until(self.monotonic())


@dataclass
class Account:
    """An observer that tells talk from counting, by what was really said."""

    sound: SoundRoom | None = None
    events: Counter[str] = field(default_factory=Counter)
    heard_of: Counter[str] = field(default_factory=Counter)
    """By what it was (``talk``, ``team``, ``noise``) and what became of it."""
    taken: list[str] = field(default_factory=list)
    """Talk or noise that was accepted: when, what was said, what was heard."""
    stored_of_talk: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    """Lines of the team stored with another number."""
    asked: Counter[str] = field(default_factory=Counter)
    """Talk, outside and inside a count, and noise that was asked to be said again."""
    not_taken: Counter[str] = field(default_factory=Counter)
    """Lines of the team that were not taken at once, with the reason."""
    _cause: str = "team"

    def partial(self, heard: Heard, role: Role | None) -> None:
        """Keep nothing."""

    def heard(self, heard: Heard, _role: Role | None) -> None:
        """Tell what it was."""
        said = self.said_at(heard.start, heard.end)
        scripted = [one for one in said if one.scripted]
        self._cause = "team" if scripted else "talk" if said else "noise"
        self.heard_of[f"{self._cause} {heard.outcome.value}"] += 1
        if scripted:
            if heard.outcome is not Outcome.ACCEPTED:
                self.not_taken[f"{scripted[0].text} {heard.reason}"] += 1
            return
        inside = "inside a count" if said and said[0].inside else "outside a count"
        texts = " / ".join(one.text for one in said)
        if heard.outcome is Outcome.ACCEPTED:
            self.taken.append(f"{heard.start:.0f} s, {inside}: {texts!r} as {heard.text!r}")
        elif heard.outcome is Outcome.UNSURE:
            self.asked[inside if said else "noise"] += 1

    def stored(self, event: Event) -> None:
        """Tell what came of it."""
        self.events[event.kind] += 1
        sound = event.kind in SOUND
        of_team = self._cause == "team"
        if isinstance(event, LineStored):  # stored later than it was said
            of_team = any(one.scripted for one in self.said_at(event.start, event.end))
        if not of_team and not sound:
            self.stored_of_talk.append(f"{event.at:.0f} s: {event.kind}")
        if isinstance(event, LineStored) and of_team:
            said = self.said_at(event.start, event.end)
            called = {CALLED.get(one.text) for one in said if one.scripted}
            if (event.item, event.counted) not in called:
                self.wrong.append(f"{event.at:.0f} s: {event.item} {event.counted}")

    def replied(self, at: float, reply: Reply) -> None:
        """Keep nothing."""

    def unspoken(self, _at: float, _reply: Reply, error: VoiceError) -> None:
        """End the run: a voice has failed."""
        raise error

    def said_at(self, start: float, end: float) -> list[Said]:
        """Give what was said in a stretch of time."""
        said = list(self.sound.said) if self.sound is not None else []
        return [one for one in said if one.start < end + 0.1 and start - 0.1 < one.end]


@dataclass
class Machine:
    """What the process needs, again and again."""

    rows: list[tuple[float, float, int, int]] = field(default_factory=list)
    """Seconds of sound, megabytes, threads, open files."""
    _next: float = 0.0

    def look(self, seconds: float, *, last: bool = False) -> None:
        """Look, when it is time again."""
        if seconds < self._next and not last:
            return
        self._next += SAMPLE_SECONDS
        self.rows.append((seconds, memory(), threading.active_count(), files()))
        if not last and (len(self.rows) - 1) % LOOKS == 0:
            print(f"{seconds / 3600:5.2f} h: {self.rows[-1][1]:.0f} MB", flush=True)

    @property
    def growth(self) -> float | None:
        """Give the growth from the first span after warming up to the last, as a share."""
        warm = [(at, mb) for at, mb, _, _ in self.rows if at >= WARM_SECONDS]
        if len(warm) < 2:
            return None
        first = median(mb for at, mb in warm if at <= warm[0][0] + SPAN_SECONDS)
        return median(mb for at, mb in warm if at >= warm[-1][0] - SPAN_SECONDS) / first - 1.0


def memory() -> float:
    """Give the resident memory of this process, in megabytes."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def files() -> int:
    """Give how many files are open."""
    return len(list(Path("/proc/self/fd").iterdir()))


def listen(hours: float, seed: int, *, real_time: bool, journal: Path | None) -> dict[str, Any]:
    """Let it all happen; gives the figures."""
    materials = Materials.load(GRAMMARS / "caesarean_case.yaml", two_channels())
    account = Account()
    sound = SoundRoom(seed, lambda kind: account.events[kind])
    account.sound = sound
    capture = SoakCapture(sound, hours, seed)
    fast = FastClock()
    fast.capture = capture
    clock = SystemClock() if real_time else fast
    waiting: deque[Note] = deque()

    def changed(change: Change) -> None:
        waiting.append(microphone_note(change, source.now()))

    source = DeviceSource(capture.opener, 2, clock, changed=changed)
    segmenter = Segmenter(2)
    watched = Watched(source, lambda: segmenter.anybody)
    people = tuple(
        ChannelSound(k, None, MEDIAN_DB, -60.0, 0.0, -22.0, loud=VOICE_DB) for k in (0, 1)
    )
    checked = SoundCheck(people, (), {})
    watched.begin(checked)
    voice = choose_voice("embedded", together=materials.sheet.ways, announce=print)
    ahead = AheadVoice(voice) if voice is not None else None
    machine = Machine()
    begun = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        case = Case(materials, journal.parent if journal else Path(folder))
        case.voices.checked(checked)
        room = case.room(
            voice=ahead,
            speaker=SilentSpeaker(),
            observers=[account],
            ahead=ahead.prepare if ahead else None,
        )
        room.open()
        if real_time:
            capture.make_ahead()
            for work in (_make_ahead, _pass_time):
                threading.Thread(target=work, args=(capture, clock), daemon=True).start()
        stream = moments(
            watched,
            partial_every=PARTIAL_SECONDS,
            segmenter=segmenter,
            now=source.now if real_time else None,
        )

        def over() -> bool:
            machine.look(source.now())
            return capture.ended

        keep = keeper(room, watched, materials.recogniser)
        room.run(noted(stream, (waiting, watched.notes), keep), until=over)
        machine.look(source.now(), last=True)
        source.close()
        events = case.events()
    took = time.perf_counter() - begun
    return figures(capture, source, account, machine, took) | {"events": len(events)}


def two_channels() -> Path:
    """Give a recording that tells how many channels a case has."""
    return GRAMMARS.parent / "audio_fixtures/caesarean_case.flac"


def _make_ahead(capture: SoakCapture, clock: SystemClock) -> None:
    while not capture.ended:
        capture.make_ahead()
        clock.sleep(0.1)


def _pass_time(capture: SoakCapture, clock: SystemClock) -> None:
    while not capture.ended:
        capture.deliver_until(clock.monotonic())
        clock.sleep(0.01)


def figures(
    capture: SoakCapture, source: DeviceSource, account: Account, machine: Machine, took: float
) -> dict[str, Any]:
    """Give everything that is printed."""
    sound = account.sound
    hours = capture.seconds / 3600
    found = source.account
    talk = sum(sound.talk_seconds.values()) / 3600 if sound is not None else 0.0
    return {
        "hours of sound": round(hours, 3),
        "seconds it took": round(took, 1),
        "memory, MB, at": {
            f"{at / 3600:.2f} h": round(mb) for at, mb, _, _ in machine.rows[::LOOKS]
        },
        "memory, MB, least and most": [
            round(k([row[1] for row in machine.rows])) for k in (min, max)
        ],
        "growth since warm, share": machine.growth,
        "threads, first and last": [machine.rows[0][2], machine.rows[-1][2]],
        "open files, first and last": [machine.rows[0][3], machine.rows[-1][3]],
        "most threads, most files": [max(row[k] for row in machine.rows) for k in (2, 3)],
        "given by the device, s": round(capture.given / RATE, 3),
        "delivered by the source, s": round(found.delivered, 3),
        "lost by the device, s": round(capture.lost / RATE, 3),
        "away, s": round(capture.away / RATE, 3),
        "missing by cause, s": {why.value: round(s, 3) for why, s in found.seconds.items()},
        "unaccounted, s": round(capture.seconds - found.delivered - found.missing, 3),
        "utterances": dict(account.heard_of),
        "hours with talk": round(talk, 3),
        "talk taken as something": account.taken,
        "talk taken, per hour of talk": round(len(account.taken) / talk, 3) if talk else None,
        "events that came of talk": account.stored_of_talk,
        "talk asked again": dict(account.asked),
        "talk outside and inside a count, h": [
            round(sound.talk_seconds[inside] / 3600, 3) for inside in (False, True) if sound
        ],
        "lines of the team said": sound.tried if sound is not None else 0,
        "lines given up": sound.given_up if sound is not None else 0,
        "lines of the team not taken at once": dict(account.not_taken),
        "wrong numbers stored": account.wrong,
        "kinds of events": dict(account.events),
    }


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=8.0)
    parser.add_argument("--real-time", action="store_true", help="at the speed of life")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", type=Path, metavar="FILE")
    given = parser.parse_args()
    found = listen(given.hours, given.seed, real_time=given.real_time, journal=None)
    for name, value in found.items():
        print(f"{name}: {value}")
    if given.json is not None:
        given.json.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    grown, unaccounted = found["growth since warm, share"], found["unaccounted, s"]
    if (grown or 0.0) > MOST_GROWTH or abs(unaccounted) > 1.0 or found["wrong numbers stored"]:
        raise SystemExit("a bar is missed: growth, sound unaccounted for, or a wrong number")


if __name__ == "__main__":
    main()
