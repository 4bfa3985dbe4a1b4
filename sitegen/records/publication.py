"""A whole publication as records: every file read, every reference resolved."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problem, Problems, nearest, quoted
from sitegen.records.addresses import Addresses, is_addresses, joined, take_addresses
from sitegen.records.fields import Ref, take_record
from sitegen.records.file_names import among, below, fits, stem_of
from sitegen.records.first_published import FirstPublished
from sitegen.records.follows import Follows, read_follows
from sitegen.records.index import Index
from sitegen.records.keeping import Keep, Light, Shelf, make_anew
from sitegen.records.kinds import LANGUAGE_TAG, check_ident
from sitegen.records.ledger import Ledger, Sample, check_sample, is_ledger
from sitegen.records.product import Product, check_product
from sitegen.records.protocol import Protocol
from sitegen.records.round import Round, check_round
from sitegen.records.settings import SETTINGS_FILE, Settings, check_settings
from sitegen.records.stock_records import Stock, Term, read_protocols, read_terms
from sitegen.records.text_files import Guide, Review, ReviewsRead, read_about, read_guides, read_reviews
from sitegen.records.words import plain_words
from sitegen.text.source import REFUSED_ROOT, read_source
from sitegen.text.yaml_nodes import Mapping as MappingNode
from sitegen.text.yaml_nodes import Node, Scalar, parse_yaml

if TYPE_CHECKING:  # what reads tables and rigs is loaded by the functions that do: most builds find them read
    from sitegen.records.readings import Reading
    from sitegen.records.rig import Rig
    from sitegen.text.csv_rows import CsvTable

READINGS_AT_HAND = 6  # rounds: their findings are made, and their tables published, one after another
GLOSSARY_FILE = "glossary.yaml"
_OF_LANGUAGES = frozenset({"no-lead-text", "edition-undeclared"})
FOUR_LINES = "four lines are enough: name, lead, address, author"


@dataclass(frozen=True, slots=True)
class Held:
    """An edition of a review that waits until a day."""

    review: str
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
    pictures: tuple[Ref, ...] = ()  # every one that a record or a text names
    outline: str = ""  # the digest of all but readings and the bodies of texts; empty where it isn't known
    follows: Mapping[str, Follows] = field(default_factory=dict)  # by the file of the translation
    known_index: Index | None = field(default=None, compare=False, repr=False)  # where there is one already
    _index: list[Index] = field(default_factory=list, init=False, compare=False, repr=False)  # made when first asked

    @property
    def cards(self) -> Mapping[str, Review]:
        """The reviews without the bodies of their texts: for whatever shows no more than titles, days and facts."""
        return Light(self.reviews)

    @property
    def index(self) -> Index:
        """What belongs to what."""
        if self.known_index is not None:
            return self.known_index
        if not self._index:
            self._index.append(Index(self.samples, self.rounds, self.reviewed, self.names))
        return self._index[0]

    def samples_of(self, product: str) -> tuple[Sample, ...]:
        """The samples of a product, in the ledger's order."""
        return self.index.samples.get(product, ())

    def rounds_of(self, product: str) -> tuple[str, ...]:
        """The rounds in which a product was an entrant, by id."""
        return self.index.rounds.get(product, ())

    def round_of(self, product: str) -> str:
        """The latest round in which a product was an entrant; empty for none."""
        found = self.rounds_of(product)
        return found[-1] if found else ""

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
    node = folder.yaml(SETTINGS_FILE)
    settings = take_record(Settings, node, folder.problems, "the publication") if node else None
    return check_settings(settings, node, folder.problems) if settings is not None and node is not None else None


def read_publication(
    root: Path, names: tuple[str, ...], stock: Stock, problems: Problems, keep: Keep = make_anew
) -> Publication | None:
    """All records below `root`; None where there are no settings to build by.

    Every file is checked, also when another is broken. `names` are the files of the publication.
    """
    from sitegen.records.looked_up import faults_of_names, referenced
    from sitegen.records.references import all_texts
    from sitegen.records.value_paths import check_value_paths

    for refused in (name for name in names if name.endswith("/")):
        message = "can't list what is in this folder: the system refused it"
        problems.error("folder-unreadable", Place(refused, 1, 1), message, "check its access rights")
    folder = Folder(root, names, problems)
    settings = read_settings(folder)
    usable = settings or _stand_in(folder)
    protocols = dict(stock.protocols) | read_protocols(root, names, problems, stock=False)
    products = _read_products(folder, stock, keep)
    rounds = _read_rounds(folder, keep)
    _check_loose_tables(folder, rounds)
    rigs = _read_rigs(folder, protocols)
    readings = _read_readings(folder, rounds, protocols, products, rigs, keep)
    samples = _read_samples(folder, keep)
    told = Problems()
    # Stand-in settings depend on what texts there are, so nothing is kept of reviews that were read by them.
    texts = read_reviews(root, names, usable, protocols, told, keep if settings else make_anew)
    _check_implied(texts, products, rounds, told)
    for product in (p for p in texts.products if p.id not in products):
        products.add(product.id, product)
    for id, own in texts.readings.items():
        readings.add(id, own)
    reviews = {id: texts.reviews.notes[id] for id in texts.reviews}
    known = {id: products.notes[id] if id in products.notes else _note_of(products[id]) for id in products}
    publication = Publication(
        settings=usable, stock=stock, protocols=protocols, products=products,
        rounds=dict(sorted(({r.id: r for r in texts.rounds} | rounds).items())), readings=readings,
        names={id: note.name for id, note in known.items()}, versions={id: note.versions for id, note in known.items()},
        reviewed={id: (note.product, note.round) for id, note in reviews.items()},
        short=frozenset(id for id, note in reviews.items() if note.short is not None),
        elsewhere={id: note.first_published for id, note in reviews.items() if note.first_published is not None},
        rigs=rigs, samples=(*samples, *texts.samples), reviews=texts.reviews,
        guides=read_guides(root, names, usable, told),
        about=read_about(root, names, usable, told),
        photos=frozenset(n for n in names if n.startswith("photos/")), files=names,
        terms=dict(stock.terms) | (read_terms(root, GLOSSARY_FILE, problems) if GLOSSARY_FILE in names else {}),
        follows=read_follows(root, names, problems), addresses=_read_addresses(folder),
    )  # fmt: skip
    # Without settings it is not known which languages there should be, so nothing is said of them.
    problems.extend(p for p in told if settings is not None or p.code not in _OF_LANGUAGES)
    publication = referenced(publication, texts.reviews, products, keep, problems)
    if texts.rounds:
        _check_far(texts.rounds, publication, problems)
    problems.extend(faults_of_names(names, keep))
    if problems.has_errors:  # else the pages hold every path against the findings, which can say more
        check_value_paths(all_texts(publication), publication, problems)
    return publication if settings is not None else None


def _stand_in(folder: Folder) -> Settings:
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


def _check_implied(
    texts: ReviewsRead, products: Mapping[str, Product], rounds: Mapping[str, Round], problems: Problems
) -> None:
    """A review that carries its own readings must not replace a product or a round that has a file."""
    for product in texts.products:
        for what, taken in (("product", products), ("round", rounds)):
            if product.id in taken:
                message = f"this review carries its own readings, so {quoted(product.id)} can't be a {what} with a file of its own too"
                hint = f"rename the review, or move its readings to the {what} and name that ({what}: {product.id})"
                problems.error("short-double", texts.reviews[product.id].place, message, hint)


def _good_id(name: str, id: str, what: str, problems: Problems) -> bool:
    return check_ident(id, f"the name of {what}", Place(name, 1, 1), problems)


class ProductNote(NamedTuple):
    """What is wanted of a product without looking at it."""

    told: tuple[Problem, ...]
    name: str = ""
    versions: tuple[str, ...] = ()


def _read_products(folder: Folder, stock: Stock, keep: Keep) -> Shelf[Product]:
    found: Shelf[Product] = keep.shelf("products", partial(_take_product, folder.root, stock))
    # The stock's care words change with the tool.
    for note in found.take_all((stem_of(name), (name,)) for name in folder.matching("products", "*.yaml")):
        folder.problems.extend(note.told)
    return found


def _take_product(root: Path, stock: Stock, id: str) -> tuple[Product | None, ProductNote]:
    problems, name = Problems(), f"products/{id}.yaml"
    source = read_source(root, name, problems)
    if source is None or not _good_id(name, id, "a product", problems):
        return None, ProductNote(tuple(problems))
    node = parse_yaml(source, problems)
    product = take_record(Product, node, problems, "a product", id=id) if node is not None else None
    if product is not None:
        check_product(product, frozenset(stock.care), problems)
    return product, _note_of(product, problems) if product is not None else ProductNote(tuple(problems))


def _note_of(product: Product, told: Iterable[Problem] = ()) -> ProductNote:
    return ProductNote(tuple(told), product.name, tuple(version.id.id for version in product.versions))


def _read_rounds(folder: Folder, keep: Keep) -> dict[str, Round]:
    names = {name.split("/")[1]: name for name in folder.matching("rounds", "*", "round.yaml")}
    wanted = {id: ((name,), partial(_take_round, folder.root, name)) for id, name in names.items()}
    found = {}
    for id, (round, told) in keep.all_of_files("rounds", wanted).items():
        folder.problems.extend(told)
        if round is not None:
            found[id] = round
    return found


def _take_round(root: Path, name: str) -> tuple[Round | None, tuple[Problem, ...]]:
    problems, id = Problems(), name.split("/")[1]
    source = read_source(root, name, problems)
    node = parse_yaml(source, problems) if source else None
    if node is None or not _good_id(name, id, "a round", problems):
        return None, tuple(problems)
    round = take_record(Round, node, problems, "a round", id=id)
    if round is not None:
        check_round(round, node, problems)
    return round, tuple(problems)


def _read_readings(
    folder: Folder,
    rounds: Mapping[str, Round],
    protocols: Mapping[str, Protocol],
    products: Mapping[str, Product],
    rigs: "Mapping[str, Rig]",
    keep: Keep,
) -> "Shelf[tuple[Reading, ...]]":
    """All tables of each round: what they hold depends on them, the round, the key of its codes and own protocols; what
    is odd about them on the products and rigs too.
    """
    make = partial(_take_tables, folder, rounds, protocols, products, rigs)
    found: Shelf[tuple[Reading, ...]] = keep.shelf("readings", make, at_hand=READINGS_AT_HAND)
    own = [name for name in folder.below("protocols") if name.endswith(".yaml")]

    def files(id: str) -> Iterator[str]:
        claims = (f"products/{entrant.product.id}.yaml" for entrant in rounds[id].entrants)
        yield from (f"rounds/{id}/round.yaml", *_tables(folder, id), *own, *filter(folder.has, claims))
        yield from folder.matching("rigs", "*", "rig.yaml")

    for told in found.take_all((id, files(id)) for id in rounds):
        folder.problems.extend(told)
    return found


def _tables(folder: Folder, id: str) -> list[str]:
    return folder.matching("rounds", id, "*.csv")


def _take_tables(
    folder: Folder,
    rounds: Mapping[str, Round],
    protocols: Mapping[str, Protocol],
    products: Mapping[str, Product],
    rigs: "Mapping[str, Rig]",
    id: str,
) -> "tuple[tuple[Reading, ...], tuple[Problem, ...]]":
    from sitegen.records.codes import KEY_FILE, resolve_codes, take_codes
    from sitegen.records.doubtful import check_ends, check_far
    from sitegen.records.readings import take_readings

    problems, round, tables = Problems(), rounds[id], _tables(folder, id)
    folder = replace(folder, problems=problems)
    key = f"rounds/{id}/{KEY_FILE}"
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
    check_ends(readings, protocols, rigs.values(), problems)
    return tuple(readings), tuple(problems)


def _check_far(rounds: Iterable[Round], publication: Publication, problems: Problems) -> None:
    from sitegen.records.doubtful import check_far

    for round in rounds:
        readings = publication.readings.get(round.id, ())
        check_far(round, readings, publication.protocols, publication.products, problems)


def _check_loose_tables(folder: Folder, rounds: Mapping[str, Round]) -> None:
    """The tables of a round that can't be used are still looked at; a folder without round.yaml is told."""
    told: set[str] = set()
    loose = [name for name in folder.matching("rounds", "*", "*.csv") if name.split("/")[1] not in rounds]
    if not loose:
        return
    from sitegen.records.codes import KEY_FILE, take_codes
    from sitegen.records.columns import take_columns
    from sitegen.records.readings import COLUMNS

    for name in loose:
        id = name.split("/")[1]
        table = folder.csv(name)
        if table is not None and name.endswith(f"/{KEY_FILE}"):
            take_codes(table, folder.problems)
        elif table is not None:
            take_columns(table, (*COLUMNS, "code"), ("value",), folder.problems)
        if not folder.has(f"rounds/{id}/round.yaml") and id not in told:
            told.add(id)
            message = f"the folder rounds/{id} has readings but no round.yaml, so nobody knows what they are of"
            hint = f"write rounds/{id}/round.yaml: title, entrants, protocols"
            folder.problems.error("round-missing", Place(name, 1, 1), message, hint)


def _read_rigs(folder: Folder, protocols: Mapping[str, Protocol]) -> "dict[str, Rig]":
    names = folder.matching("rigs", "*", "rig.yaml")
    if not names:
        return {}
    from sitegen.records.rig import Rig, take_runs

    found = {}
    for name in names:
        id = name.split("/")[1]
        node = folder.yaml(name)
        if node is None or not _good_id(name, id, "a rig", folder.problems):
            continue
        rig = take_record(Rig, node, folder.problems, "a rig", id=id)
        if rig is None:
            continue
        log = f"rigs/{id}/log.csv"
        table = folder.csv(log) if folder.has(log) else None
        runs = take_runs(table, rig.all_checks(protocols), folder.problems) if table else ()
        found[id] = replace(rig, runs=runs)
    return found


def _read_addresses(folder: Folder) -> Addresses:
    nodes = map(folder.yaml, filter(is_addresses, folder.names))
    return joined([take_addresses(node, folder.problems) for node in nodes if node], folder.problems)


def _read_samples(folder: Folder, keep: Keep) -> tuple[Sample, ...]:
    files = filter(is_ledger, folder.names)
    found = keep.all_of_files("ledger", {name: ((name,), partial(_take_samples, folder.root, name)) for name in files})
    for _, told in found.values():
        folder.problems.extend(told)
    samples = tuple(sample for own, _ in found.values() for sample in own)
    _check_single(samples, folder.problems)
    return samples


def _take_samples(root: Path, name: str) -> tuple[tuple[Sample, ...], tuple[Problem, ...]]:
    problems = Problems()
    source = read_source(root, name, problems)
    node = parse_yaml(source, problems) if source else None
    ledger = take_record(Ledger, node, problems, "the ledger") if node else None
    for sample in ledger.samples if ledger else ():
        check_sample(sample, problems)
    return (ledger.samples if ledger else ()), tuple(problems)


def _check_single(samples: Iterable[Sample], problems: Problems) -> None:
    """Each piece stands in the ledger once, whatever file it is in."""
    seen: dict[str, Sample] = {}
    for sample in samples:
        first = seen.setdefault(sample.id, sample)
        if sample.id and first is not sample:
            there = f"in line {first.place.line}" if first.place.file == sample.place.file else f"at {first.place}"
            message = f"the sample {quoted(sample.id)} stands twice (first {there})"
            problems.error("double", sample.place, message, "give each piece a mark of its own")
