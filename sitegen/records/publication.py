"""A whole publication as records: every file read, every reference resolved."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, nearest, quoted
from sitegen.records.fields.fields import take_record
from sitegen.records.fields.kinds import LANGUAGE_TAG, check_ident
from sitegen.records.fields.units import NO_UNITS, declare
from sitegen.records.fields.words import plain_words
from sitegen.records.ledger import Ledger, Sample, check_sample
from sitegen.records.measured.protocol import Protocol
from sitegen.records.measured.round import Round, check_round
from sitegen.records.names.addresses import Addresses, is_addresses, joined, take_addresses
from sitegen.records.names.file_names import among, below, fits, stem_of
from sitegen.records.names.index import Index
from sitegen.records.product import Product, check_product
from sitegen.records.settings import SETTINGS_FILE, Settings, check_settings
from sitegen.records.stock_records import Stock, Term
from sitegen.records.texts.first_published import FirstPublished
from sitegen.records.texts.follows import Follows
from sitegen.records.texts.text_files import Days, Guide, Review
from sitegen.text.source import REFUSED_ROOT, read_source
from sitegen.text.yaml_nodes import Mapping as MappingNode
from sitegen.text.yaml_nodes import Node, Scalar, parse_yaml

if TYPE_CHECKING:  # what reads tables and rigs is loaded by the functions that do: most builds find them read
    from sitegen.records.measured.readings import Reading
    from sitegen.records.measured.rig import Rig
    from sitegen.records.texts.short_form import Short
    from sitegen.text.csv_rows import CsvTable

FOUR_LINES = "four lines are enough: name, lead, address, author"


@dataclass(frozen=True, slots=True)
class Held:
    """A review, a guide, the page about the publication or a round (`kind`) that waits in an edition until a day."""

    kind: str
    id: str
    edition: str
    until: dt.date


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication:
    """All records of a publication; mappings are by id, in order of id."""

    settings: Settings
    stock: Stock
    products: Mapping[str, Product]
    protocols: Mapping[str, Protocol]
    rounds: Mapping[str, Round]
    readings: "Mapping[str, tuple[Reading, ...]]"
    rigs: "Mapping[str, Rig]"
    samples: tuple[Sample, ...]
    reviews: Mapping[str, Review]
    guides: Mapping[str, Guide]
    about: Guide | None
    photos: frozenset[str]
    files: tuple[str, ...]
    terms: Mapping[str, Term] = field(default_factory=dict)
    addresses: Addresses = Addresses()
    held: tuple[Held, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)  # of products
    versions: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # of each product, as they are written
    reviewed: Mapping[str, tuple[str, str]] = field(default_factory=dict)  # product and round of each review, or empty
    short: frozenset[str] = frozenset()  # the reviews that carry their own readings
    elsewhere: Mapping[str, FirstPublished] = field(
        default_factory=dict
    )  # reviews that appeared, or appear, there first
    # By round, the products that it has a value of; one that waits for its day counts as not measured yet.
    measured: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    days: Mapping[str, Days] = field(default_factory=dict)  # by review
    follows: Mapping[str, Follows] = field(default_factory=dict)  # by the file of the translation
    known_index: Index | None = field(default=None, compare=False, repr=False)  # where there is one already
    _index: list[Index] = field(default_factory=list, init=False, compare=False, repr=False)  # made when first asked

    @property
    def cards(self) -> Mapping[str, Review]:
        """The reviews without the bodies of their texts: for whatever shows no more than titles, days and facts."""
        return self.reviews

    @property
    def index(self) -> Index:
        """What belongs to what."""
        if self.known_index is not None:
            return self.known_index
        if not self._index:
            self._index.append(Index(self.samples, self.rounds, self.reviewed, self.names, self.measured))
        return self._index[0]

    @property
    def shown_rounds(self) -> tuple[str, ...]:
        """The rounds that have a page, by id: those with a reading, but for what a review carries itself."""
        return tuple(id for id, round in self.rounds.items() if not round.single and self.measured.get(id))

    def samples_of(self, product: str) -> tuple[Sample, ...]:
        """The samples of a product, in the ledger's order."""
        return self.index.samples.get(product, ())

    def rounds_of(self, product: str) -> tuple[str, ...]:
        """The rounds in which a product was an entrant, by id."""
        return self.index.rounds.get(product, ())

    def round_of(self, product: str) -> str:
        """The latest round that measured a product; empty for none, and where that can't be known."""
        return self.index.latest.get(product, "")

    def reviews_of(self, product: str) -> tuple[str, ...]:
        """The reviews of a product, in the publication's order."""
        return self.index.reviews.get(product, ())


@dataclass(frozen=True, slots=True)
class Folder:
    """The folder being read: its root, its files in order, and where faults go."""

    root: Path
    names: tuple[str, ...]
    problems: Problems

    def yaml(self, name: str) -> Node | None:
        """A YAML file as nodes, None once its fault is reported."""
        source = read_source(self.root, name, self.problems)
        return parse_yaml(source, self.problems) if source else None

    def csv(self, name: str) -> "CsvTable | None":
        """A CSV file as rows, None once its fault is reported."""
        from sitegen.text.csv_rows import parse_csv

        source = read_source(self.root, name, self.problems)
        return parse_csv(source, self.problems) if source else None

    def matching(self, *pattern: str) -> list[str]:
        """Names of files of a form (see `fits`)."""
        # Looked up by folder: going through all names for each round took time with the square of the publication.
        fixed = next((n for n, part in enumerate(pattern) if "*" in part), len(pattern) - 1)
        names = self.below("/".join(pattern[:fixed])) if fixed else self.names
        return [name for name in names if fits(name, pattern)]

    def below(self, folder: str) -> Sequence[str]:
        """The files anywhere below a folder, in order."""
        return below(self.names, folder)

    def has(self, name: str) -> bool:
        """Whether there is a file of this name."""
        return among(self.names, name)


def read_settings(folder: Folder) -> Settings | None:
    """publication.yaml, None once its faults are reported."""
    if REFUSED_ROOT in folder.names:
        return None  # the folder itself can't be read, which is told
    if SETTINGS_FILE not in folder.names:
        what = "this folder is empty" if not folder.names else f"this folder has no {SETTINGS_FILE}"
        near = nearest(SETTINGS_FILE, folder.names)
        hint = f"is {quoted(near)} meant? call it {SETTINGS_FILE}" if near else FOUR_LINES
        folder.problems.error("no-publication", Place(SETTINGS_FILE, 1, 1), what, hint)
        return None
    declare(NO_UNITS)  # else what the last reading declared would be known here
    node = folder.yaml(SETTINGS_FILE)
    settings = take_record(Settings, node, folder.problems, "the publication") if node else None
    return check_settings(settings, node, folder.problems) if settings is not None and node is not None else None


def stand_in_settings(folder: Folder) -> Settings:
    """Settings by which the texts can be checked although publication.yaml can't be used."""
    name, silent = SETTINGS_FILE, Problems()
    source = read_source(folder.root, name, silent) if name in folder.names else None
    node = parse_yaml(source, silent) if source else None
    lead = node.get("lead") if isinstance(node, MappingNode) else None
    tags = Counter(stem_of(name) for top in ("reviews", "guides") for name in folder.matching(top, "*", "*.md"))
    found = (
        lead.text
        if isinstance(lead, Scalar) and LANGUAGE_TAG.fullmatch(lead.text)
        else max(tags, key=lambda tag: (tags[tag], tag), default="en")
    )
    others = tuple(sorted(tag for tag in tags if tag != found))
    return Settings(name=plain_words("…"), lead=found, address="https://stand-in.invalid/", author="…", editions=others)


def check_implied(review: Review, short: "Short | None", files: Iterable[str], problems: Problems) -> None:
    """A review that carries its own readings must not replace a product or a round that has a file."""
    if short is None:
        return
    id = review.id
    for what, home in (("product", f"products/{id}.yaml"), ("round", f"rounds/{id}/round.yaml")):
        if home in files:
            message = (
                f"this review carries its own readings, so {quoted(id)} can't be a {what} with a file of its own too"
            )
            hint = f"rename the review, or move its readings to the {what} and name that ({what}: {id})"
            problems.error("short-double", review.place, message, hint)


def _good_id(name: str, id: str, what: str, problems: Problems) -> bool:
    return check_ident(id, f"the name of {what}", Place(name, 1, 1), problems)


def take_product(root: Path, care: frozenset[str], id: str, problems: Problems) -> Product | None:
    """The product in products/ID.yaml, None once its faults are reported; `care` are the words of care labels."""
    name = f"products/{id}.yaml"
    source = read_source(root, name, problems)
    if source is None or not _good_id(name, id, "a product", problems):
        return None
    node = parse_yaml(source, problems)
    product = take_record(Product, node, problems, "a product", id=id) if node is not None else None
    if product is not None:
        check_product(product, care, problems)
    return product


def take_round(root: Path, id: str, problems: Problems) -> Round | None:
    """The round in rounds/ID/round.yaml, None once its faults are reported."""
    name = f"rounds/{id}/round.yaml"
    source = read_source(root, name, problems)
    node = parse_yaml(source, problems) if source else None
    if node is None or not _good_id(name, id, "a round", problems):
        return None
    round = take_record(Round, node, problems, "a round", id=id)
    if round is not None:
        check_round(round, node, problems)
    return round


def take_tables(
    folder: Folder, round: Round, protocols: Mapping[str, Protocol], products: Mapping[str, Product]
) -> "tuple[Reading, ...]":
    """The readings in all tables of a round; what is odd about them depends on the products' claims too."""
    from sitegen.records.fields.codes import KEY_FILE, resolve_codes, take_codes
    from sitegen.records.measured.doubtful import check_far
    from sitegen.records.measured.graded import check_graded
    from sitegen.records.measured.readings import take_readings
    from sitegen.records.measured.slips import check_measured, check_specimens

    problems, tables = folder.problems, folder.matching("rounds", round.id, "*.csv")
    key = f"rounds/{round.id}/{KEY_FILE}"
    key_table = folder.csv(key) if key in tables else None
    codes = take_codes(key_table, problems) if key_table else {}
    readings: list[Reading] = []
    for name in tables:
        table = folder.csv(name) if name != key else None
        if table is not None:
            stem = stem_of(name)
            named = stem if stem in protocols else ""
            readings += take_readings(resolve_codes(table, codes, problems), round, protocols, named, problems)
    check_far(round, readings, protocols, products, problems)
    if not problems.has_errors:  # else what is lacking may stand in a row or a table that is reported
        before = len(problems)
        check_measured(round, readings, protocols, problems)
        check_specimens(readings, problems)
        if len(problems) == before:  # a slip in a mark or a name makes another specimen or grader
            check_graded(round, readings, protocols, problems)
    return tuple(readings)


def products_measured(readings: "Iterable[Reading]") -> tuple[str, ...]:
    """The products that have a value among some readings, in order."""
    return tuple(
        sorted({reading.product for reading in readings if reading.value is not None or reading.beyond is not None})
    )


def check_loose_tables(folder: Folder, id: str) -> None:
    """The tables of a round that can't be used are still looked at; a folder without round.yaml is reported."""
    from sitegen.records.fields.codes import KEY_FILE, take_codes
    from sitegen.records.fields.columns import take_columns
    from sitegen.records.measured.readings import COLUMNS

    loose = folder.matching("rounds", id, "*.csv")
    for name in loose:
        table = folder.csv(name)
        if table is not None and name.endswith(f"/{KEY_FILE}"):
            take_codes(table, folder.problems)
        elif table is not None:
            take_columns(table, (*COLUMNS, "code"), ("value",), folder.problems)
    if loose and not folder.has(f"rounds/{id}/round.yaml"):
        message = f"the folder rounds/{id} has readings but no round.yaml, so nobody knows what they are of"
        hint = f"write rounds/{id}/round.yaml: title, entrants, protocols"
        folder.problems.error("round-missing", Place(loose[0], 1, 1), message, hint)


def take_rig(folder: Folder, id: str, protocols: Mapping[str, Protocol]) -> "Rig | None":
    """A rig with its log, None once its faults are reported."""
    from sitegen.records.measured.rig import Rig, take_runs

    name = f"rigs/{id}/rig.yaml"
    node = folder.yaml(name)
    if node is None or not _good_id(name, id, "a rig", folder.problems):
        return None
    rig = take_record(Rig, node, folder.problems, "a rig", id=id)
    if rig is None:
        return None
    log = f"rigs/{id}/log.csv"
    table = folder.csv(log) if folder.has(log) else None
    if not folder.has(log):
        message = "this rig has no log.csv, so nothing says whether it was in order"
        folder.problems.caution(
            "rig-unlogged", Place(name, 1, 1), message, "write what was checked, and when, into log.csv"
        )
    runs = take_runs(table, rig.all_checks(protocols), folder.problems) if table else ()
    return replace(rig, runs=runs)


def check_loose_logs(folder: Folder) -> None:
    """Report every log of a rig that nothing else is known of."""
    rigs = folder.matching("rigs", "*", "rig.yaml")
    for log in folder.matching("rigs", "*", "log.csv"):
        if log.replace("log.csv", "rig.yaml") not in rigs:
            message = f"the folder {log.rpartition('/')[0]} has a log but no rig.yaml, so nobody knows what was checked"
            folder.problems.error("rig-missing", Place(log, 1, 1), message, "write rig.yaml beside it: name, protocols")


def check_empty(folder: Folder, names: Iterable[str]) -> None:
    """Caution about an empty file of a kind that may say nothing: what was in it is probably lost."""
    for name in names:
        source = read_source(folder.root, name, Problems())
        if source is not None and not source.text.strip():
            message = "this file is empty"
            folder.problems.caution("file-empty", Place(name, 1, 1), message, "restore what was in it, or delete it")


def take_all_addresses(folder: Folder) -> Addresses:
    """The record of addresses, from however many files it lies in."""
    nodes = map(folder.yaml, filter(is_addresses, folder.names))
    return joined([take_addresses(node, folder.problems) for node in nodes if node], folder.problems)


def take_samples(root: Path, name: str, problems: Problems) -> tuple[Sample, ...]:
    """The samples in one file of the ledger."""
    source = read_source(root, name, problems)
    node = parse_yaml(source, problems) if source else None
    ledger = take_record(Ledger, node, problems, "the ledger") if node else None
    for sample in ledger.samples if ledger else ():
        check_sample(sample, problems)
    return ledger.samples if ledger else ()


def check_single(samples: Iterable[Sample], problems: Problems) -> None:
    """Each piece stands in the ledger once, whatever file it is in."""
    seen: dict[str, Sample] = {}
    for sample in samples:
        first = seen.setdefault(sample.id, sample)
        if sample.id and first is not sample:
            there = f"in line {first.place.line}" if first.place.file == sample.place.file else f"at {first.place}"
            message = f"the sample {quoted(sample.id)} is listed twice (first {there})"
            problems.error("double", sample.place, message, "give each piece a mark of its own")
