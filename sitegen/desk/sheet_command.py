"""Writes a round's bench sheets and, once, the key of its codes."""

import re
from collections.abc import Iterable, Mapping
from itertools import count
from pathlib import Path

from sitegen import stock
from sitegen.datatypes import dataclass
from sitegen.desk.bench_sheets import make_codes, make_plan, make_sheets
from sitegen.desk.findings_command import planning_lines
from sitegen.desk.write_source import create_file
from sitegen.figures.forms.edition import Edition
from sitegen.figures.forms.language import UnknownLanguage, open_language
from sitegen.findings.comparison.planning import Coded
from sitegen.pipeline.build import read
from sitegen.problems import Problems, unknown_name
from sitegen.records.fields.codes import KEY_FILE, take_codes
from sitegen.records.publication import Publication
from sitegen.text.csv_rows import parse_csv
from sitegen.text.source import read_source

FIRST_SEED = 1
_WHOLE = re.compile(r"[0-9]{1,9}")
_OTHER_KEY = (
    "the round has a key already ('{path}') and it names other specimens or another seed; "
    "specimens that are marked with its codes need it: rename it only if none is"
)


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
    keys = {id: _key(folder, f"rounds/{id}/{KEY_FILE}") for id in publication.rounds}
    own = keys.pop(name)
    seed = _seed(seed, own, keys.values())
    taken = {coded.code for key in keys.values() if key for coded in key.codes}
    # The specimens are marked with the codes of the key, so these count, however many other rounds there are by now.
    codes = make_codes(round, publication.protocols, seed, () if own else taken)
    if own is not None and (own.seed != seed or _specimens(own.codes) != _specimens(codes)):
        raise Refused(_OTHER_KEY.format(path=key_path))
    plan = make_plan(round, publication.protocols, seed, own.codes if own else codes)
    sheets = make_sheets(round, _edition(publication, tag), plan, publication.stock.sentences["caution.wash"])
    _refuse_filled(to, sheets.files)
    if own is None:
        create_file(key_path.parent, key_path.name, sheets.key)
    for file, data in sheets.files.items():
        if not (to / file).exists():
            create_file(to, file, data)
    used = (publication.protocols[entry.protocol.id] for entry in round.protocols)
    told = [*sheets.files, *planning_lines(len(round.entrants), used)]
    return told, key_path.as_posix(), problems


@dataclass(frozen=True, slots=True)
class _Key:
    """The key of a round's codes, by product and specimen, and the seed that they were drawn from (-1: none is written)."""

    codes: tuple[Coded, ...]
    seed: int


def _key(folder: Path, name: str) -> _Key | None:
    """A round's key; None where it has none. The publication was found to be sound before."""
    source = read_source(folder, name, Problems()) if (folder / name).is_file() else None
    table = parse_csv(source, Problems()) if source else None
    if source is None or table is None:
        return None
    codes = [
        Coded(code=code, product=product, specimen=int(specimen) if _WHOLE.fullmatch(specimen) else 0)
        for code, (product, specimen) in take_codes(table, Problems()).items()
    ]
    written = re.search(r",([0-9]{1,40})\s*\Z", source.text)
    return _Key(
        tuple(sorted(codes, key=lambda coded: (coded.product, coded.specimen))), int(written[1]) if written else -1
    )


def _specimens(codes: Iterable[Coded]) -> list[tuple[str, int]]:
    return [(coded.product, coded.specimen) for coded in codes]


def _seed(asked: int | None, own: _Key | None, others: Iterable[_Key | None]) -> int:
    """The seed asked for, else the recorded one, else the first that no other round has."""
    if asked is not None:
        return asked
    if own is not None and own.seed >= 0:
        return own.seed
    used = {key.seed for key in others if key is not None}
    return next(seed for seed in count(FIRST_SEED) if seed not in used)


def _refuse_filled(to: Path, files: Mapping[str, bytes]) -> None:
    """A sheet with other contents may have been filled in: then nothing is written."""
    for name, data in files.items():
        path = to / name
        if path.exists() and path.read_bytes() != data:
            raise Refused(
                f"'{path}' is there already and may hold readings; move it or choose another folder with --to"
            )


def _edition(publication: Publication, tag: str) -> Edition:
    settings = publication.settings
    try:
        lang = open_language(tag or settings.lead, stock.content_folder() / "catalogues")
    except UnknownLanguage as unknown:
        raise Refused(str(unknown)) from unknown
    return Edition(lang, settings.lead, publication.products, publication.protocols)
