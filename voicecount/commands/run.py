"""``voicecount run``: a case in a real room, with microphones and a loudspeaker, hands free."""

import sys
from collections import deque
from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

from voicecount import __version__
from voicecount.board.address import Address
from voicecount.board.now import NowTeller, WatchedSpeaker
from voicecount.commands.board import beside, told_now
from voicecount.commands.ears import Ears, Wanted, open_ears
from voicecount.commands.inputs import load_grammars, load_recogniser
from voicecount.commands.journals import CODEC, check_channels, check_resumable, new_path
from voicecount.commands.keyboard import EarsAndKeyboard, Keyboard, with_keyboard
from voicecount.commands.replay import naming, show_result
from voicecount.count.events import Event, SoundChecked
from voicecount.count.ledger import Ledger
from voicecount.count.opening import open_case
from voicecount.count.roles import Role
from voicecount.errors import UsageError
from voicecount.hear.meant import MeantRecogniser, Voices
from voicecount.hear.port import Recogniser
from voicecount.keep.clock import StoppableClock, SystemClock
from voicecount.keep.journal import Journal
from voicecount.keep.settings import Settings, Spoken, read_settings, write_settings
from voicecount.live import Note, Watched, check_sound, keeper, manner, noted, told_to_stop
from voicecount.room import NOT_TOLD_APART, TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.show.console import console, notice
from voicecount.show.conversation import Conversation, Printer
from voicecount.sound.findings import SoundCheck
from voicecount.sound.moments import moments, shifted
from voicecount.sound.segment import Segmenter
from voicecount.speak.ahead import AheadVoice
from voicecount.speak.choose import FallbackVoice, choose_voice
from voicecount.speak.manner import Manner
from voicecount.speak.port import Voice
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
    resume: bool = False
    """Whether ``journal`` is one to go on with."""
    recogniser: str = "embedded"
    voice: str | None = None
    """A kind of voice; None takes the usual one."""
    wanted: Wanted = field(default_factory=Wanted)
    """What is listened to and spoken through."""
    sound_check: bool = True
    spoken: Spoken | None = None
    """How much is spoken; None takes what is remembered."""
    voice_rate: float | None = None
    """How many times as fast as usual; None takes what is remembered."""
    voice_loudness: float | None = None
    """dB louder than usual; None takes what is remembered."""
    keyboard: bool = False
    """Whether typed lines count as said by the circulator."""
    as_json: bool = False
    board: Address | None = None
    """Where a wall board is shown; None shows none."""


def run(sheet_path: Path, options: Options) -> None:
    """Run a case until the record is closed, the file ends, or a key stops it."""
    if options.resume and options.journal is None:
        raise UsageError("--resume needs the journal to go on with; give it by --journal FILE")
    sheet = load_sheet(sheet_path)
    settings = read_settings()
    grammars = load_grammars(sheet_path, sheet)
    clock = StoppableClock(SystemClock())
    notes: deque[Note] = deque()
    recogniser = load_recogniser(options.recogniser, grammars(), sheet.policy)
    stops = told_to_stop(recogniser, grammars(Vocabulary((*COMMANDS, HUSH))))
    voice = choose_voice(
        options.voice,
        together=sheet.ways,
        announce=notice,
        manner=_voice_manner(settings, options),
        said=wording_sound.other_voice(),
    )
    before = voice.words if isinstance(voice, FallbackVoice) else str
    spoken_ahead = AheadVoice(voice, before) if voice is not None else None
    ears = open_ears(options.wanted, settings, clock=clock, notes=notes, stops=stops, voice=voice)
    with ExitStack() as stack:
        stack.callback(ears.source.close)
        case = _case(
            stack,
            sheet_path=sheet_path,
            sheet=sheet,
            options=options,
            ears=ears,
            heard_by=(recogniser.name, voice),
        )
        printer = None if options.as_json else Printer(console())
        conversation = Conversation(printer, printer.partial if printer is not None else None)
        with naming(case.journal.path):
            found = _sound_check(ears, voice, conversation, options)
            voices = Voices()
            if found is not None:
                voices.checked(found)
            meant = MeantRecogniser(recogniser, case.dialogue, voices)
            roles = _roles(settings, found) if case.told_apart else NOT_TOLD_APART
            teller = stack.enter_context(told_now(case.journal.path))
            teller.by(sheet.policy, roles)
            stack.enter_context(beside(case.journal.path, options.board))
            room = Room(
                case.dialogue,
                case.journal,
                EarsAndKeyboard(meant),
                grammars,
                roles=roles,
                voice=spoken_ahead,
                ahead=spoken_ahead.prepare if spoken_ahead is not None else None,
                speaker=WatchedSpeaker(ears.speaker, teller) if voice is not None else None,
                observers=[conversation, teller],
                meanwhile=ears.take_noticed,
                manner=manner(options.spoken or settings.spoken),
                heard_from=lambda: ears.heard_from() + case.shift,
            )
            case.begin(room)
            _listen(
                case,
                room=room,
                ears=ears,
                found=found,
                notes=notes,
                by=(recogniser, roles, options),
                teller=teller,
            )
        show_result(case.journal, case.dialogue.ledger, conversation, as_json=options.as_json)
    _remember(settings, options, ears)


@dataclass(frozen=True)
class _Case:
    """A case that begins, or goes on after a stop."""

    journal: Journal[Event]
    dialogue: Dialogue
    told_apart: bool
    after: float | None
    """Seconds of the stream before the stop; None where the case begins."""

    @property
    def shift(self) -> float:
        """Seconds by which this stream lies later in the case."""
        return self.after or 0.0

    def begin(self, room: Room) -> None:
        """Say the first words."""
        if self.after is None:
            room.open()
        else:
            room.reopen(self.after)


def _case(
    stack: ExitStack,
    *,
    sheet_path: Path,
    sheet: Sheet,
    options: Options,
    ears: Ears,
    heard_by: tuple[str, Voice | None],
) -> _Case:
    """Open a new journal, or go on with one."""
    told_apart = ears.frames.channels == len(TOLD_APART)
    path = options.journal or new_path(sheet_path, SystemClock())
    if options.resume:
        ledgers: list[Ledger] = []

        def check(events: tuple[Event, ...]) -> None:
            ledger = check_resumable(path, events, sheet)
            channels = ears.frames.channels
            check_channels(ledger, channels, path, "microphone has {}; choose one like it")
            ledgers.append(ledger)

        kept = stack.enter_context(Journal.open(path, CODEC, check=check))
        dialogue = Dialogue(sheet, told_apart=told_apart, ledger=ledgers[0])
        return _Case(kept, dialogue, told_apart, max(event.at for event in kept.events))
    recogniser, voice = heard_by
    first = open_case(
        sheet,
        at=0.0,
        software=f"voicecount {__version__}",
        recogniser=recogniser,
        voice=voice.name if voice is not None else "none",
        told_apart=told_apart,
    )
    journal = stack.enter_context(Journal.create(path, first, CODEC))
    return _Case(journal, Dialogue(sheet, told_apart=told_apart), told_apart, None)


def _listen(
    case: _Case,
    *,
    room: Room,
    ears: Ears,
    found: SoundCheck | None,
    notes: deque[Note],
    by: tuple[Recogniser, Mapping[int, Role], Options],
    teller: NowTeller,
) -> None:
    """Listen until the record is closed or the sound ends."""
    recogniser, roles, options = by
    segmenter = Segmenter(ears.frames.channels)
    watched = Watched(ears.frames, lambda: segmenter.anybody)
    keep = keeper(room, watched, recogniser, case.shift)
    if found is not None:
        event = SoundChecked.of(found, ears.source.now())
        keep(Note(event, wording_sound.told(found)))
        watched.begin(found)
    teller.noise = lambda: watched.noise
    stream = moments(
        watched, partial_every=PARTIAL_SECONDS, segmenter=segmenter, now=ears.source.now
    )
    live = noted(shifted(stream, case.shift), (notes, watched.notes), keep)
    if options.keyboard:
        keyboard = Keyboard(sys.stdin)
        keyboard.start()
        live = with_keyboard(live, keyboard, roles, lambda: ears.source.now() + case.shift)
    live = teller.following(live)
    room.run(live, after=case.shift, until=lambda: case.dialogue.ledger.closed)


def _sound_check(
    ears: Ears, voice: Voice | None, conversation: Conversation, options: Options
) -> SoundCheck | None:
    """Do the sound check until nothing has to be put right, at most some times."""
    if not options.sound_check:
        return None

    def say(text: str) -> None:
        conversation.replied(ears.source.now(), Reply(text, ReplyKind.QUESTION))
        if voice is not None:
            ears.speaker.play(voice.speak(text))

    for turn in range(CHECKS):
        found = check_sound(ears.frames, say)
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


def _voice_manner(settings: Settings, options: Options) -> Manner:
    """Give how fast and how loud is spoken: as asked for, else as remembered."""
    rate, loudness = options.voice_rate, options.voice_loudness
    return Manner(
        settings.voice_rate if rate is None else rate,
        settings.voice_loudness if loudness is None else loudness,
    )


def _remember(settings: Settings, options: Options, ears: Ears) -> None:
    """Keep the names of the devices for the next case."""
    if options.wanted.from_file is not None:
        return
    manner = _voice_manner(settings, options)
    found: dict[str, object] = {
        "input_device": ears.microphone,
        "second_input_device": ears.second_microphone,
        "output_device": ears.loudspeaker,
        "spoken": settings.spoken if options.spoken is None else options.spoken,
        "voice_rate": manner.rate,
        "voice_loudness": manner.loudness,
    }
    if ears.room is not None:
        found |= {"room_tail": ears.room.tail, "room_echo": ears.room.echo.gain_db}
    now = settings.model_copy(update=found)
    if now != settings:
        write_settings(now)
