"""The commands: arguments in, problems and an exit code out.

Exit codes: 0 fine, 1 problems in the publication, 2 wrong use. A fault of the tool itself stays a traceback.
"""

import argparse
import datetime as dt
import gc
import os
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from sitegen import __version__

if TYPE_CHECKING:
    from sitegen.build import Built
    from sitegen.problems import Problems

    Commands = argparse._SubParsersAction[argparse.ArgumentParser]

FINE, AT_FAULT, WRONG_USE = 0, 1, 2
SUFFIX = "_built"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command. Everything heavy is imported by the command that needs it."""
    parsed = _parser().parse_args(arguments)
    run: Callable[[argparse.Namespace], int] = parsed.run
    try:
        return run(parsed)
    except KeyboardInterrupt:
        print(f"\nstopped; {_standing()}", file=sys.stderr)
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE


def _standing() -> str:
    """Which site stands after a command was stopped."""
    lock = sys.modules.get("sitegen.disk.lock")  # loaded by what publishes
    stopped_in_time = lock is None or lock.stopped_in_time()
    return "the published site is as it was" if stopped_in_time else "the new site is published all the same"


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="sitegen", description="From a folder of text files to a review site in several languages."
    )
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
        help="the day that embargoes are held against, such as 2026-11-25 (default: today); same files and same day, same site",
    )  # fmt: skip


def _day(text: str) -> dt.date:
    try:
        return dt.datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise argparse.ArgumentTypeError(f"expected a day such as 2026-11-25, found '{text}'") from None


def _add_addresses(commands: "Commands") -> None:
    addresses = commands.add_parser(
        "addresses", help="where pages stand, and keep it so",
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


class _Teller:
    """Tells how far a build has come: one changing line on a terminal, a plain line a stage elsewhere."""

    def __init__(self, out: TextIO, quiet: bool) -> None:
        self._out, self._quiet = out, quiet
        self._live = not quiet and out.isatty() and os.environ.get("TERM") != "dumb"
        self._stage = ""
        self._shown = 0.0

    def __call__(self, stage: str, done: int, of: int) -> None:
        if self._quiet:
            return
        if self._live:
            now = time.monotonic()
            if done == of or now - self._shown > 0.05:
                self._shown = now
                print(
                    f"\r\x1b[K{stage} {done}/{of}" if of > 1 else f"\r\x1b[K{stage}", end="", file=self._out, flush=True
                )
        elif stage != self._stage:
            print(f"{stage} …", file=self._out)
        self._stage = stage

    def end(self) -> None:
        """Clear the changing line."""
        if self._live:
            print("\r\x1b[K", end="", file=self._out, flush=True)


def _folder_of(parsed: argparse.Namespace) -> Path | None:
    folder: Path = parsed.folder
    if folder.is_dir():
        return folder
    if folder.exists():
        print(f"sitegen: '{folder}' is a file; name the folder that holds the publication", file=sys.stderr)
    else:
        print(f"sitegen: there is no folder '{folder}'", file=sys.stderr)
    return None


def _build(parsed: argparse.Namespace) -> int:
    folder = _folder_of(parsed)
    if folder is None:
        return WRONG_USE
    from sitegen.disk.lock import alone
    from sitegen.disk.output import NotOurs

    to = _target(folder, parsed.to)
    if to is None:
        return WRONG_USE
    _settle_process()
    teller = _Teller(sys.stderr, parsed.quiet)
    try:
        with alone(
            str(to), lambda: print("another build of this site is running; waiting for it to end", file=sys.stderr)
        ):
            code, told, report = _build_alone(parsed, folder, to, teller)
    except _NoHands as none:
        print(f"sitegen: {none}; the published site is as it was", file=sys.stderr)
        return WRONG_USE
    except NotOurs:
        print(
            f"sitegen: '{to}' holds files that this tool did not make; choose another folder with --to", file=sys.stderr
        )
        return WRONG_USE
    except OSError as fault:
        print(f"sitegen: the site could not be written: {fault}; the published one is as it was", file=sys.stderr)
        return AT_FAULT
    except MemoryError:
        print(f"sitegen: this machine has too little memory for the build; {_standing()}", file=sys.stderr)
        return AT_FAULT
    finally:
        teller.end()
    print(told, end="", file=sys.stderr)
    print(report, end="")
    return code


def _build_alone(parsed: argparse.Namespace, folder: Path, to: Path, teller: _Teller) -> tuple[int, str, str]:
    """Build while no other build of the site runs; exit code, and what is to be told on the error stream and the output.

    What a build said is remembered here too: once another one might have published, it would be said of that one's site.
    """
    from sitegen.disk.memory import Memory
    from sitegen.disk.unchanged import look_again, remember

    gc.freeze()  # what was loaded stays for good: to look through it for garbage took 4 % of a build after one edit
    start, day, looked = time.monotonic(), parsed.date or dt.date.today(), look_again(str(folder.resolve()))
    memory = to.with_name(f"{to.name}.memory")
    with _nothing_half_made(memory):
        found = _build_edited(folder, to, memory, looked, day, teller) if parsed.cluster is None else None
        if found is None:
            from sitegen.build import build

            with _hands(parsed, folder, memory, day) as hands:
                found = build(folder, to, Memory(memory), teller, day, hands), _made_here_text(hands), b""
    built, lost, published = found
    told = _problems_text(folder, built.problems)
    if not built.published:
        return AT_FAULT, f"{lost}{told}nothing was published\n", ""
    counts = f"{built.pages} pages, {built.pictures} pictures, {built.files} files"
    held = "".join(f"held back until {one.until}: the review '{one.review}' in {one.edition}\n" for one in built.held)
    end = f"{held}open {to / 'index.html'}\n"
    again = f"{counts}, nothing changed since the last build\n{end}"
    remember(looked, str(to), day.isoformat(), told, again, built.called, published)
    seconds = f"{time.monotonic() - start:.1f}"
    report = f"{counts}, {built.changed} of them changed, in {seconds} s\n{end}"
    return FINE, f"{lost}{told}", "" if parsed.quiet else report


def _build_edited(
    folder: Path, to: Path, memory: Path, looked: bytes, day: dt.date, teller: _Teller
) -> "tuple[Built, str, bytes] | None":
    """What came of edits within texts, where nothing else changed, nothing more to be told, and the scan of what is published
    then; None where an ordinary build has to be made.
    """
    from sitegen.disk.unchanged import edited, files_in, rescanned

    source, target = str(folder.resolve()), str(to)
    found = edited(source, target, day.isoformat(), looked)
    if found is None:
        return None
    from sitegen.disk.memory import Memory
    from sitegen.edited import build_edited

    names, called, published = found
    built = build_edited(folder, to, Memory(memory), names, called, lambda: files_in(published, target), teller)
    if built is None:
        return None
    if built.changed > 1:  # the folders were exchanged: all is to be looked at again
        return built, "", b""
    return built, "", rescanned(published, {os.path.dirname(f"{target}/{path}") for path in built.made})


@contextmanager
def _nothing_half_made(memory: Path) -> Iterator[None]:
    """After a build that was stopped, remove what it or its workers were just writing to the memory (NAME.NUMBER)."""
    try:
        yield
    except BaseException:
        for path in (*memory.glob("*.*"), *memory.glob("*/*.*")):
            if path.suffix[1:].isdigit():
                with suppress(OSError):
                    path.unlink()
        raise


class _NoHands(Exception):
    """The cluster that was asked for can't be worked with; the text says why."""


@contextmanager
def _hands(parsed: argparse.Namespace, folder: Path, memory: Path, day: dt.date) -> Iterator[Any]:
    """Who makes the pages: a number of processes, or a cluster while the build lasts."""
    if parsed.cluster is None:
        yield parsed.workers
        return
    from sitegen.cluster import NoCluster, cluster

    with ExitStack() as stack:
        try:
            hands = stack.enter_context(cluster(parsed.cluster, folder, memory, day))
        except NoCluster as none:
            raise _NoHands(str(none)) from None
        yield hands


def _made_here_text(hands: Any) -> str:
    """Why a cluster took no weight off this machine, where it didn't; and how many of its own processes were lost."""
    from sitegen.disk.workers import lost_workers

    text, reasons = "", list[str](getattr(hands, "reasons", []))
    if reasons:
        text = f"{len(reasons)} pieces of the work were done here and not by the cluster: {reasons[0]}\n"
    lost = lost_workers()
    if lost:
        said = "a process was ended" if lost == 1 else f"{lost} processes were ended"
        text += f"{said} by the system, perhaps for want of memory; the work was done all the same\n"
    return text


def _settle_process() -> None:
    """Before numpy is loaded: its threads only spin on such small sums (0.1 s less); and few looks for garbage (5 % less)."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(20_000, 50, 50)


def _target(folder: Path, to: Path | None) -> Path | None:
    """Where the site goes: never inside the publication, which would then read its own output."""
    source = folder.resolve()
    target = to.resolve() if to else source.with_name(source.name + SUFFIX)
    if target == source or source.is_relative_to(target) or target.is_relative_to(source):
        print(
            "sitegen: the site can't go into the publication's own folder; choose one beside it with --to",
            file=sys.stderr,
        )
        return None
    return target


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
        print(f"sitegen: {refused}", file=sys.stderr)
        return WRONG_USE
    except NotWritten as fault:
        return _not_written(fault)
    except OSError as fault:
        print(f"sitegen: the addresses could not be recorded: {fault}", file=sys.stderr)
        return AT_FAULT
    _print_problems(folder, problems)
    if problems.has_errors:
        return AT_FAULT
    print(text)
    return FINE


def _check(parsed: argparse.Namespace) -> int:
    folder = _folder_of(parsed)
    if folder is None:
        return WRONG_USE
    from sitegen.build import check

    teller = _Teller(sys.stderr, parsed.quiet)
    try:
        problems = check(folder, teller)
    finally:
        teller.end()
    _print_problems(folder, problems)
    if not parsed.quiet and not len(problems):
        print("no problems found")
    return AT_FAULT if problems.has_errors else FINE


def _findings(parsed: argparse.Namespace) -> int:
    folder = _folder_of(parsed)
    if folder is None:
        return WRONG_USE
    from sitegen.desk.findings_command import UnknownName, findings_text

    try:
        text, problems = findings_text(folder, parsed.name, as_json=parsed.json)
    except UnknownName as unknown:
        print(f"sitegen: {unknown}", file=sys.stderr)
        return WRONG_USE
    _print_problems(folder, problems)
    if problems.has_errors:
        return AT_FAULT
    print(text)
    return FINE


def _sheet(parsed: argparse.Namespace) -> int:
    folder = _folder_of(parsed)
    if folder is None:
        return WRONG_USE
    from sitegen.desk.sheet_command import Refused, write_sheets
    from sitegen.desk.write_source import NotWritten

    to = parsed.to or folder.resolve().with_name(f"{folder.resolve().name}_sheets") / parsed.round
    try:
        told, key, problems = write_sheets(folder, parsed.round, parsed.seed, parsed.language, to)
    except Refused as refused:
        print(f"sitegen: {refused}", file=sys.stderr)
        return WRONG_USE
    except NotWritten as fault:
        return _not_written(fault)
    except OSError as fault:
        print(f"sitegen: the sheets could not be written: {fault}", file=sys.stderr)
        return AT_FAULT
    _print_problems(folder, problems)
    if problems.has_errors:
        return AT_FAULT
    print("\n".join(told))
    print(f"the files are in {to}; the key of the codes is {key}: keep it from whoever grades")
    return FINE


def _not_written(fault: Exception) -> int:
    print(
        f"sitegen: '{fault}' was changed meanwhile by another program, and left as it is; say it again", file=sys.stderr
    )
    return AT_FAULT


def _print_problems(folder: Path, problems: "Problems") -> None:
    print(_problems_text(folder, problems), end="", file=sys.stderr)


def _problems_text(folder: Path, problems: "Problems") -> str:
    """All problems, worst first, each with its line; then how many."""
    if not len(problems):
        return ""
    from sitegen.problems import render
    from sitegen.text.source import shown_line

    lines = [
        render(problem, shown_line(folder, problem.place.file, problem.place.line))
        for problem in problems.worst_first()
    ]
    errors, cautions = len(problems.errors), len(problems.cautions)
    return "\n".join(
        [*lines, f"{errors} error{'' if errors == 1 else 's'}, {cautions} caution{'' if cautions == 1 else 's'}", ""]
    )
