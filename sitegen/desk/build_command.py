"""The command that builds: one build of a site at a time, and what came of it printed.

Everything heavy is imported when it is wanted.
"""

import argparse
import datetime as dt
import errno
import gc
import os
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from sitegen.desk.telling import Teller, problems_text, standing
from sitegen.disk.cache_folder import cache_file
from sitegen.disk.lock import alone
from sitegen.disk.output import CameMeanwhile, NotOurs
from sitegen.exit_codes import AT_FAULT, FINE, WRONG_USE
from sitegen.pipeline import unchanged
from sitegen.terminal import give, tell


def build_site(parsed: argparse.Namespace, folder: Path) -> int:
    """Build the publication in `folder` as the command line says; the exit code."""
    to = _target(folder, parsed.to)
    if to is None:
        return WRONG_USE
    _settle_process()
    teller = Teller(sys.stderr, parsed.quiet)
    try:
        with alone(str(to), lambda: tell("another build of this site is running; waiting for it to end\n")):
            code, told, report = _build_alone(parsed, folder, to, teller)
    except _NoWorkers as none:
        tell(f"sitegen: {none}; the published site is as it was\n")
        return WRONG_USE
    except NotOurs as fault:
        rest = "move them away, or name them under 'keep' in publication.yaml" if fault.names else ""
        tell(f"sitegen: {fault}; {rest or 'choose another folder with --to'}\n")
        return WRONG_USE
    except CameMeanwhile as fault:
        tell(f"sitegen: the new site is published; files that came into the old one meanwhile stand in '{fault}'\n")
        return AT_FAULT
    except OSError as fault:
        tell(f"sitegen: the site could not be written: {fault}; the published one is as it was\n")
        return AT_FAULT
    except MemoryError:
        tell(f"sitegen: this machine has too little memory for the build; {standing()}\n")
        return AT_FAULT
    finally:
        teller.end()
    tell(told)
    give(report)
    return code


def _build_alone(parsed: argparse.Namespace, folder: Path, to: Path, teller: Teller) -> tuple[int, str, str]:
    """Build while no other build of the site runs; exit code, and what is to be printed on the error stream and the output.

    What a build printed is stored here too: once another one might have published, it would be said of that one's site.
    """
    from sitegen.pipeline.build import build

    gc.freeze()  # what was loaded stays for good: to look through it for garbage took 4 % of a build after one edit
    start, day, looked = time.monotonic(), parsed.date or dt.date.today(), unchanged.look_again(str(folder.resolve()))
    store = cache_file("sqlite", str(folder))
    with _workers(parsed, folder, day) as workers:
        built = build(folder, to, Path(store) if store else None, teller, day, workers)
        lost = _made_here_text(workers)
    told = problems_text(folder, built.problems)
    if not built.published:
        return AT_FAULT, f"{lost}{told}nothing was published\n", ""
    counts = f"{built.pages} pages, {built.pictures} pictures, {built.files} files"
    held = "".join(f"held back until {one.until}: {_named(one)} in {one.edition}\n" for one in built.held)
    end = f"{held}open {to / 'index.html'}\n"
    again = f"{counts}, nothing changed since the last build\n{end}"
    unchanged.remember(looked, str(folder.resolve()), str(to), day.isoformat(), told, again)
    seconds = f"{time.monotonic() - start:.1f}"
    report = f"{counts}, {built.changed} of them changed, in {seconds} s\n{end}"
    return FINE, f"{lost}{told}", "" if parsed.quiet else report


def _named(held: Any) -> str:
    return f"the {held.kind} '{held.id}'" if held.id else "the page about the publication"


class _NoWorkers(Exception):
    """The cluster that was asked for can't be worked with; the text says why."""


@contextmanager
def _workers(parsed: argparse.Namespace, folder: Path, day: dt.date) -> Iterator[Any]:
    """Who makes the values: processes of this machine, or a cluster while the build lasts."""
    if parsed.cluster is None:
        from sitegen.pipeline.workers import Workers

        yield Workers(parsed.workers)
        return
    from sitegen.pipeline.cluster import NoCluster, cluster

    with ExitStack() as stack:
        try:
            workers = stack.enter_context(cluster(parsed.cluster, folder, day))
        except NoCluster as none:
            raise _NoWorkers(str(none)) from None
        yield workers


def _made_here_text(workers: Any) -> str:
    """Why other processes took no weight off this one, where they didn't."""
    if not workers.lost:
        return ""
    return "".join(f"{reason}; the work was done all the same\n" for reason in dict.fromkeys(workers.lost))


def _settle_process() -> None:
    """Before numpy is loaded: its threads only spin on such small sums (0.1 s less); and few looks for garbage (5 % less)."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(20_000, 50, 50)


def _target(folder: Path, to: Path | None) -> Path | None:
    """Where the site goes: never inside the publication, which would then read its own output."""
    source = folder.resolve()
    target = Path(os.path.realpath(to)) if to else source.with_name(source.name + unchanged.SUFFIX)
    if target == source or source.is_relative_to(target) or target.is_relative_to(source):
        tell("sitegen: the site can't go into the publication's own folder; choose one beside it with --to\n")
        return None
    if _is_loop(target):
        tell(f"sitegen: '{to}' is, or lies below, a link that leads back to itself; choose another folder with --to\n")
        return None
    return target


def _is_loop(path: Path) -> bool:
    try:
        os.stat(path)
    except OSError as fault:
        return fault.errno == errno.ELOOP
    return False
