"""``voicecount run``: a case in a real room, with microphones and a loudspeaker, hands free."""

import sys
from collections import deque
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from voicecount import __version__
from voicecount.commands.inputs import load_grammars, load_recogniser
from voicecount.commands.journals import CODEC, new_path
from voicecount.commands.keyboard import EarsAndKeyboard, Keyboard, with_keyboard
from voicecount.commands.replay import naming, show_result
from voicecount.count.events import SoundChecked
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.hear.heard import Outcome
from voicecount.hear.port import Recogniser
from voicecount.keep.clock import StoppableClock, SystemClock
from voicecount.keep.journal import Journal
from voicecount.keep.settings import Settings, Spoken, read_settings, write_settings
from voicecount.live import STRICTER, Note, Watched, check_sound, manner, microphone_note, noted
from voicecount.room import NOT_TOLD_APART, TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.show.console import console, notice
from voicecount.show.conversation import Conversation, Printer
from voicecount.sound.capture import Capture, MicrophoneCapture
from voicecount.sound.choose import choose, loudspeakers, microphones
from voicecount.sound.device import DeviceSource
from voicecount.sound.findings import SoundCheck
from voicecount.sound.frame import Utterance
from voicecount.sound.gate import Echo
from voicecount.sound.moments import moments
from voicecount.sound.playback import FileCapture
from voicecount.sound.room_sound import RoomSound
from voicecount.sound.segment import Segmenter
from voicecount.sound.watchdog import Change
from voicecount.speak.choose import choose_voice
from voicecount.speak.duplex import HalfDuplex
from voicecount.speak.player import DeviceSpeaker, SilentSpeaker
from voicecount.speak.port import Clip, Voice
from voicecount.talk import wording_sound
from voicecount.talk.dialogue import Dialogue
from voicecount.talk.reply import Reply, ReplyKind
from voicecount.words.commands import COMMANDS, HUSH
from voicecount.words.vocabulary import Vocabulary

PARTIAL_SECONDS = 0.4
"""An open utterance is shown whenever it has grown by so much."""
CHECKS = 3
"""How often the sound check is done before the case goes on as it is."""


@dataclass(frozen=True)
class Options:
    """How a case is run."""

    journal: Path | None = None
    recogniser: str = "embedded"
    voice: str | None = None
    """A kind of voice; None takes the usual one."""
    microphone: str | None = None
    """A part of its name; None takes the remembered one, or the system's."""
    loudspeaker: str | None = None
    one_channel: bool = False
    sound_check: bool = True
    spoken: Spoken | None = None
    """How much is spoken; None takes what is remembered."""
    from_file: Path | None = None
    """A recording in the place of the microphone, at the speed of life."""
    keyboard: bool = False
    """Whether typed lines count as said by the circulator."""
    as_json: bool = False


def run(sheet_path: Path, options: Options) -> None:
    """Run a case until the record is closed, the file ends, or a key stops it."""
    sheet = load_sheet(sheet_path)
    settings = read_settings()
    grammars = load_grammars(sheet_path, sheet)
    clock = StoppableClock(SystemClock())
    notes: deque[Note] = deque()
    recogniser = load_recogniser(options.recogniser, grammars(), sheet.policy)
    hush = grammars(Vocabulary((*COMMANDS, HUSH)))

    def stops(utterance: Utterance) -> bool:
        heard = recogniser.hear(utterance, hush)
        sure = heard.outcome is Outcome.ACCEPTED and heard.meaning is not None
        return sure and heard.meaning is not None and heard.meaning.command == HUSH.id

    ears = _open(options, settings, clock, notes, stops)
    names = {way for item in sheet.items for say in item.say for way in (say.one, say.many)}
    voice = choose_voice(options.voice, together=names, announce=notice)
    with ExitStack() as stack:
        stack.callback(ears.source.close)
        told_apart = ears.duplex.channels == len(TOLD_APART)
        first = open_case(
            sheet,
            at=0.0,
            software=f"voicecount {__version__}",
            recogniser=recogniser.name,
            voice=voice.name if voice is not None else "none",
            told_apart=told_apart,
        )
        path = options.journal or new_path(sheet_path, SystemClock())
        journal = stack.enter_context(Journal.create(path, first, CODEC))
        dialogue = Dialogue(sheet, told_apart=told_apart)
        printer = None if options.as_json else Printer(console())
        conversation = Conversation(printer, printer.partial if printer is not None else None)
        segmenter = Segmenter(ears.duplex.channels)
        watched = Watched(
            ears.duplex, lambda: any(map(segmenter.speaking, range(segmenter.channels)))
        )
        with naming(path):
            found = _sound_check(ears, voice, conversation, options)
            roles = _roles(settings, found) if told_apart else NOT_TOLD_APART
            room = Room(
                dialogue,
                journal,
                EarsAndKeyboard(recogniser),
                grammars,
                roles=roles,
                voice=voice,
                speaker=ears.duplex if voice is not None else None,
                observers=[conversation],
                meanwhile=ears.duplex.take_noticed,
                manner=manner(options.spoken or settings.spoken),
            )
            room.open()
            if found is not None:
                room.note(
                    ears.source.now(),
                    SoundChecked.of(found, ears.source.now()),
                    wording_sound.told(found),
                )
                watched.begin(found)
            keep = _keeper(room, watched, recogniser)
            stream = moments(watched, partial_every=PARTIAL_SECONDS, segmenter=segmenter)
            live = noted(stream, (notes, watched.notes), keep)
            if options.keyboard:
                keyboard = Keyboard(sys.stdin)
                keyboard.start()
                live = with_keyboard(live, keyboard, roles, ears.source.now)
            room.run(live, until=lambda: dialogue.ledger.closed)
        show_result(journal, dialogue.ledger, conversation, as_json=options.as_json)
    _remember(settings, options, ears)


@dataclass
class _Ears:
    """The microphone and the loudspeaker."""

    source: DeviceSource
    duplex: HalfDuplex
    microphone: str | None
    loudspeaker: str | None


def _open(
    options: Options,
    settings: Settings,
    clock: StoppableClock,
    notes: deque[Note],
    stops: Callable[[Utterance], bool],
) -> _Ears:
    """Open what is listened to and spoken through. Raises DeviceError and RecordingError."""
    holder: list[DeviceSource] = []

    def changed(change: Change) -> None:
        at = holder[0].now() if holder else 0.0
        note = microphone_note(change, at)
        notes.append(note)
        notice(note.text)

    opener, channels, microphone = _opener(options, settings, clock)
    source = DeviceSource(opener, channels, clock, changed=changed)
    holder.append(source)
    speaker: DeviceSpeaker | _Standing
    name = None
    if options.from_file is not None:
        # A recording has no gaps for the assistant's voice: it stands still meanwhile.
        speaker = _Standing(SilentSpeaker(), clock)
    else:
        name = options.loudspeaker or settings.output_device
        device = choose(loudspeakers(), name, "loudspeaker")
        name = device.name
        speaker = DeviceSpeaker(device.name)
    tail = settings.room_tail
    room = None if tail is None else RoomSound(tail, Echo())
    source.open()
    return _Ears(source, HalfDuplex(source, speaker, room=room, stops=stops), microphone, name)


def _opener(
    options: Options, settings: Settings, clock: StoppableClock
) -> tuple[Callable[[], Capture], int, str | None]:
    file = options.from_file
    if file is not None:
        capture = FileCapture(file, clock)
        return lambda: capture, capture.channels, None
    wanted = options.microphone or settings.input_device
    device = choose(microphones(), wanted)
    channels = 1 if options.one_channel else min(2, device.channels)

    def again() -> Capture:
        return MicrophoneCapture(choose(microphones(), device.name), channels, clock)

    return again, channels, device.name


class _Standing:
    """A speaker that stops a recording's clock while it plays."""

    def __init__(self, speaker: SilentSpeaker, clock: StoppableClock) -> None:
        self._speaker = speaker
        self._clock = clock

    @property
    def cut(self) -> bool:
        return False

    def stop(self) -> None:
        """Do nothing: nothing plays for long."""

    def play(self, clip: Clip) -> None:
        with self._clock.stopped():
            self._speaker.play(clip)


def _sound_check(
    ears: _Ears, voice: Voice | None, conversation: Conversation, options: Options
) -> SoundCheck | None:
    """Do the sound check until nothing has to be put right, at most some times."""
    if not options.sound_check:
        return None

    def say(text: str) -> None:
        conversation.replied(ears.source.now(), Reply(text, ReplyKind.QUESTION))
        if voice is not None:
            ears.duplex.play(voice.speak(text))

    for turn in range(CHECKS):
        found = check_sound(ears.duplex, say)
        if found.go or turn == CHECKS - 1:
            return found
        say(wording_sound.told(found))
    return None


def _roles(settings: Settings, found: SoundCheck | None) -> dict[int, Role]:
    """Tell whose each channel is: by the sound check, else as remembered, else as usual."""
    if found is not None and len(set(found.channel_of.values())) == len(TOLD_APART):
        return {channel: Role(who) for who, channel in found.channel_of.items()}
    if settings.roles is not None and len(settings.roles) == len(TOLD_APART):
        return dict(enumerate(settings.roles))
    return dict(TOLD_APART)


def _keeper(room: Room, watched: Watched, recogniser: Recogniser) -> Callable[[Note], None]:
    """Give what keeps and says a note, and asks more often in noise."""
    usual = getattr(recogniser, "wrong_per_thousand", None)

    def keep(note: Note) -> None:
        kind = ReplyKind.ALERT if note.urgent else ReplyKind.NOTICE
        room.note(note.event.at, note.event, note.text, kind)
        if usual is not None:
            setattr(recogniser, "wrong_per_thousand", usual * STRICTER[watched.state])  # noqa: B010

    return keep


def _remember(settings: Settings, options: Options, ears: _Ears) -> None:
    """Keep the names of the devices for the next case."""
    if options.from_file is not None:
        return
    names = {"input_device": ears.microphone, "output_device": ears.loudspeaker}
    spoken = settings.spoken if options.spoken is None else options.spoken
    now = settings.model_copy(update={**names, "spoken": spoken})
    if now != settings:
        write_settings(now)
