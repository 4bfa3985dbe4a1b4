"""Writes a round's bench sheets and, once, the key of its codes."""

from pathlib import Path

from sitegen import stock
from sitegen.build import read
from sitegen.desk.bench_sheets import key_csv, make_plan, make_sheets
from sitegen.desk.findings_command import planning_lines
from sitegen.desk.write_new import write_new
from sitegen.figures.edition import Edition
from sitegen.figures.language import UnknownLanguage, open_language
from sitegen.problems import Problems, nearest
from sitegen.records.codes import KEY_FILE
from sitegen.records.publication import Publication

FIRST_SEED = 1


class Refused(Exception):
    """The sheets can't be made; the text says why."""


def write_sheets(folder: Path, name: str, seed: int | None, tag: str, to: Path) -> tuple[list[str], str, Problems]:
    """Write the sheets of the round `name` into `to`: what to tell (the names of the files, then what so many specimens
    can show), the key's path, and the publication's problems.

    The key goes into the round's folder when there is none; an existing one is never changed. Raises Refused.
    """
    problems = Problems()
    publication = read(folder, problems)
    if publication is None or problems.has_errors:
        return [], "", problems
    round = publication.rounds.get(name)
    if round is None or round.single:
        near = nearest(name, publication.rounds)
        raise Refused(f"there is no round '{name}'" + (f"; did you mean '{near}'?" if near else ""))
    if seed is not None and seed < 0:
        raise Refused(f"the seed must be 0 or more, found {seed}")
    key_path = folder / "rounds" / name / KEY_FILE
    seed = _seed(key_path, seed)
    plan = make_plan(round, dict(publication.protocols), seed)
    _write_key(key_path, key_csv(plan))
    sheets = make_sheets(round, _edition(publication, tag), plan)
    to.mkdir(parents=True, exist_ok=True)
    for file, data in sheets.files.items():
        path = to / file
        if path.exists() and path.read_bytes() != data:
            raise Refused(
                f"'{path}' is there already and may hold readings; move it or choose another folder with --to"
            )
        if not path.exists():
            write_new(path, data)
    used = (publication.protocols[entry.protocol.id] for entry in round.protocols)
    told = [*sheets.files, *planning_lines(len(round.entrants), used)]
    return told, key_path.as_posix(), problems


def _seed(key_path: Path, seed: int | None) -> int:
    """The seed asked for, else the recorded one, else the first."""
    if seed is not None:
        return seed
    if key_path.is_file():
        last = key_path.read_text("utf-8-sig").splitlines()[-1].split(",")[-1].strip()
        return int(last) if last.isdigit() else FIRST_SEED
    return FIRST_SEED


def _write_key(path: Path, key: bytes) -> None:
    if not path.is_file():
        write_new(path, key)
    elif path.read_bytes().split() != key.split():
        raise Refused(
            f"the round has a key already ('{path}') and it names other specimens or another seed; "
            "specimens that are marked with its codes need it: rename it only if none is"
        )


def _edition(publication: Publication, tag: str) -> Edition:
    settings = publication.settings
    try:
        lang = open_language(tag or settings.lead, stock.content_folder() / "catalogues")
    except UnknownLanguage as unknown:
        raise Refused(str(unknown)) from unknown
    return Edition(lang, settings.lead, publication.products, publication.protocols)
