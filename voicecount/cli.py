"""Arguments to commands; errors to one line and an exit code.

Exit codes: 0 done; 2 something a person can act on, told in one line; 130 stopped by a key;
1 an error that nobody foresaw, or an output that was closed.
"""

import argparse
import errno
import math
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NoReturn

from voicecount import __version__
from voicecount.cli_drill import add_drill
from voicecount.cli_paths import path, to_write
from voicecount.cli_show import add_checks, add_journals, add_with_board, with_board
from voicecount.errors import UsageError, VoicecountError
from voicecount.show.console import printable

# The heads multiply small matrices: threads for that only get in each other's way.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

if TYPE_CHECKING:
    from voicecount.commands.replay import Options

DEBUG = "VOICECOUNT_DEBUG"
"""Set to 1 to see where an unforeseen error came from."""

_FULL = frozenset({errno.ENOSPC, errno.EDQUOT})
_RECOGNISERS = ("embedded", "vosk", "both", "typed")
_SPOKEN = ("all", "needed", "tones")
_VOICES = ("none", "embedded", "system")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit code."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # an old terminal shows "?" and nothing fails
    try:
        parsed = _parse(arguments)
        parsed.run(parsed)
        sys.stdout.flush()
    except VoicecountError as error:
        return _fail(2, str(error))
    except KeyboardInterrupt as error:
        return _fail(130, "; ".join(["stopped by a key", *_notes(error)]))
    except BrokenPipeError:
        _close_output()  # nobody reads any more
        return 1
    except Exception as error:  # noqa: BLE001 - the last line of defence
        if isinstance(error, OSError) and error.errno in _FULL:
            _close_output()
            what = f"{error.filename or 'the output'}: no space is left to write it"
            return _fail(2, "; ".join([what, *_notes(error), "make room and call it again"]))
        if os.environ.get(DEBUG) == "1":
            traceback.print_exc()
        what = f"an error in the program ({type(error).__name__}: {error})"
        hint = f"set {DEBUG}=1 to see where"
        return _fail(1, "; ".join([what, *_notes(error), hint]))
    return 0


def _close_output() -> None:
    """Keep the interpreter from complaining when it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class _Parser(argparse.ArgumentParser):
    """A parser whose errors are one line like all others."""

    def error(self, message: str) -> NoReturn:
        raise UsageError(f"{message}; see {self.prog} --help")


def _parse(arguments: Sequence[str] | None) -> argparse.Namespace:
    """Read the arguments; a recording to resume with may stand before or after the options."""
    parser = _parser()
    parsed, rest = parser.parse_known_args(arguments)
    late = parsed.command == "resume" and parsed.recording is None and len(rest) == 1
    if late and not rest[0].startswith("-"):
        try:
            parsed.recording = path(rest[0])
        except argparse.ArgumentTypeError as error:
            parser.error(f"argument RECORDING: {error}")
    elif rest:
        parser.error(f"unrecognized arguments: {' '.join(rest)}")
    return parsed


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="voicecount",
        description="Hear a surgical count, keep it, read it back. Research and teaching software; "
        "the two people decide.",
    )
    parser.add_argument("--version", action="version", version=f"voicecount {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    add_checks(commands)
    _add_hear(commands)
    _add_replay(commands)
    _add_resume(commands)
    _add_run(commands)
    _add_demo(commands)
    _add_rehearse(commands)
    add_journals(commands)
    add_drill(commands)
    return parser


_Commands = argparse._SubParsersAction  # noqa: SLF001 - argparse gives it no other name


def _add_hear(commands: "_Commands[_Parser]") -> None:
    parser = commands.add_parser("hear", help="show what is understood in sound files")
    _add_sheet(parser)
    parser.add_argument("--json", action="store_true", help="one JSON object an utterance")
    parser.add_argument(
        "--places", action="store_true", help="hear as in a count that goes place by place"
    )
    _add_recogniser(parser)
    parser.add_argument("files", type=path, nargs="+", metavar="FILE")
    parser.set_defaults(run=_hear)


def _add_replay(commands: "_Commands[_Parser]") -> None:
    parser = commands.add_parser("replay", help="run the whole dialogue on a recording")
    _add_sheet(parser)
    parser.add_argument("--journal", type=path, metavar="FILE", help="where to keep the journal")
    _add_running(parser)
    parser.add_argument("recording", type=path, metavar="RECORDING")
    parser.set_defaults(run=_replay)


def _add_resume(commands: "_Commands[_Parser]") -> None:
    parser = commands.add_parser("resume", help="go on with a journal after a stop")
    parser.add_argument("journal", type=path, metavar="JOURNAL")
    _add_sheet(parser)
    _add_running(parser)
    parser.add_argument(
        "--new",
        action="store_true",
        help="RECORDING is another one, not the one that was cut off",
    )
    parser.add_argument("recording", type=path, nargs="?", metavar="RECORDING")
    parser.set_defaults(run=_resume)


def _add_run(commands: "_Commands[_Parser]") -> None:
    parser = commands.add_parser("run", help="run a case with microphones and a loudspeaker")
    parser.add_argument("sheet", type=path, metavar="SHEET", help="a count sheet")
    parser.add_argument("--journal", type=path, metavar="FILE", help="where to keep the journal")
    parser.add_argument("--resume", action="store_true", help="go on with that journal")
    parser.add_argument(
        "--microphone",
        action="append",
        metavar="NAME",
        help="a part of the microphone's name; given twice, each person has one",
    )
    parser.add_argument("--loudspeaker", metavar="NAME", help="a part of the loudspeaker's name")
    parser.add_argument(
        "--one-channel", action="store_true", help="one microphone: the turn tells who speaks"
    )
    parser.add_argument("--no-sound-check", action="store_true", help="begin without it")
    parser.add_argument(
        "--keyboard", action="store_true", help="typed lines count as said by the circulator"
    )
    parser.add_argument(
        "--from", dest="from_file", type=path, metavar="FILE", help="a recording as the microphone"
    )
    parser.add_argument("--voice", choices=_VOICES, help="the kind of voice that answers")
    parser.add_argument(
        "--spoken", choices=_SPOKEN, help="how much is spoken; kept for the next case"
    )
    parser.add_argument(
        "--voice-rate",
        type=_within(0.7, 1.5),
        metavar="TIMES",
        help="how fast it speaks, 0.7 to 1.5 times its own pace; kept for the next case",
    )
    parser.add_argument(
        "--voice-loudness",
        type=_within(-20.0, 10.0),
        metavar="DB",
        help="how loud it speaks, -20 to 10 dB louder than usual; kept for the next case",
    )
    parser.add_argument("--json", action="store_true", help="one JSON object at the end")
    _add_recogniser(parser)
    add_with_board(parser)
    parser.set_defaults(run=_run)


def _within(least: float, most: float) -> Callable[[str], float]:
    """Give what reads a number between two bounds."""

    def number(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not least <= value <= most:
            raise argparse.ArgumentTypeError(f"{text!r} is not from {least:g} to {most:g}")
        return value

    return number


def _add_demo(commands: "_Commands[_Parser]") -> None:
    parser = commands.add_parser("demo", help="replay the demo's count")
    parser.add_argument("--fast", action="store_true", help="do not wait for readers")
    parser.add_argument(
        "--whole", action="store_true", help="a whole case, from the first count to the last"
    )
    parser.add_argument("--voice", choices=_VOICES, help="speak the answers, too")
    add_with_board(parser)
    parser.set_defaults(run=_demo)


def _add_rehearse(commands: "_Commands[_Parser]") -> None:
    parser = commands.add_parser(
        "rehearse", help="learn a sheet's names, and show what sounds alike"
    )
    parser.add_argument("sheet", type=path, metavar="SHEET")
    parser.add_argument("--page", type=to_write, metavar="FILE", help="where to write the page")
    parser.add_argument(
        "--listen",
        type=path,
        nargs="+",
        default=[],
        metavar="FILE",
        help="learn from a person's own three sayings of a name instead",
    )
    parser.add_argument("--item", metavar="NAME", help="the name that is said in these files")
    parser.add_argument(
        "--forget", metavar="NAME", help="forget what was learned of a name, or all"
    )
    parser.add_argument("--json", action="store_true", help="one JSON object at the end")
    parser.set_defaults(run=_rehearse)


def _add_sheet(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--sheet", type=path, required=True, metavar="SHEET", help="a count sheet")


def _add_recogniser(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--recogniser",
        choices=_RECOGNISERS,
        default=_RECOGNISERS[0],
        help="embedded needs nothing more; vosk needs its model; both must agree; typed reads text",
    )


def _add_running(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="one JSON object at the end")
    _add_recogniser(parser)
    parser.add_argument("--real-time", action="store_true", help="as slow as it was recorded")
    add_with_board(parser)
    parser.add_argument("--voice", choices=_VOICES, help="speak the answers with this voice")
    parser.add_argument("--say-to", type=path, metavar="WAV", help="keep what is said as a file")


# Each command loads its parts when it runs, so that the help and the errors come at once.


def _hear(arguments: argparse.Namespace) -> None:
    from voicecount.commands.hear import hear  # noqa: PLC0415

    hear(
        arguments.sheet,
        arguments.files,
        recogniser=arguments.recogniser,
        as_json=arguments.json,
        places=arguments.places,
    )


def _options(arguments: argparse.Namespace) -> "Options":
    from voicecount.commands.replay import Options  # noqa: PLC0415

    return Options(
        recogniser=arguments.recogniser,
        as_json=arguments.json,
        real_time=arguments.real_time,
        voice=arguments.voice,
        say_to=arguments.say_to,
        board=with_board(arguments),
    )


def _replay(arguments: argparse.Namespace) -> None:
    from voicecount.commands.replay import replay  # noqa: PLC0415

    replay(arguments.sheet, arguments.recording, arguments.journal, _options(arguments))


def _run(arguments: argparse.Namespace) -> None:
    from voicecount.commands.ears import Wanted  # noqa: PLC0415
    from voicecount.commands.run import Options, run  # noqa: PLC0415
    from voicecount.keep.settings import Spoken  # noqa: PLC0415

    run(
        arguments.sheet,
        Options(
            journal=arguments.journal,
            resume=arguments.resume,
            recogniser=arguments.recogniser,
            voice=arguments.voice,
            wanted=Wanted(
                tuple(arguments.microphone or ()),
                arguments.loudspeaker,
                arguments.one_channel,
                arguments.from_file,
            ),
            sound_check=not arguments.no_sound_check,
            spoken=None if arguments.spoken is None else Spoken(arguments.spoken),
            voice_rate=arguments.voice_rate,
            voice_loudness=arguments.voice_loudness,
            keyboard=arguments.keyboard,
            as_json=arguments.json,
            board=with_board(arguments),
        ),
    )


def _resume(arguments: argparse.Namespace) -> None:
    from voicecount.commands.replay import resume  # noqa: PLC0415

    resume(
        arguments.sheet,
        arguments.journal,
        arguments.recording,
        _options(arguments),
        new=arguments.new,
    )


def _demo(arguments: argparse.Namespace) -> None:
    from voicecount.commands.replay import demo  # noqa: PLC0415

    demo(
        fast=arguments.fast,
        whole=arguments.whole,
        voice=arguments.voice,
        board=with_board(arguments),
    )


def _rehearse(arguments: argparse.Namespace) -> None:
    from voicecount.commands.rehearse import Options, rehearse  # noqa: PLC0415

    rehearse(
        arguments.sheet,
        Options(
            page=arguments.page,
            listen=tuple(arguments.listen),
            item=arguments.item,
            forget=arguments.forget,
            as_json=arguments.json,
        ),
    )


def _notes(error: BaseException) -> list[str]:
    return list(getattr(error, "__notes__", []))


def _fail(code: int, message: str) -> int:
    print(f"voicecount: {printable(' '.join(message.split()))}", file=sys.stderr)  # noqa: T201
    return code


if __name__ == "__main__":
    sys.exit(main())
