"""A build and a check: the same values, asked for in the same order. Read this first."""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.disk.output import Output
from sitegen.disk.store import Store
from sitegen.editions.following.freshness import names_of_texts
from sitegen.pipeline import checks, outputs, pictures, reading
from sitegen.pipeline.bounded import end_processes
from sitegen.pipeline.demand import Session, node
from sitegen.pipeline.inputs import Sources, SourcesChanged, noting_reads
from sitegen.pipeline.outputs import Output as Wanted
from sitegen.pipeline.published import Published
from sitegen.pipeline.release import this_release
from sitegen.pipeline.site import assets, plan, usable_languages
from sitegen.pipeline.views import everything, shown
from sitegen.pipeline.workers import PAGES, PICTURES, ROUNDS, TEXTS, Cost, Workers, make_all
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.names.references import all_texts
from sitegen.records.publication import Held, Publication
from sitegen.records.texts.value_paths import check_value_paths

Progress = Callable[[str, int, int], None]
TRIES = 3  # of a build whose files change meanwhile


@dataclass(frozen=True, slots=True)
class Built:
    """What a build came to. `published` is False where errors stopped it and the old site still stands."""

    problems: Problems
    published: bool = False
    pages: int = 0
    files: int = 0
    changed: int = 0
    pictures: int = 0
    held: tuple[Held, ...] = ()


def _quiet(stage: str, done: int, of: int) -> None:
    """Progress for nobody."""


@contextmanager
def opened(folder: Path, store: Path | None = None, day: dt.date = dt.date.min) -> Iterator[Session]:
    """A session in which values of the publication in `folder` are looked up, as it may be shown on `day`."""
    folder = folder.resolve() if folder.is_dir() else folder
    kept = Store(store, this_release() if store is not None else b"")
    try:
        made = Session(kept)
        sources = Sources(folder, made.notes.get("files", {}), day)
        made.observe(sources.inputs())
        reading.open_context(sources)
        try:
            with made.in_use(), noting_reads(made, sources):
                yield made
        finally:
            end_processes()
            reading.close_context()
    finally:
        kept.close()


def build(
    folder: Path,
    to: Path,
    store: Path | None = None,
    progress: Progress = _quiet,
    day: dt.date = dt.date.min,
    workers: Workers | int | None = None,
) -> Built:
    """Build the publication in `folder` into `to`, as it may be shown on `day` (by default with every embargo in force).

    Errors stop it before anything is published. What was made is looked for in `store`, and stored there.
    Raises NotOurs where `to` holds files of somebody else, OSError where the disk fails.
    """
    hands = workers if isinstance(workers, Workers) else Workers(workers)
    for _ in range(TRIES):
        try:
            with opened(folder, store, day) as made:
                built = _build(made, to, progress, hands)
                made.notes["files"] = reading.context().sources.now
                made.save(only_current=built.published)
                return built
        except SourcesChanged as changed:
            name = str(changed)
    problems = Problems()
    message = "this file was changed again and again while it was read"
    problems.error("file-changing", Place(name, 1, 1), message, "build once nobody writes to it")
    return Built(problems)


def check(folder: Path, progress: Progress = _quiet, store: Path | None = None, day: dt.date = dt.date.min) -> Problems:
    """Everything that a build would find wrong, with nothing written. `store` is read and added to, if there is one."""
    with opened(folder, store, day) as made:
        if _is_sound(made, progress, Workers(1)):
            wanted = outputs.checks()
            for number, name in enumerate(wanted, 1):
                made.note(name)
                progress("checking", number, len(wanted))
        problems = found_problems(made)
        made.notes["files"] = reading.context().sources.now
        made.save(only_current=False)
        return problems


def read(folder: Path, problems: Problems, day: dt.date | None = None) -> Publication | None:
    """All records of the publication in `folder`, or those that may be shown on `day`; None without usable settings."""
    with opened(folder, day=day or dt.date.min) as made:
        checks.all_read()
        publication = whole(everything() if day is None else shown())
        _check_values(made)
        problems.extend(found_problems(made))
        return publication if reading.settings() is not None else None


def whole(publication: Publication) -> Publication:
    """A publication with all its records in memory, for whoever wants it beyond the session."""
    names = [name for name in Publication.__dataclass_fields__ if name not in _OWN]
    fields: dict[str, Any] = {name: getattr(publication, name) for name in names}
    plain: dict[str, Any] = {
        name: dict(value) if isinstance(value, Mapping) else value for name, value in fields.items()
    }
    plain["photos"] = frozenset(fields["photos"])
    for kind in ("reviews", "guides"):
        for guide in plain[kind].values():
            for text in guide.texts:
                text.body.parts()
    for text in plain["about"].texts if plain["about"] is not None else ():
        text.body.parts()
    return Publication(**plain)


_OWN = frozenset({"known_index", "_index"})


def found_problems(made: Session) -> Problems:
    """What is wrong with all that was looked up, each once: a text that is shown on several pages has its faults once."""
    problems = Problems()
    problems.extend(dict.fromkeys([*made.problems(), *_value_faults(made)]))
    return problems


def _value_faults(made: Session) -> Problems:
    found: Problems = made.notes_of_session.get("values", Problems())
    return found


def _check_values(made: Session) -> None:
    """Where errors stand in the records, no page is made that would hold the values in its text against the findings."""
    problems = Problems()
    if any(True for problem in _errors(made)):
        check_value_paths(all_texts(everything()), everything(), problems)
    made.notes_of_session["values"] = problems


def _errors(made: Session) -> Iterator[object]:
    from sitegen.problems import Severity

    return (problem for problem in made.problems() if problem.severity is Severity.ERROR)


def _is_sound(made: Session, progress: Progress, workers: Workers) -> bool:
    """Read everything and look at everything but pages; whether pages can be made."""
    progress("reading", 0, 1)
    _make("reading", [node("read_review", id) for id in reading.review_folders()], workers, TEXTS, progress)
    checks.all_read()
    progress("reading", 1, 1)
    if reading.settings() is None or any(True for _ in _errors(made)):
        _check_values(made)
        return False
    made.notes_of_session["values"] = Problems()
    if not usable_languages():
        return False
    _find(progress, workers)
    plan()
    assets()
    names = [node("fault_of_picture", name) for name in dict.fromkeys(ref.id for ref in checks.shown_pictures())]
    _make("pictures", names, workers, PICTURES, progress)
    pictures.checked_pictures()
    for round in pictures.rounds_with_pairs():
        pictures.pairs_of_round(round)
    return not any(True for _ in _errors(made))


def _find(progress: Progress, workers: Workers) -> None:
    """The findings of every round, and what the texts say beside them."""
    publication = shown()
    _make("findings", [node("round_order", id) for id in publication.rounds], workers, ROUNDS, progress)
    texts = [node("text_beside", kind, id) for kind, id in names_of_texts(publication)]
    _make("texts", texts, workers, TEXTS, progress)


def _make(stage: str, names: Sequence[str], workers: Workers, cost: Cost, progress: Progress) -> None:
    """Bring values of one kind up to date, and say how far that is."""
    for number, _ in enumerate(make_all(names, workers, cost), 1):
        progress(stage, number, len(names))


def _build(made: Session, to: Path, progress: Progress, workers: Workers) -> Built:
    if not _is_sound(made, progress, workers):
        return Built(found_problems(made))
    output = Output(to, reading.usable_settings().keep)
    try:
        published = Published(to, made.notes)
        pages, shared = outputs.pages(), outputs.shared_pictures()
        _put_all(made, pages, output, published, workers, progress)
        problems = found_problems(made)
        if problems.has_errors:
            output.discard()
            return Built(problems)
        _encode_pictures(workers, progress)
        _put_all(made, shared, output, published, workers)
        others = list(outputs.other_files())
        _put_all(made, others, output, published, Workers(1))
        problems = found_problems(made)
        if problems.has_errors:
            output.discard()
            return Built(problems)
        output.finish()
    except BaseException:
        output.discard()
        raise
    published.note_all({wanted.path: made.digest(wanted.node) for wanted in (*pages, *shared, *others)})
    return Built(
        problems,
        True,
        len(pages) + sum(wanted.path.endswith(".html") for wanted in others),
        output.changed + output.unchanged,
        output.changed,
        len(pictures.checked_pictures()),
        shown().held,
    )


def _encode_pictures(workers: Workers, progress: Progress) -> None:
    """Make every size of every picture, by several processes: one by one they would take most of a first build."""
    names = [node("sizes_of_picture", name) for name in pictures.checked_pictures()]
    _make("pictures", names, workers, PICTURES, progress)


def _put_all(
    made: Session,
    wanted: Sequence[Wanted],
    output: Output,
    published: Published,
    workers: Workers,
    progress: Progress = _quiet,
) -> None:
    """Put files into `output` one by one, so that few are in memory at a time; what is published already is taken over."""
    by_node = {one.node: one.path for one in wanted}
    for number, (name, data) in enumerate(make_all([one.node for one in wanted], workers, PAGES), 1):
        path = by_node[name]
        if data is None and published.digest(path) == made.digest(name) and output.keep(path):
            pass
        else:
            output.put(path, data if data is not None else made.look_up(name))
        progress("pages", number, len(wanted))
