"""Arguments of the commands that show something and count nothing, and those of the wall board."""

import argparse
from typing import TYPE_CHECKING, Any

from voicecount.cli_paths import path, to_write
from voicecount.errors import UsageError

if TYPE_CHECKING:
    from voicecount.board.address import Address

_Commands = argparse._SubParsersAction  # noqa: SLF001 - argparse gives it no other name


def add_checks(commands: "_Commands[Any]") -> None:
    """Add what is looked at before a case, and may be printed."""
    _add_check(commands)
    _add_policy(commands)
    _add_phrases(commands)


def add_journals(commands: "_Commands[Any]") -> None:
    """Add what reads a journal, and what tells about the program."""
    _add_verify(commands)
    _add_report(commands)
    _add_board(commands)
    _add_reasons(commands)
    _add_doctor(commands)


def _add_check(commands: "_Commands[Any]") -> None:
    parser = commands.add_parser("check", help="check a count sheet and show it as a table")
    parser.add_argument("sheet", type=path, metavar="SHEET")
    parser.set_defaults(run=_check)


def _add_policy(commands: "_Commands[Any]") -> None:
    parser = commands.add_parser(
        "policy", help="print the policy with its reasons, to be kept beside the sheets"
    )
    parser.add_argument(
        "sheet", type=path, nargs="?", metavar="SHEET", help="print what holds for this sheet"
    )
    parser.add_argument("--markdown", action="store_true", help="as the text of docs/policy.md")
    parser.set_defaults(run=_policy)


def _add_phrases(commands: "_Commands[Any]") -> None:
    parser = commands.add_parser("phrases", help="show everything that can be said")
    parser.add_argument(
        "sheet", type=path, nargs="?", metavar="SHEET", help="with this sheet's counts and people"
    )
    parser.add_argument("--markdown", action="store_true", help="as the text of docs/phrases.md")
    parser.set_defaults(run=_phrases)


def _add_verify(commands: "_Commands[Any]") -> None:
    parser = commands.add_parser("verify", help="check that a journal is whole; changes nothing")
    parser.add_argument("journal", type=path, metavar="JOURNAL")
    parser.add_argument(
        "--witness",
        action="append",
        default=[],
        metavar="DIGITS",
        help="eight digits that people wrote down, as digits or as words in quotes",
    )
    parser.set_defaults(run=_verify)


def _add_report(commands: "_Commands[Any]") -> None:
    parser = commands.add_parser(
        "report",
        help="make the record of a case, to be read, printed, signed or exported",
        description="Makes the record of a case from its journal, or the figures of all journals "
        "in a folder. With none of the options that name a file or print, an HTML file and a PDF "
        "are put beside the journal. The journal is only read.",
    )
    parser.add_argument(
        "journal", type=path, metavar="JOURNAL", help="a journal, or a folder of journals"
    )
    parser.add_argument("--html", type=to_write, metavar="FILE", help="the record for a screen")
    parser.add_argument("--pdf", type=to_write, metavar="FILE", help="the record for paper")
    parser.add_argument(
        "--paper", choices=("a4", "letter"), default="a4", help="what it is printed on"
    )
    parser.add_argument(
        "--csv",
        type=to_write,
        metavar="FILE",
        help="a row for each item of each count, or each case",
    )
    parser.add_argument("--json", action="store_true", help="print all of it as JSON")
    parser.add_argument(
        "--fhir", action="store_true", help="print it as an HL7 FHIR R4 document; of one case"
    )
    parser.add_argument(
        "--given",
        action="append",
        default=[],
        metavar="LABEL=TEXT",
        help="what the case is told by, as in Theatre=4; may be given more than once",
    )
    parser.set_defaults(run=_report)


def _add_board(commands: "_Commands[Any]") -> None:
    parser = commands.add_parser("board", help="show a journal's count on a wall board")
    parser.add_argument("journal", type=path, metavar="JOURNAL")
    add_address(parser)
    parser.set_defaults(run=_board)


def add_address(parser: argparse.ArgumentParser) -> None:
    """Add where a board listens."""
    parser.add_argument(
        "--listen",
        default="127.0.0.1",
        metavar="ADDRESS",
        help="an address of this machine that the network may ask; makes a token",
    )
    parser.add_argument("--port", type=_port, default=8460, help="0 takes any that is free")
    parser.add_argument(
        "--name",
        action="append",
        default=[],
        help="a further name of this machine, by which a browser may ask for the board",
    )
    parser.add_argument(
        "--token",
        type=to_write,
        metavar="FILE",
        help="keep the token there, so that whoever watches goes on when the board begins again",
    )


def _port(text: str) -> int:
    """Read a port (RFC 9293, 3.1: 16 bits)."""
    if not (text.isascii() and text.isdigit() and int(text[:6]) < 1 << 16):
        raise argparse.ArgumentTypeError(f"{text!r} is not from 0 to 65535")
    return int(text)


def add_with_board(parser: argparse.ArgumentParser) -> None:
    """Add a board beside another command."""
    parser.add_argument("--board", action="store_true", help="show a wall board meanwhile")
    add_address(parser)


def address(arguments: argparse.Namespace) -> "Address":
    """Give where the board listens."""
    from voicecount.board.address import Address  # noqa: PLC0415

    return Address(arguments.listen, arguments.port, tuple(arguments.name), arguments.token)


def with_board(arguments: argparse.Namespace) -> "Address | None":
    """Give the same, or None where no board is wanted. What is wrong is told before a count."""
    from voicecount.board.address import Address  # noqa: PLC0415
    from voicecount.board.kept_token import kept_token  # noqa: PLC0415

    found = address(arguments)
    if not arguments.board:
        if found != Address():
            raise UsageError(
                "--listen, --port, --name and --token are for a board; add --board, or leave them "
                "out"
            )
        return None
    if found.token_file is not None:
        kept_token(found.token_file)
    return found


def _add_reasons(commands: "_Commands[Any]") -> None:
    parser = commands.add_parser("reasons", help="show all codes with their meanings")
    parser.add_argument("--markdown", action="store_true", help="as the text of docs/reasons.md")
    parser.set_defaults(run=_reasons)


def _add_doctor(commands: "_Commands[Any]") -> None:
    parser = commands.add_parser("doctor", help="check that this machine has what a case needs")
    parser.add_argument("--json", action="store_true", help="one JSON object at the end")
    parser.set_defaults(run=_doctor)


# Each command loads its parts when it runs, so that the help and the errors come at once.


def _check(arguments: argparse.Namespace) -> None:
    from voicecount.sheet.load import load_sheet  # noqa: PLC0415
    from voicecount.sheet.table import sheet_table  # noqa: PLC0415
    from voicecount.show.console import console  # noqa: PLC0415

    console().print(sheet_table(load_sheet(arguments.sheet)))


def _policy(arguments: argparse.Namespace) -> None:
    from voicecount.sheet.load import load_sheet  # noqa: PLC0415
    from voicecount.sheet.policy_file import markdown, policy_text  # noqa: PLC0415

    policy = None if arguments.sheet is None else load_sheet(arguments.sheet).policy
    text = markdown() if arguments.markdown else policy_text(policy)
    print(text, end="")  # noqa: T201 - this is the output


def _phrases(arguments: argparse.Namespace) -> None:
    from voicecount.commands.phrases import phrases  # noqa: PLC0415

    phrases(arguments.sheet, as_markdown=arguments.markdown)


def _verify(arguments: argparse.Namespace) -> None:
    from voicecount.commands.verify import verify  # noqa: PLC0415

    verify(arguments.journal, arguments.witness)


def _report(arguments: argparse.Namespace) -> None:
    from voicecount.commands.report import Options, report  # noqa: PLC0415

    report(
        arguments.journal,
        Options(
            html=arguments.html,
            pdf=arguments.pdf,
            csv=arguments.csv,
            paper=arguments.paper,
            as_json=arguments.json,
            as_fhir=arguments.fhir,
            given=tuple(arguments.given),
        ),
    )


def _board(arguments: argparse.Namespace) -> None:
    from voicecount.commands.board import board  # noqa: PLC0415

    board(arguments.journal, address(arguments))


def _reasons(arguments: argparse.Namespace) -> None:
    from voicecount.commands.reasons import reasons  # noqa: PLC0415

    reasons(as_markdown=arguments.markdown)


def _doctor(arguments: argparse.Namespace) -> None:
    from voicecount.commands.doctor import doctor  # noqa: PLC0415

    doctor(as_json=arguments.json)
