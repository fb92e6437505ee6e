"""``voicecount drill start``: one student, a microphone, and the partner's voice."""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from voicecount.commands.drill import Whose, finish
from voicecount.commands.ears import Wanted, open_ears
from voicecount.commands.inputs import load_drill_grammar, load_recogniser
from voicecount.drill.attempt import Attempt, Said
from voicecount.drill.hearing import Hearing, heard_with
from voicecount.drill.live import Objections, Room, hold
from voicecount.drill.load import Loaded, load_drill
from voicecount.drill.partner_voice import PartnerVoice
from voicecount.drill.session import Session
from voicecount.drill.stand_in import StandIn
from voicecount.drill.store import Attempts, Kept
from voicecount.errors import UsageError, VoiceError
from voicecount.hear.heard import Heard, Outcome
from voicecount.keep.clock import StoppableClock, SystemClock
from voicecount.keep.settings import Settings, read_settings
from voicecount.live import Note
from voicecount.reasons import MEANINGS
from voicecount.show.console import clock_time, console, notice, printable
from voicecount.speak.ahead import AheadVoice
from voicecount.speak.choose import FallbackVoice, choose_voice
from voicecount.speak.manner import Manner
from voicecount.speak.port import Voice
from voicecount.talk import wording_sound


@dataclass(frozen=True)
class Options:
    """How a drill is held."""

    whose: Whose
    microphone: str | None = None
    loudspeaker: str | None = None
    from_file: Path | None = None
    """A recording in the student's place."""
    fast: bool = False
    """Whether that recording is heard as fast as can be, instead of at the speed of life."""
    voice: str | None = None
    summary: bool = True
    """Whether the summary is spoken."""


def start(drill: str, options: Options) -> None:
    """Hold a drill until it is over, judge it, and say what to do next."""
    if options.fast and options.from_file is None:
        raise UsageError("--fast needs a recording in the student's place; give --from FILE")
    loaded = load_drill(drill)
    options.whose.code  # noqa: B018 - a wrong code is told before anything begins
    settings = read_settings()
    grammar = load_drill_grammar(loaded)
    recogniser = load_recogniser("embedded", grammar, heard_with(loaded.sheet.policy))
    voice = _voice(loaded, settings, options)
    objections = Objections(recogniser, grammar)
    room, close = _room(options, settings, voice, objections)
    try:
        kept = options.whose.begun(loaded)
        session = Session(loaded.drill, loaded.sheet, grammar=grammar)
        hearing = Hearing(loaded, recogniser, grammar)
        attempt = _held(session, hearing, room, kept)
        kept.keep_attempt(attempt)
        attempts = Attempts(kept.path.parent.parent)
        text = finish(kept, loaded, attempt, attempts, as_json=False)
        if options.summary and options.from_file is None and voice is not None:
            _speak(text, room, voice)
    finally:
        close()


def _held(session: Session, hearing: Hearing, room: Room, kept: Kept) -> Attempt:
    try:
        return hold(session, hearing, room, kept)
    except BaseException as error:
        error.add_note(
            f"what was recorded is in {kept.path}; judge it with: voicecount drill page {kept.path}"
        )
        raise


def _room(
    options: Options, settings: Settings, voice: Voice | None, objections: Objections
) -> tuple[Room, Callable[[], None]]:
    """Give what the drill is done with, and what closes it."""
    shown = (Shown(),)
    by = (objections.recogniser, objections.grammar, shown)
    if options.from_file is not None:
        student = StandIn(options.from_file, None if options.fast else SystemClock())
        return Room(student, student.now, student, voice, *by), lambda: None
    names = [name for name in (options.microphone or settings.input_device,) if name]
    ears = open_ears(
        Wanted(tuple(names), options.loudspeaker, one_channel=True),
        settings.model_copy(update={"second_input_device": None}),
        clock=StoppableClock(SystemClock()),
        notes=deque[Note](),
        stops=objections.stops,
        voice=voice,
    )
    room = Room(ears.frames, ears.source.now, ears.speaker, voice, *by, objections)
    return room, ears.source.close


def _voice(loaded: Loaded, settings: Settings, options: Options) -> Voice | None:
    live = options.from_file is None
    voice = choose_voice(
        options.voice,
        together=loaded.sheet.ways,
        announce=notice,
        manner=Manner(settings.voice_rate, settings.voice_loudness) if live else None,
        said=wording_sound.other_voice(),
    )
    if voice is None:
        return None
    before = voice.words if isinstance(voice, FallbackVoice) else str
    return AheadVoice(PartnerVoice.of(loaded, voice), before)


def _speak(text: str, room: Room, voice: Voice) -> None:
    try:
        room.speaker.play(voice.speak(text))
    except VoiceError as error:
        notice(str(error))  # it stands on the screen


class Shown:
    """Shows on a terminal what is said and heard; nothing of what lies there."""

    def __init__(self) -> None:
        self._out = console()

    def heard(self, heard: Heard) -> None:
        """Show what the student said."""
        if heard.outcome is Outcome.IGNORED:
            return
        why = "" if heard.reason is None else f" ({MEANINGS[heard.reason]})"
        self._line(heard.start, "you", f"{heard.text}{why}")

    def said(self, said: Said) -> None:
        """Show what the partner says."""
        self._line(said.start, "partner", said.words)

    def unspoken(self, said: Said, error: VoiceError) -> None:  # noqa: ARG002 - the port's
        """Tell that it has to be read."""
        notice(f"not spoken, read it: {error}")

    def _line(self, at: float, who: str, text: str) -> None:
        line = f"{clock_time(at):>8}  {who:<8} {printable(text)}"
        self._out.print(line, markup=False, soft_wrap=True)
