"""Writes a round's bench sheets and, once, the key of its codes."""

import re
from collections.abc import Mapping
from pathlib import Path

from sitegen import stock
from sitegen.build import read
from sitegen.desk.bench_sheets import make_plan, make_sheets
from sitegen.desk.findings_command import planning_lines
from sitegen.desk.write_source import create_file
from sitegen.figures.edition import Edition
from sitegen.figures.language import UnknownLanguage, open_language
from sitegen.problems import Problems, unknown_name
from sitegen.records.codes import KEY_FILE
from sitegen.records.publication import Publication

FIRST_SEED = 1


class Refused(Exception):
    """The sheets can't be made; the text says why."""


def write_sheets(folder: Path, name: str, seed: int | None, tag: str, to: Path) -> tuple[list[str], str, Problems]:
    """Write the sheets of the round `name` into `to`: what to tell (the names of the files, then what so many specimens
    can show), the key's path, and the publication's problems.

    The key goes into the round's folder when there is none; an existing one is never changed. Raises Refused, and OSError where the disk fails.
    """
    problems = Problems()
    publication = read(folder, problems)
    if publication is None or problems.has_errors:
        return [], "", problems
    round = publication.rounds.get(name)
    if round is None or round.single:
        several = (id for id, found in publication.rounds.items() if not found.single)
        raise Refused(unknown_name("round", name, several))
    if seed is not None and seed < 0:
        raise Refused(f"the seed must be 0 or more, found {seed}")
    key_path = folder / "rounds" / name / KEY_FILE
    plan = make_plan(round, dict(publication.protocols), _seed(key_path, seed))
    sheets = make_sheets(round, _edition(publication, tag), plan, publication.stock.sentences["caution.wash"])
    _write_key(key_path, sheets.key)
    _write_sheets(to, sheets.files)
    used = (publication.protocols[entry.protocol.id] for entry in round.protocols)
    told = [*sheets.files, *planning_lines(len(round.entrants), used)]
    return told, key_path.as_posix(), problems


def _seed(key_path: Path, seed: int | None) -> int:
    """The seed asked for, else the recorded one, else the first."""
    if seed is not None:
        return seed
    if key_path.is_file():
        last = re.search(r",([0-9]{1,40})\s*\Z", key_path.read_text("utf-8-sig"))
        return int(last[1]) if last else FIRST_SEED
    return FIRST_SEED


def _write_sheets(to: Path, files: Mapping[str, bytes]) -> None:
    """Write what isn't there yet; a sheet with other contents may have been filled in, and none is then written."""
    for name, data in files.items():
        path = to / name
        if path.exists() and path.read_bytes() != data:
            raise Refused(
                f"'{path}' is there already and may hold readings; move it or choose another folder with --to"
            )
    for name, data in files.items():
        if not (to / name).exists():
            create_file(to, name, data)


def _write_key(path: Path, key: bytes) -> None:
    if not path.is_file():
        create_file(path.parent, path.name, key)
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
