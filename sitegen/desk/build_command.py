"""The command that builds: one build of a site at a time, the short way where edits within texts are all, what came of it told.

Everything heavy is imported when it is wanted.
"""

import argparse
import datetime as dt
import gc
import os
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sitegen.desk.telling import Teller, problems_text, standing
from sitegen.disk import unchanged
from sitegen.disk.lock import alone
from sitegen.disk.output import NotOurs
from sitegen.exit_codes import AT_FAULT, FINE, WRONG_USE

if TYPE_CHECKING:
    from sitegen.build import Built


def build_site(parsed: argparse.Namespace, folder: Path) -> int:
    """Build the publication in `folder` as the command line says; the exit code."""
    to = _target(folder, parsed.to)
    if to is None:
        return WRONG_USE
    _settle_process()
    teller = Teller(sys.stderr, parsed.quiet)
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
        print(f"sitegen: this machine has too little memory for the build; {standing()}", file=sys.stderr)
        return AT_FAULT
    finally:
        teller.end()
    print(told, end="", file=sys.stderr)
    print(report, end="")
    return code


def _build_alone(parsed: argparse.Namespace, folder: Path, to: Path, teller: Teller) -> tuple[int, str, str]:
    """Build while no other build of the site runs; exit code, and what is to be told on the error stream and the output.

    What a build said is remembered here too: once another one might have published, it would be said of that one's site.
    """
    from sitegen.disk.memory import Memory

    gc.freeze()  # what was loaded stays for good: to look through it for garbage took 4 % of a build after one edit
    start, day, looked = time.monotonic(), parsed.date or dt.date.today(), unchanged.look_again(str(folder.resolve()))
    memory = to.with_name(f"{to.name}.memory")
    with _nothing_half_made(memory):
        found = _build_edited(folder, to, memory, looked, day, teller) if parsed.cluster is None else None
        if found is None:
            from sitegen.build import build

            with _hands(parsed, folder, memory, day) as hands:
                found = build(folder, to, Memory(memory), teller, day, hands), _made_here_text(hands), b""
    built, lost, published = found
    told = problems_text(folder, built.problems)
    if not built.published:
        return AT_FAULT, f"{lost}{told}nothing was published\n", ""
    counts = f"{built.pages} pages, {built.pictures} pictures, {built.files} files"
    held = "".join(f"held back until {one.until}: the review '{one.review}' in {one.edition}\n" for one in built.held)
    end = f"{held}open {to / 'index.html'}\n"
    again = f"{counts}, nothing changed since the last build\n{end}"
    unchanged.remember(looked, str(to), day.isoformat(), told, again, built.called, published)
    seconds = f"{time.monotonic() - start:.1f}"
    report = f"{counts}, {built.changed} of them changed, in {seconds} s\n{end}"
    return FINE, f"{lost}{told}", "" if parsed.quiet else report


def _build_edited(
    folder: Path, to: Path, memory: Path, looked: bytes, day: dt.date, teller: Teller
) -> "tuple[Built, str, bytes] | None":
    """What came of edits within texts, where nothing else changed, nothing more to be told, and the scan of what is published
    then; None where an ordinary build has to be made.
    """
    source, target = str(folder.resolve()), str(to)
    found = unchanged.edited(source, target, day.isoformat(), looked)
    if found is None:
        return None
    from sitegen.disk.memory import Memory
    from sitegen.edited import build_edited
    from sitegen.records.text_files import review_of

    names, called, published = found
    # The published folder is looked through last: after most other edits that would be for nothing.
    if not all(map(review_of, names)) or unchanged.scan(target) != published:
        return None
    built = build_edited(
        folder, to, Memory(memory), names, called, lambda: unchanged.files_in(published, target), teller
    )
    if built is None:
        return None
    if built.changed > 1:  # the folders were exchanged: all is to be looked at again
        return built, "", b""
    return built, "", unchanged.rescanned(published, {os.path.dirname(f"{target}/{path}") for path in built.made})


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
    target = to.resolve() if to else source.with_name(source.name + unchanged.SUFFIX)
    if target == source or source.is_relative_to(target) or target.is_relative_to(source):
        print(
            "sitegen: the site can't go into the publication's own folder; choose one beside it with --to",
            file=sys.stderr,
        )
        return None
    return target
