"""Arguments of ``voicecount drill``: practice for students, and what an instructor sees of it."""

import argparse
from typing import Any

from voicecount.cli_paths import given, path, to_write

_Commands = argparse._SubParsersAction  # noqa: SLF001 - argparse gives it no other name

_VOICES = ("none", "embedded", "system")


def add_drill(commands: "_Commands[Any]") -> None:
    """Add the command with all that it can do."""
    parser = commands.add_parser(
        "drill",
        help="practise calling a count, and see how it went",
        description="Practice and teaching only: an instructor judges, and nothing here says "
        "anything about a patient. Recordings stay on this machine.",
    )
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True)
    _add_list(actions)
    _add_start(actions)
    _add_judge(actions)
    _add_page(actions)
    _add_progress(actions)
    _add_grade(actions)
    _add_new(actions)
    _add_forget(actions)


def _add_list(actions: "_Commands[Any]") -> None:
    parser = actions.add_parser("list", help="show the drills, or the attempts of a folder")
    parser.add_argument("folder", type=path, nargs="?", metavar="FOLDER")
    _add_student(parser)
    parser.set_defaults(run=_list)


def _add_start(actions: "_Commands[Any]") -> None:
    parser = actions.add_parser("start", help="do a drill with a microphone")
    _add_drill(parser)
    _add_student(parser)
    _add_to(parser)
    parser.add_argument(
        "--from", dest="from_file", type=path, metavar="FILE", help="a recording as the student"
    )
    parser.add_argument(
        "--fast", action="store_true", help="with --from: as fast as it can be heard"
    )
    parser.add_argument("--microphone", metavar="NAME", help="a part of the microphone's name")
    parser.add_argument("--loudspeaker", metavar="NAME", help="a part of the loudspeaker's name")
    parser.add_argument("--voice", choices=_VOICES, help="the kind of voice that is the partner")
    parser.add_argument("--quiet", action="store_true", help="do not speak the summary at the end")
    parser.set_defaults(run=_start)


def _add_judge(actions: "_Commands[Any]") -> None:
    parser = actions.add_parser(
        "judge",
        help="judge a recording that is handed in",
        description="Judges a recording of one student. Where RECORDING.said.json lies beside it, "
        "the times of the partner's words are read from there.",
    )
    _add_drill(parser)
    parser.add_argument("recording", type=path, metavar="RECORDING")
    _add_student(parser)
    _add_to(parser)
    parser.add_argument("--json", action="store_true", help="print the judgement as JSON")
    parser.set_defaults(run=_judge)


def _add_page(actions: "_Commands[Any]") -> None:
    parser = actions.add_parser("page", help="judge an attempt anew, and make its page again")
    parser.add_argument("attempt", type=path, metavar="FOLDER_OF_ATTEMPT")
    parser.set_defaults(run=_page)


def _add_progress(actions: "_Commands[Any]") -> None:
    parser = actions.add_parser("progress", help="make a page over all attempts of a folder")
    parser.add_argument("folder", type=path, metavar="FOLDER")
    _add_student(parser)
    parser.add_argument("--out", type=to_write, metavar="FILE", help="where to write the page")
    parser.set_defaults(run=_progress)


def _add_grade(actions: "_Commands[Any]") -> None:
    parser = actions.add_parser("grade", help="judge a whole class at once")
    parser.add_argument("folder", type=path, metavar="FOLDER")
    parser.add_argument(
        "--drill", type=given, metavar="DRILL", help="the drill of recordings that do not say which"
    )
    parser.add_argument(
        "--workers", type=_at_least_one, metavar="N", help="processes; all cores by default"
    )
    parser.add_argument("--cluster", metavar="ADDRESS", help="a Dask scheduler of the school")
    parser.add_argument("--csv", type=to_write, metavar="FILE", help="the class as a table")
    parser.add_argument(
        "--csv-findings", type=to_write, metavar="FILE", help="every finding as a table"
    )
    parser.add_argument("--page", type=to_write, metavar="FILE", help="the class as a page")
    parser.add_argument(
        "--to", type=path, metavar="FOLDER", help="where results are kept, else inside FOLDER"
    )
    parser.add_argument("--json", action="store_true", help="print the class as JSON")
    parser.add_argument("--again", action="store_true", help="judge also what was judged before")
    parser.set_defaults(run=_grade)


def _add_new(actions: "_Commands[Any]") -> None:
    parser = actions.add_parser("new", help="make a drill from a count sheet")
    parser.add_argument("sheet", type=path, metavar="SHEET")
    parser.add_argument("--to", type=path, metavar="FOLDER", help="where the drill is put")
    parser.add_argument(
        "--task",
        choices=("first_count", "addition", "closing_count", "confirm"),
        help="what the student does",
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="another proposal")
    parser.add_argument("--voice", choices=_VOICES, help="the voice of the partner's sound")
    parser.set_defaults(run=_new)


def _add_forget(actions: "_Commands[Any]") -> None:
    parser = actions.add_parser(
        "forget", help="remove the attempts of one student, or of all, with their recordings"
    )
    parser.add_argument("folder", type=path, metavar="FOLDER")
    _add_student(parser)
    parser.add_argument(
        "--recordings", action="store_true", help="of a class: also what was handed in"
    )
    parser.set_defaults(run=_forget)


def _add_drill(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "drill", type=given, metavar="DRILL", help="the name of a drill, or its file"
    )


def _add_student(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--student", metavar="CODE", help="a code instead of a name: small letters, digits, '-'"
    )


def _add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--to", type=path, metavar="FOLDER", help="where attempts are kept")


def _at_least_one(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text[:6]) > 0):
        raise argparse.ArgumentTypeError(f"{text!r} is no number from 1 on")
    return int(text)


# Each action loads its parts when it runs, so that the help and the errors come at once.


def _list(arguments: argparse.Namespace) -> None:
    from voicecount.commands.drill import list_  # noqa: PLC0415

    list_(arguments.folder, arguments.student)


def _start(arguments: argparse.Namespace) -> None:
    from voicecount.commands.drill import Whose  # noqa: PLC0415
    from voicecount.commands.drill_start import Options, start  # noqa: PLC0415

    start(
        arguments.drill,
        Options(
            Whose(arguments.student, arguments.to),
            microphone=arguments.microphone,
            loudspeaker=arguments.loudspeaker,
            from_file=arguments.from_file,
            fast=arguments.fast,
            voice=arguments.voice,
            summary=not arguments.quiet,
        ),
    )


def _judge(arguments: argparse.Namespace) -> None:
    from voicecount.commands.drill import Whose, judge  # noqa: PLC0415

    whose = Whose(arguments.student, arguments.to)
    judge(arguments.drill, arguments.recording, whose, as_json=arguments.json)


def _page(arguments: argparse.Namespace) -> None:
    from voicecount.commands.drill import page  # noqa: PLC0415

    page(arguments.attempt)


def _progress(arguments: argparse.Namespace) -> None:
    from voicecount.commands.drill_progress import progress  # noqa: PLC0415

    progress(arguments.folder, arguments.student, arguments.out)


def _grade(arguments: argparse.Namespace) -> None:
    from voicecount.commands.drill_grade import GradeOptions, grade  # noqa: PLC0415

    grade(
        arguments.folder,
        GradeOptions(
            drill=arguments.drill,
            workers=arguments.workers,
            cluster=arguments.cluster,
            csv=arguments.csv,
            csv_findings=arguments.csv_findings,
            page=arguments.page,
            as_json=arguments.json,
            again=arguments.again,
            to=arguments.to,
        ),
    )


def _new(arguments: argparse.Namespace) -> None:
    from voicecount.commands.drill_new import new  # noqa: PLC0415

    new(
        arguments.sheet,
        arguments.to,
        task=arguments.task,
        seed=arguments.seed,
        voice=arguments.voice,
    )


def _forget(arguments: argparse.Namespace) -> None:
    from voicecount.commands.drill import forget  # noqa: PLC0415

    forget(arguments.folder, arguments.student, recordings=arguments.recordings)
