"""The commands: arguments in, problems and an exit code out."""

import argparse
import datetime as dt
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from sitegen import __version__
from sitegen.desk.telling import Teller, print_problems, standing
from sitegen.exit_codes import AT_FAULT, FINE, STOPPED, WRONG_USE
from sitegen.pipeline.unchanged import SUFFIX
from sitegen.terminal import give, harmless, tell

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction["_Parser"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command. Everything heavy is imported by the command that needs it.

    Raises OutputLost or BrokenPipeError where what the command gives can't be written.
    """
    # Charts are drawn into files; a window that the drawing library doesn't know would stop it.
    os.environ.pop("MPLBACKEND", None)
    parsed = _parser().parse_args(arguments)
    run: Callable[[argparse.Namespace], int] = parsed.run
    try:
        return run(parsed)
    except KeyboardInterrupt:
        tell(f"\nstopped; {standing()}\n")
        return STOPPED


class _Parser(argparse.ArgumentParser):
    """The parser of the commands, and of each one's arguments."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong with the arguments, which may hold anything."""
        super().error(harmless(message))


def _parser() -> _Parser:
    parser = _Parser(prog="sitegen", description="From a folder of text files to a review site in several languages.")
    parser.add_argument("--version", action="version", version=f"sitegen {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    build = commands.add_parser("build", help="make the site", description="Make the site of a publication.")
    _add_folder(build)
    build.add_argument(
        "--to", metavar="DIR", type=Path, help=f"where the site goes (default: FOLDER{SUFFIX} beside the folder)"
    )
    _add_date(build)
    build.add_argument("--quiet", action="store_true", help="print problems only")
    hands = build.add_mutually_exclusive_group()
    hands.add_argument(
        "--workers",
        type=int,
        metavar="N",
        help="how many processes make pages (default: two where there is enough to do)",
    )
    hands.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="let the workers of a running cluster make pages, such as tcp://10.0.0.5:8786; they see the same folders",
    )
    build.set_defaults(run=_build)
    check = commands.add_parser(
        "check", help="find mistakes without making anything", description="Find mistakes in a publication."
    )
    _add_folder(check)
    check.add_argument("--quiet", action="store_true", help="print problems only")
    check.set_defaults(run=_check)
    _add_findings(commands)
    _add_sheet(commands)
    _add_editions(commands)
    _add_addresses(commands)
    return parser


def _add_date(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--date", type=_day, metavar="DAY",
        help="the date that embargoes and publication dates are checked against, such as 2026-11-25 (default: today)",
    )  # fmt: skip


def _day(text: str) -> dt.date:
    try:
        return dt.datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise argparse.ArgumentTypeError(f"expected a day such as 2026-11-25, found '{text}'") from None


def _add_addresses(commands: "Commands") -> None:
    addresses = commands.add_parser(
        "addresses", help="show page addresses and keep them stable",
        description="Show where the pages of texts and rounds stand. Recorded addresses stay when a title changes, and former ones lead on.",
    )  # fmt: skip
    _add_folder(addresses)
    addresses.add_argument("--record", action="store_true", help="write addresses.yaml beside the texts")
    addresses.add_argument(
        "--renamed",
        action="append",
        default=[],
        metavar="KIND/OLD=NEW",
        help="a page whose id was changed, such as review/tarn=tarn-3",
    )
    _add_date(addresses)
    addresses.set_defaults(run=_addresses)


def _add_editions(commands: "Commands") -> None:
    editions = commands.add_parser(
        "editions", help="which translations follow the lead; worksheets for translators",
        description="Show which paragraphs of the lead each translation follows, record it, send texts out for translation and take them back.",
    )  # fmt: skip
    _add_folder(editions)
    editions.add_argument(
        "--text",
        action="append",
        metavar="TEXT",
        help="only this text, such as reviews/halde; may be given several times",
    )
    one = editions.add_mutually_exclusive_group()
    one.add_argument("--json", action="store_true", help="the same for machines")
    one.add_argument(
        "--record", action="store_true",
        help="record what each translation follows: all of it where nothing is recorded yet, else what was changed since; "
        "with --text all of that text",
    )  # fmt: skip
    one.add_argument(
        "--export", metavar="DIR", type=Path, dest="export_to", help="write worksheets (PO and XLIFF 2.1) to a folder"
    )
    one.add_argument(
        "--import", metavar="DIR", type=Path, dest="import_from", help="take worksheets back: a folder, or one file"
    )
    one.add_argument("--memory", metavar="FILE", type=Path, help="write all translations as a translation memory (TMX)")
    one.add_argument(
        "--terms", action="store_true", help="list paragraphs that use a term of the glossary in one language only"
    )
    editions.set_defaults(run=_editions)


def _add_findings(commands: "Commands") -> None:
    findings = commands.add_parser(
        "findings", help="print what the readings support", description="Print the findings of a round or a review."
    )
    findings.add_argument(
        "name", metavar="ROUND|REVIEW", nargs="?", default="", help="a round or a review (default: all rounds)"
    )
    _add_folder(findings, option=True)
    findings.add_argument("--json", action="store_true", help="print JSON")
    findings.set_defaults(run=_findings)


def _add_sheet(commands: "Commands") -> None:
    sheet = commands.add_parser(
        "sheet", help="make bench sheets for a round",
        description="Make bench sheets to print and tables to fill in, with blind codes in a balanced order. "
        "Writes the key of the codes into the round's folder, once.",
    )  # fmt: skip
    sheet.add_argument("round", metavar="ROUND", help="the round")
    _add_folder(sheet, option=True)
    sheet.add_argument(
        "--seed", type=int, metavar="N", help="where codes and order come from (default: as recorded, else 1)"
    )
    sheet.add_argument("--language", metavar="TAG", default="", help="the language of the sheets (default: the lead)")
    sheet.add_argument(
        "--to", metavar="DIR", type=Path, help="where the sheets go (default: FOLDER_sheets/ROUND beside the folder)"
    )
    sheet.set_defaults(run=_sheet)


def _add_folder(command: argparse.ArgumentParser, *, option: bool = False) -> None:
    if option:
        command.add_argument(
            "--in",
            dest="folder",
            metavar="FOLDER",
            type=Path,
            default=Path("."),
            help="the publication (default: here)",
        )
        return
    command.add_argument(
        "folder", metavar="FOLDER", nargs="?", type=Path, default=Path("."), help="the publication (default: here)"
    )


def _folder_of(parsed: argparse.Namespace) -> Path | None:
    folder: Path = parsed.folder
    if folder.is_dir():
        return folder
    if folder.exists():
        tell(f"sitegen: '{folder}' is a file; name the folder that holds the publication\n")
    else:
        tell(f"sitegen: there is no folder '{folder}'\n")
    return None


def _build(parsed: argparse.Namespace) -> int:
    folder = _folder_of(parsed)
    if folder is None:
        return WRONG_USE
    from sitegen.desk.build_command import build_site

    return build_site(parsed, folder)


def _editions(parsed: argparse.Namespace) -> int:
    folder = _folder_of(parsed)
    if folder is None:
        return WRONG_USE
    from sitegen.desk.editions_command import run
    from sitegen.desk.write_source import NotWritten

    try:
        return run(parsed, folder)
    except NotWritten as fault:
        return _not_written(fault)


def _addresses(parsed: argparse.Namespace) -> int:
    folder = _folder_of(parsed)
    if folder is None:
        return WRONG_USE
    from sitegen.desk.addresses_command import Refused, addresses
    from sitegen.desk.write_source import NotWritten

    try:
        text, problems = addresses(folder, parsed.date or dt.date.today(), tuple(parsed.renamed), record=parsed.record)
    except Refused as refused:
        tell(f"sitegen: {refused}\n")
        return WRONG_USE
    except NotWritten as fault:
        return _not_written(fault)
    except OSError as fault:
        tell(f"sitegen: the addresses could not be recorded: {fault}\n")
        return AT_FAULT
    if print_problems(folder, problems) == AT_FAULT:
        return AT_FAULT
    give(f"{text}\n")
    return FINE


def _check(parsed: argparse.Namespace) -> int:
    folder = _folder_of(parsed)
    if folder is None:
        return WRONG_USE
    from sitegen.disk.cache_folder import cache_file
    from sitegen.pipeline.build import check

    teller = Teller(sys.stderr, parsed.quiet)
    store = cache_file("sqlite", str(folder))
    try:
        problems = check(folder, teller, Path(store) if store else None)
    finally:
        teller.end()
    if not parsed.quiet and not len(problems):
        give("no problems found\n")
    return print_problems(folder, problems)


def _findings(parsed: argparse.Namespace) -> int:
    folder = _folder_of(parsed)
    if folder is None:
        return WRONG_USE
    from sitegen.desk.findings_command import UnknownName, findings_text

    try:
        text, problems = findings_text(folder, parsed.name, as_json=parsed.json)
    except UnknownName as unknown:
        tell(f"sitegen: {unknown}\n")
        return WRONG_USE
    if print_problems(folder, problems) == AT_FAULT:
        return AT_FAULT
    give(f"{text}\n")
    return FINE


def _sheet(parsed: argparse.Namespace) -> int:
    folder = _folder_of(parsed)
    if folder is None:
        return WRONG_USE
    from sitegen.desk.sheet_command import Refused, write_sheets
    from sitegen.desk.write_source import NotWritten

    source = folder.resolve()
    to = parsed.to or source.with_name(f"{source.name}_sheets") / parsed.round
    try:
        told, key, problems = write_sheets(folder, parsed.round, parsed.seed, parsed.language, to)
    except Refused as refused:
        tell(f"sitegen: {refused}\n")
        return WRONG_USE
    except NotWritten as fault:
        return _not_written(fault)
    except OSError as fault:
        tell(f"sitegen: the sheets could not be written: {fault}\n")
        return AT_FAULT
    if print_problems(folder, problems) == AT_FAULT:
        return AT_FAULT
    give("\n".join([*told, f"the files are in {to}; the key of the codes is {key}: keep it from whoever grades\n"]))
    return FINE


def _not_written(fault: Exception) -> int:
    tell(f"sitegen: '{fault}' was changed meanwhile by another program, and left as it is; say it again\n")
    return AT_FAULT
