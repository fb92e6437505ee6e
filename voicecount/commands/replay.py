"""``replay``, ``resume`` and ``demo``: a whole dialogue on a recording, kept in a journal."""

import json
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from voicecount import __version__
from voicecount.board.address import Address
from voicecount.board.now import NowTeller, WatchedClock, WatchedSpeaker
from voicecount.commands.board import beside, told_now
from voicecount.commands.inputs import Input, load_grammars, open_input, progress, recogniser_for
from voicecount.commands.journals import CODEC, check_channels, check_resumable, new_path
from voicecount.count.events import Event
from voicecount.count.ledger import Ledger
from voicecount.count.opening import open_case
from voicecount.errors import UsageError
from voicecount.hear.meant import MeantRecogniser, Voices
from voicecount.keep import witness
from voicecount.keep.clock import Clock, StoppableClock, SystemClock
from voicecount.keep.journal import Journal
from voicecount.room import NOT_TOLD_APART, TOLD_APART, Room
from voicecount.sheet.load import load_sheet
from voicecount.sheet.model import Sheet
from voicecount.sheet.policy import Policy
from voicecount.show.case_table import case_table
from voicecount.show.console import console, notice, printable
from voicecount.show.conversation import Conversation, Printer
from voicecount.show.json_out import replay_object
from voicecount.show.tally import tally_table
from voicecount.sound.moments import shifted
from voicecount.speak.choose import choose_voice
from voicecount.speak.player import DeviceSpeaker, FileSpeaker
from voicecount.speak.port import Speaker, Voice
from voicecount.speak.standing import StandingSpeaker
from voicecount.talk.dialogue import Dialogue
from voicecount.words.grammars import Grammars

DEMO_SHEET = Path("grammars/caesarean.yaml")
DEMO_RECORDING = Path("audio_fixtures/caesarean.flac")
CASE_SHEET = Path("grammars/caesarean_case.yaml")
CASE_RECORDING = Path("audio_fixtures/caesarean_case.flac")


@dataclass(frozen=True)
class Options:
    """How a recording is run and shown."""

    recogniser: str = "embedded"
    as_json: bool = False
    real_time: bool = False
    readable: bool = False
    """Whether each line waits until it can be read."""
    voice: str | None = None
    """A kind of voice; None speaks only in real time."""
    say_to: Path | None = None
    """A file for what is said, instead of a loudspeaker."""
    board: Address | None = None
    """Where a wall board is shown meanwhile; None shows none."""


def replay(sheet_path: Path, recording: Path, journal: Path | None, options: Options) -> None:
    """Run a recording from its start into a new journal."""
    sheet = load_sheet(sheet_path)
    given = open_input(recording, options.recogniser)
    with ExitStack() as stack:
        run = _prepare(stack, sheet, load_grammars(sheet_path, sheet), given, options)
        clock = SystemClock()
        first = open_case(
            sheet,
            at=0.0,
            software=f"voicecount {__version__}",
            recogniser=run.recogniser_name,
            voice=run.voice.name if run.voice is not None else "none",
            told_apart=given.channels == len(TOLD_APART),
        )
        path = journal or new_path(sheet_path, clock)
        kept = stack.enter_context(Journal.create(path, first, CODEC, clock=clock))
        dialogue = Dialogue(sheet, told_apart=first.roles_told_apart)
        run(kept, dialogue, after=None)


def resume(
    sheet_path: Path, journal: Path, recording: Path | None, options: Options, *, new: bool
) -> None:
    """Go on with a journal; without a recording, tell only where the count stands.

    The recording is taken to be the one that was cut off: what ended before the last record is
    passed over. With ``new`` it is another one, and its times are put after the last record.
    """
    sheet = load_sheet(sheet_path)
    given = open_input(recording, options.recogniser) if recording is not None else None
    ledgers: list[Ledger] = []

    def check(events: tuple[Event, ...]) -> None:
        ledger = check_resumable(journal, events, sheet)
        if given is not None:
            check_channels(ledger, given.channels, given.path, "recording has {}; give one like it")
        ledgers.append(ledger)

    with ExitStack() as stack:
        kept = stack.enter_context(Journal.open(journal, CODEC, check=check))
        dialogue = Dialogue(sheet, told_apart=ledgers[0].told_apart, ledger=ledgers[0])
        last = max(event.at for event in kept.events)
        if given is None:
            _show_standing(kept, dialogue, last, options)
            return
        run = _prepare(stack, sheet, load_grammars(sheet_path, sheet), given, options)
        run(kept, dialogue, after=last, shift=last if new else 0.0)


def demo(
    *, fast: bool, whole: bool = False, voice: str | None = None, board: Address | None = None
) -> None:
    """Replay a caesarean's initial count, or a whole one, and say what to try next."""
    root = Path(__file__).resolve().parents[2]
    sheet = root / (CASE_SHEET if whole else DEMO_SHEET)
    recording = root / (CASE_RECORDING if whole else DEMO_RECORDING)
    if not recording.exists():
        raise UsageError(f"{recording}: the demo's recording is not there; run it from a clone")
    replay(sheet, recording, None, Options(readable=not fast, voice=voice, board=board))
    told = (
        "\nNext: voicecount verify JOURNAL, with the file named above; and what else can be said:\n"
        f"voicecount phrases {CASE_SHEET}"
        if whole
        else f"\nNext: voicecount check {DEMO_SHEET}; then copy the sheet, change a line, and try\n"
        f"voicecount hear --sheet {DEMO_SHEET} {DEMO_RECORDING}\n"
        "A whole case, with an addition, a change of people and a needle on the floor: make case"
    )
    console().print(told, markup=False, soft_wrap=True)


class _Run:
    """Everything that is the same for a new and for a resumed journal."""

    def __init__(
        self,
        grammars: Grammars,
        policy: Policy,
        given: Input,
        options: Options,
        *,
        voice: Voice | None,
        speaker: Speaker | None,
        clock: StoppableClock,
    ) -> None:
        self.voice = voice
        self._speaker = speaker
        self._clock = clock
        self._given = given
        self._options = options
        self._grammars = grammars
        self._policy = policy
        self._recogniser = recogniser_for(given, options.recogniser, grammars(), policy)
        self.recogniser_name = self._recogniser.name

    def __call__(
        self,
        journal: Journal[Event],
        dialogue: Dialogue,
        *,
        after: float | None,
        shift: float = 0.0,
    ) -> None:
        options = self._options
        seen = options.readable or options.real_time or options.board is not None
        with ExitStack() as stack:
            teller = stack.enter_context(told_now(journal.path)) if seen else None
            stack.enter_context(beside(journal.path, options.board))
            self._go(journal, dialogue, teller, after=after, shift=shift)

    def _go(
        self,
        journal: Journal[Event],
        dialogue: Dialogue,
        teller: NowTeller | None,
        *,
        after: float | None,
        shift: float,
    ) -> None:
        options = self._options
        pace: Clock | None = SystemClock() if options.readable else None
        roles = TOLD_APART if self._given.channels == len(TOLD_APART) else NOT_TOLD_APART
        if teller is not None:
            teller.by(self._policy, roles)
            pace = WatchedClock(pace, teller) if pace is not None else None
        conversation = Conversation(None if options.as_json else Printer(console(), pace))
        speaker = self._speaker
        if teller is not None and speaker is not None:
            speaker = WatchedSpeaker(speaker, teller)
        room = Room(
            dialogue,
            journal,
            MeantRecogniser(self._recogniser, dialogue, Voices()),
            self._grammars,
            roles=roles,
            voice=self.voice,
            speaker=speaker,
            observers=[conversation, *([] if teller is None else [teller])],
        )
        with (
            naming(journal.path),
            progress(
                "replay", self._given.seconds, shown=options.as_json and not sys.stdout.isatty()
            ) as done,
        ):
            if after is None:
                room.open()
            else:
                room.reopen(after)
            stream = self._given.stream(self._clock if options.real_time else None, done)
            if teller is not None:
                stream = teller.following(stream)
            room.run(shifted(stream, shift), after=after or 0.0)
        show_result(journal, dialogue.ledger, conversation, as_json=options.as_json)


def _prepare(
    stack: ExitStack, sheet: Sheet, grammars: Grammars, given: Input, options: Options
) -> _Run:
    clock = StoppableClock(SystemClock())
    voice: Voice | None = None
    speaker: Speaker | None = None
    if options.voice is not None or options.real_time or options.say_to is not None:
        voice = choose_voice(options.voice, together=sheet.ways, announce=notice)
    if voice is not None:
        if options.say_to is None:
            speaker = StandingSpeaker(DeviceSpeaker(), clock)
        else:
            speaker = stack.enter_context(FileSpeaker(options.say_to))
    elif options.say_to is not None:
        raise UsageError("--say-to needs a voice; leave out --voice none")
    return _Run(grammars, sheet.policy, given, options, voice=voice, speaker=speaker, clock=clock)


def _show_standing(
    journal: Journal[Event], dialogue: Dialogue, at: float, options: Options
) -> None:
    conversation = Conversation(None if options.as_json else Printer(console()))
    conversation.replied(at, dialogue.opening())
    show_result(journal, dialogue.ledger, conversation, as_json=options.as_json)


def show_result(
    journal: Journal[Event], ledger: Ledger, conversation: Conversation, *, as_json: bool
) -> None:
    """Show what stands at the end, and where the journal is."""
    if as_json:
        result = replay_object(ledger, conversation.lines, journal.path)
        print(json.dumps(result, indent=2))  # noqa: T201 - this is the output
        return
    out = console()
    out.print()
    further = ledger.count is not None and ledger.count.number > 1
    out.print(case_table(ledger) if further else tally_table(ledger))
    place = printable(str(journal.path))
    out.print(
        f"Journal: {place} (head {witness.digits(journal.head)})", markup=False, soft_wrap=True
    )


@contextmanager
def naming(journal: Path) -> Iterator[None]:
    """Add to whatever ends a run where everything acknowledged is."""
    try:
        yield
    except BaseException as error:
        error.add_note(
            f"everything acknowledged is in {journal}; go on with: voicecount resume {journal}"
        )
        raise
