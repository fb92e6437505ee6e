"""Faults in the middle of a count, with real speech and the real recogniser: what is lost is asked.

A fake sound card on a fake clock, two people of one synthetic voice each, no loudspeaker.
"""

import os
import signal
import subprocess
import sys
from collections import deque
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soxr
from numpy.typing import NDArray
from room_rig import GRAMMARS, SHEET

from voicecount.commands.journals import CODEC, check_resumable
from voicecount.commands.script import ScriptRecogniser, read_script
from voicecount.count.events import Event, LineConfirmed, LineStored, MicrophoneChanged
from voicecount.count.ledger import fold
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.count.tally import State
from voicecount.errors import VoiceError
from voicecount.hear.embedded.adapter import EmbeddedRecogniser
from voicecount.hear.heard import Heard, Outcome
from voicecount.keep.journal import Journal
from voicecount.keep.reading import load_whole_part
from voicecount.live import Note, microphone_note, noted
from voicecount.reasons import Reason
from voicecount.room import TOLD_APART, Room
from voicecount.sound.device import DeviceSource
from voicecount.sound.frame import RATE
from voicecount.sound.moments import moments
from voicecount.sound.watchdog import Change
from voicecount.speak.embedded import EmbeddedVoice
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply
from voicecount.testing.capture import CardClock, FakeCard
from voicecount.testing.voice import FakeSpeaker, FakeVoice

pytestmark = pytest.mark.audio

ROOT = Path(__file__).parent.parent
PITCH = {Role.SCRUB: 1.0, Role.CIRCULATOR: 0.92}
"""The circulator is the same voice played slower."""
FIVE = "Lap sponge, one, two, three, four, five."


@pytest.fixture(scope="module")
def recogniser() -> EmbeddedRecogniser:
    return EmbeddedRecogniser.load()


@pytest.fixture(scope="module")
def voice() -> EmbeddedVoice:
    return EmbeddedVoice.load()


class Notes:
    """An observer that keeps everything, in words."""

    def __init__(self) -> None:
        self.heard_all: list[Heard] = []
        self.said: list[str] = []
        self.kept: list[Event] = []

    def partial(self, heard: Heard, role: Role | None) -> None:
        """Keep nothing."""

    def heard(self, heard: Heard, _role: Role | None) -> None:
        self.heard_all.append(heard)

    def stored(self, event: Event) -> None:
        self.kept.append(event)

    def replied(self, _at: float, reply: Reply) -> None:
        self.said.append(reply.text)

    def unspoken(self, _at: float, _reply: Reply, error: VoiceError) -> None:
        raise error


class Rig:
    """Two people at a fake card; ``say`` puts words at a time, ``run`` lets it all happen."""

    def __init__(
        self, folder: Path, recogniser: EmbeddedRecogniser, voice: EmbeddedVoice, seconds: float
    ) -> None:
        self._voice = voice
        self._recogniser = recogniser
        self._path = folder / "case.vcj"
        self.clock = CardClock()
        rng = np.random.default_rng(1)
        noise = rng.normal(0, 2e-4, (round(seconds * RATE), 2)).astype(np.float32)
        self.card = FakeCard(self.clock, noise, RATE)
        self._seconds = seconds
        self.notes = Notes()

    def say(self, at: float, role: Role, text: str, gain: float = 1.0) -> float:
        """Put words into the card's sound; gives when they end."""
        clip = self._voice.speak(text)
        sound: NDArray[Any] = soxr.resample(clip.samples, clip.rate * PITCH[role], RATE)
        first = round(at * RATE)
        channel = 0 if role is Role.SCRUB else 1
        stretch = self.card.sound[first : first + len(sound), channel]
        stretch += np.clip(gain * sound[: len(stretch)], -1.0, 1.0).astype(np.float32)
        return at + len(sound) / RATE

    def run(self) -> tuple[Event, ...]:
        """Run the room to the end of the card's sound; what was kept, read from the file."""
        waiting: deque[Note] = deque()
        holder: list[DeviceSource] = []

        def changed(change: Change) -> None:
            waiting.append(microphone_note(change, holder[0].now()))

        source = DeviceSource(self.card.opener, 2, self.clock, changed=changed)
        holder.append(source)
        first = open_case(SHEET, at=0, software="t", recogniser="t", voice="t", told_apart=True)
        with Journal.create(self._path, first, CODEC) as journal:
            room = Room(
                Dialogue(SHEET, told_apart=True),
                journal,
                self._recogniser,
                GRAMMARS,
                roles=TOLD_APART,
                voice=FakeVoice(),
                speaker=FakeSpeaker(),
                observers=[self.notes],
            )
            room.open()
            stream = noted(
                moments(source, partial_every=0.4),
                [waiting],
                lambda note: room.note(note.event, note.reply),
            )
            end = self._seconds - 1.0
            room.run(stream, until=lambda: self.clock.monotonic() >= end)
        source.close()
        return load_whole_part(self._path, CODEC).events


def lines(events: tuple[Event, ...]) -> list[tuple[str, int]]:
    """What was stored, line by line."""
    return [(one.item, one.counted) for one in events if isinstance(one, LineStored)]


def test_a_microphone_pulled_out_in_the_middle_of_a_call(
    tmp_path: Path, recogniser: EmbeddedRecogniser, voice: EmbeddedVoice
) -> None:
    """It is told, kept, and goes on by itself; the call that was cut is asked again."""
    rig = Rig(tmp_path, recogniser, voice, 48.0)
    rig.say(1.0, Role.SCRUB, "Gauze, one, two, three, four, five, six, seven, eight, nine, ten.")
    rig.say(10.0, Role.CIRCULATOR, "Ten.")
    end = rig.say(14.0, Role.SCRUB, FIVE)
    rig.card.unplug(end - 1.5, end + 3.0)
    rig.say(end + 8.0, Role.SCRUB, FIVE)
    rig.say(end + 17.0, Role.CIRCULATOR, "Five.")
    events = rig.run()
    changes = [one.state for one in events if isinstance(one, MicrophoneChanged)]

    assert changes == ["gone", "back"]
    assert any("microphone is gone" in text for text in rig.notes.said)
    assert lines(events) == [("gauze", 10), ("lap_sponge", 5)]
    lost = [heard for heard in rig.notes.heard_all if heard.reason is Reason.SOUND_LOST]
    assert len(lost) == 1
    assert fold(events).tally("lap_sponge").state is State.CONFIRMED
    assert fold(events).tally("gauze").state is State.CONFIRMED


def test_sound_lost_inside_a_call_is_asked_again(
    tmp_path: Path, recogniser: EmbeddedRecogniser, voice: EmbeddedVoice
) -> None:
    """An overflow of 0.1 s within the numbers costs the call, never a number."""
    rig = Rig(tmp_path, recogniser, voice, 24.0)
    end = rig.say(1.0, Role.SCRUB, FIVE)
    rig.card.lose((1.0 + end) / 2, 0.1)
    rig.say(end + 6.0, Role.SCRUB, FIVE)
    events = rig.run()

    assert [heard.reason for heard in rig.notes.heard_all] == [Reason.SOUND_LOST, None]
    assert any("Some sound was lost" in text for text in rig.notes.said)
    assert lines(events) == [("lap_sponge", 5)]


def test_a_muted_microphone_is_told_and_counts_nothing(
    tmp_path: Path, recogniser: EmbeddedRecogniser, voice: EmbeddedVoice
) -> None:
    """What is said into a muted microphone is no line; both changes are told and kept."""
    rig = Rig(tmp_path, recogniser, voice, 30.0)
    end = rig.say(2.0, Role.SCRUB, FIVE)
    rig.card.mute(1.5, end + 1.0, channel=0)
    rig.say(end + 5.0, Role.SCRUB, FIVE)
    events = rig.run()
    changes = [(one.state, one.channel) for one in events if isinstance(one, MicrophoneChanged)]

    assert changes == [("silent", 0), ("heard", 0)]
    assert lines(events) == [("lap_sponge", 5)]
    assert events[-1].at > end


def test_a_voice_too_loud_for_the_microphone_is_asked_again(
    tmp_path: Path, recogniser: EmbeddedRecogniser, voice: EmbeddedVoice
) -> None:
    """Clipped sound has its reason and its words, and the call comes again."""
    rig = Rig(tmp_path, recogniser, voice, 24.0)
    end = rig.say(1.0, Role.SCRUB, FIVE, gain=30.0)
    rig.say(end + 6.0, Role.SCRUB, FIVE)
    events = rig.run()

    assert rig.notes.heard_all[0].outcome is Outcome.UNSURE
    assert rig.notes.heard_all[0].reason is Reason.CLIPPED
    assert any("too loud" in text for text in rig.notes.said)
    assert lines(events) == [("lap_sponge", 5)]


SPEAKING = """
import sys, time
from pathlib import Path
from voicecount.commands.journals import CODEC
from voicecount.commands.script import ScriptRecogniser, read_script
from voicecount.count.opening import open_case
from voicecount.keep.journal import Journal
from voicecount.room import TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.talk.dialogue import Dialogue
from voicecount.testing.voice import FakeVoice
from voicecount.words.grammar import build_grammar
from voicecount.words.grammars import Grammars

sheet, script, path = load_sheet(Path(sys.argv[1])), Path(sys.argv[2]), Path(sys.argv[3])
voice = FakeVoice()

class Speaking:
    def play(self, clip):
        if voice.said[-1].startswith("Gauze, ten"):
            print("speaking", flush=True)
            time.sleep(60)

first = open_case(sheet, at=0, software="t", recogniser="t", voice="t", told_apart=True)
journal = Journal.create(path, first, CODEC)
room = Room(
    Dialogue(sheet, told_apart=True), journal, ScriptRecogniser(),
    Grammars(lambda v: build_grammar(sheet, v)), roles=TOLD_APART, voice=voice, speaker=Speaking(),
)
room.open()
room.run(read_script(script).moments(None))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="optional: no SIGKILL on Windows")
def test_a_kill_in_the_middle_of_a_read_back_loses_nothing(tmp_path: Path) -> None:
    """What was about to be read back is kept; going on, it is told and its answer still counts."""
    said = tmp_path / "said.txt"
    said.write_text(
        "0 scrub: gauze, one two three four five six seven eight nine ten\n9 scrub: x\n"
    )
    path = tmp_path / "case.vcj"
    sheet = ROOT / "grammars" / "first_try.yaml"
    command = [sys.executable, "-c", SPEAKING, str(sheet), str(said), str(path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"speaking\n"
        process.send_signal(signal.SIGKILL)
    said.write_text("20 circulator: ten\n")
    journal = Journal.open(path, CODEC)
    ledger = check_resumable(path, journal.events, SHEET)
    assert lines(journal.events) == [("gauze", 10)]
    assert ledger.tally("gauze").state is State.WAITING
    notes = Notes()
    with journal:
        room = Room(
            Dialogue(SHEET, told_apart=True, ledger=ledger),
            journal,
            ScriptRecogniser(),
            GRAMMARS,
            roles=TOLD_APART,
            observers=[notes],
        )
        room.reopen(9.0)
        room.run(read_script(said).moments(None), after=9.0)

    assert "Gauze, ten" in notes.said[0]
    assert any(isinstance(event, LineConfirmed) for event in notes.kept)


@pytest.mark.skipif(sys.platform == "win32", reason="optional: no limit of file size on Windows")
def test_a_full_disk_in_the_middle_of_a_case_ends_it_in_one_line(tmp_path: Path) -> None:
    """The whole command, with room for a few records: one line, code 2, a journal that holds."""
    path = tmp_path / "case.vcj"
    limit = (
        "import resource, signal, sys\n"
        "from voicecount.cli import main\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (6000, 6000))\n"
        "sys.exit(main(sys.argv[1:]))\n"
    )
    command = [
        *(sys.executable, "-c", limit, "run", str(ROOT / "grammars/caesarean.yaml")),
        *("--from", str(ROOT / "audio_fixtures/caesarean.flac")),
        *("--journal", str(path), "--no-sound-check", "--voice", "none"),
    ]
    environment = {**os.environ, "XDG_CONFIG_HOME": str(tmp_path)}
    done = subprocess.run(
        command, capture_output=True, text=True, env=environment, check=False, timeout=240
    )
    reading = load_whole_part(path, CODEC)

    assert done.returncode == 2, done.stderr
    assert "The record cannot be kept. Stop counting." in done.stdout
    (told,) = [line for line in done.stderr.splitlines() if str(path) in line]
    assert "Traceback" not in done.stderr
    assert "free" in told or "disk" in told
    assert path.stat().st_size <= 6000
    stored = lines(reading.events)
    read_back = [line for line in done.stdout.splitlines() if "→ X-ray gauze, ten" in line]
    assert stored[0] == ("gauze", 10)
    assert read_back
