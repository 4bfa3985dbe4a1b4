"""The site of the last build, kept to be looked things up in: after an edit within a text no more of it is loaded than its pages show.

What an ordinary build reads again from its tables grows with the publication; this doesn't. Parts that are the same as at
the build before are not written again.
"""

import os
import pickle
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from typing import Any, NamedTuple, NoReturn, TypeVar, cast

from sitegen.disk.kept_pages import KeptPages, use_of
from sitegen.disk.kept_rounds import Found, KeptRounds, OfRounds
from sitegen.disk.lookups import Damaged, Kept, KeptMapping, NotAtHand, keep_mapping, loaded
from sitegen.disk.memory import Pieces
from sitegen.disk.packs import Pack, PackedShelf, Span
from sitegen.figures.term_forms import LinkedTerms
from sitegen.pages.plan import REVIEW, Page, Plan
from sitegen.pages.site import Site
from sitegen.pages.traced import BEHIND, TEXT
from sitegen.problems import Problem
from sitegen.records.addresses import Addresses
from sitegen.records.file_names import stem_of
from sitegen.records.follows import ENDING
from sitegen.records.index import Index
from sitegen.records.keeping import Altered, Parts
from sitegen.records.publication import Publication
from sitegen.records.settings import Settings
from sitegen.records.stock_records import Stock
from sitegen.records.text_files import REVIEW_PARTS, review_of

K = TypeVar("K")
V = TypeVar("V")
NAME = "site"
SHELVES = {"products": None, "reviews": REVIEW_PARTS, "readings": None}
_WASTE, _SLACK = 2, 1 << 16  # as much of the pack may be of no use: so many times what is, and some beside that
_TOLD = "told"


class KeptSite(NamedTuple):
    """What a build came to, for the one after an edit.

    `shown` says of which texts the body, or that they lag, may be seen on pages that an edit doesn't make anew (texts of uses);
    `faulty` are the sources with problems that an edit within them doesn't mend.
    """

    site: Site
    shown: frozenset[str]
    problems: tuple[Problem, ...]
    faulty: frozenset[str]
    pages: int
    files: int
    pictures: int


class _Group(NamedTuple):
    """Parts that are the same while `key` is: mappings, and pieces that are loaded whole; `size` in bytes."""

    key: str
    size: int
    parts: Mapping[str, Kept]
    pieces: Mapping[str, Span]


class _Told(NamedTuple):
    """What else is kept of a build, all small."""

    settings: Settings
    finish_rules: Any
    about: Any
    held: Any
    assets: Any
    plan: tuple[str, str, tuple[str, ...]]
    altered: Mapping[str, tuple[frozenset[str], Mapping[str, Any]]]
    shown: frozenset[str]
    faulty: frozenset[str]
    pages: int
    files: int
    pictures: int


_Making = Mapping[str, Callable[[], Any]]


def keep_site(
    keep: Pieces, site: Site, pages: KeptPages, problems: tuple[Problem, ...], faulty: frozenset[str],
    counts: tuple[int, int, int],
) -> str:  # fmt: skip
    """Keep the site of a build for `kept_site`. Gives what it is called there; nothing where it can't be kept.

    `counts` are those of pages, files and pictures; the rest see KeptSite.
    """
    pack = keep.pack(NAME, write=True)
    if pack is None or set(SHELVES) != set(keep.shelves) or not _is_kept(site):
        forget_site(keep)
        return ""
    called = os.urandom(8).hex()
    last = keep.table(NAME)
    before: Mapping[str, _Group] = last.get("groups", {})
    shown = _shown(site, pages, last["told"].shown if last else None)
    try:
        groups = _written(pack, before, _groups(keep, site))
        keep.save_table(NAME, {"called": called, "groups": groups, "told": _told(site, shown, faulty, counts)})
    except Exception:  # the new site stands: whatever can't be kept, and whyever, costs time, no more
        forget_site(keep)
        return ""
    return tell(keep, called, problems)


def forget_site(keep: Pieces) -> None:
    """Have no site of an earlier build found: what was seen of pages since would be missed in it."""
    keep.drop_table(NAME)


def _is_kept(site: Site) -> bool:
    """Whether all rounds' findings can be found again."""
    return isinstance(site.findings, OfRounds) and site.findings.rounds.keys.keys() == site.publication.rounds.keys()


def _shown(site: Site, pages: KeptPages, last: frozenset[str] | None) -> frozenset[str]:
    """See KeptSite: uses of texts, and of what is known of their lagging, on pages that an edit of the text doesn't make anew.

    Of files that were not made now it is known from the `last` build.
    """
    found = set(last or ())
    for path, use in pages.uses((TEXT, BEHIND), every=last is None):
        _, key = use_of(use)
        id, lang = (key[1], key[2]) if isinstance(key, tuple) else (review_of(str(key)), stem_of(str(key)))
        if not id or path not in site.plan.showing(Page(REVIEW, id), lang).values():
            found.add(use)
    return frozenset(found)


def _written(
    pack: Pack, before: Mapping[str, _Group], wanted: Mapping[str, tuple[str, _Making, _Making]]
) -> dict[str, _Group]:
    """The groups in the pack: those of the last build where their keys are the same, the others written now. Raises OSError."""
    same = {
        name: before[name] for name, (key, *_) in wanted.items() if key and name in before and before[name].key == key
    }
    pack.add(b"")  # opens it, so that its size is known
    if pack.size() > _WASTE * sum(group.size for group in before.values()) + _SLACK:
        same = {}
        pack.begin_anew()
    return {
        name: same[name] if name in same else _write(pack, key, mappings, pieces)
        for name, (key, mappings, pieces) in wanted.items()
    }


def _write(pack: Pack, key: str, mappings: _Making, pieces: _Making) -> _Group:
    pack.add(b"")
    start = pack.size()
    parts = {name: keep_mapping(pack, make()) for name, make in mappings.items()}
    whole = {name: pack.add(pickle.dumps(make(), 5)) for name, make in pieces.items()}
    return _Group(key, pack.size() - start, parts, whole)


def _groups(keep: Pieces, site: Site) -> dict[str, tuple[str, _Making, _Making]]:
    """By name: a key that says when a group is the same as before (empty: never), its mappings, its pieces."""
    publication, plan, index, stock = site.publication, site.plan, site.publication.index, site.publication.stock
    rounds = cast(OfRounds[Any], site.findings).rounds
    followed = [f"{name.removesuffix('.md')}{ENDING}" for name in publication.follows]
    follows = keep.sum(followed) if followed else "none"
    photos = keep.sum(sorted(publication.photos)) if publication.photos else "none"
    outline = publication.outline
    shelves = keep.shelves
    held = {(kind, id): record for kind, shelf in shelves.items() for id, record in shelf.held.items()}
    return {
        "outline": (outline, {
            "names": lambda: publication.names, "versions": lambda: publication.versions,
            "reviewed": lambda: publication.reviewed, "elsewhere": lambda: publication.elsewhere,
            "rounds": lambda: publication.rounds, "guides": lambda: publication.guides,
            "protocols": lambda: publication.protocols,
            "samples of": lambda: index.samples, "rounds of": lambda: index.rounds, "latest of": lambda: index.latest,
            "reviews of": lambda: index.reviews, "named": lambda: index.named, "paths": lambda: plan.paths,
            "by page": lambda: {tuple(page): tags for page, tags in plan.by_page.items()},
        }, {
            "terms": lambda: dict(publication.terms), "care": lambda: dict(stock.care),
            "sentences": lambda: dict(stock.sentences),
        }),
        "follows": (follows and f"{follows} {outline}" if outline else "", {"follows": lambda: publication.follows}, {}),
        "pictures": (f"{outline} {photos}" if outline and photos else "", {
            "pictures": lambda: site.pictures, "wetted": lambda: site.wetted,
        }, {}),
        **{kind: (shelf.name, {kind: partial(getattr, shelf, "entries")}, {}) for kind, shelf in shelves.items()},
        "held": ("none" if not held else "", {"held": lambda: held}, {}),
        "found": ("", {
            "rounds found": lambda: rounds.keys, "rigs": lambda: publication.rigs, "judged": lambda: site.rigs,
            "behind": lambda: site.behind,
        }, {}),
    }  # fmt: skip


def _told(site: Site, shown: frozenset[str], faulty: frozenset[str], counts: tuple[int, int, int]) -> _Told:
    publication, plan = site.publication, site.plan
    altered = {
        kind: (records.gone, records.replaced)
        for kind in SHELVES
        if isinstance(records := getattr(publication, kind), Altered)
    }
    return _Told(
        publication.settings, publication.stock.finish_rules, publication.about, publication.held, site.assets,
        (plan.address, plan.lead, plan.tags), altered, shown, faulty, *counts,
    )  # fmt: skip


def kept_site(keep: Pieces, called: str) -> KeptSite | None:
    """The site that was kept, and what was told of it, called so; without editions and drawings. None where there are others or none.

    Whatever is asked of it that isn't at hand, or isn't whole any more, raises NotAtHand.
    """
    table, told = keep.table(NAME), keep.table(_TOLD)
    pack = keep.pack(NAME, write=False)
    if pack is None or f"{table.get('called')} {told.get('called')}" != called:
        return None
    groups, more = table["groups"], table["told"]
    held: Mapping[tuple[str, str], Any] = KeptMapping(pack, groups["held"].parts["held"])
    parts = {name: KeptMapping[Any, Any](pack, kept) for group in groups.values() for name, kept in group.parts.items()}
    pieces = {name: _Whole[Any, Any](pack, span) for group in groups.values() for name, span in group.pieces.items()}
    shelves = {kind: _shelf(keep, kind, parts[kind], held, more.altered.get(kind)) for kind in SHELVES}
    site = _site(keep, parts, pieces, shelves, more)
    return KeptSite(site, more.shown, told["problems"], more.faulty, more.pages, more.files, more.pictures)


def tell(keep: Pieces, called: str, problems: tuple[Problem, ...]) -> str:
    """Keep what was told of a site that is called so; gives what both are called now."""
    told = os.urandom(8).hex()
    keep.save_table(_TOLD, {"called": told, "problems": problems})
    return f"{called.partition(' ')[0]} {told}"


def _site(
    keep: Pieces, parts: Mapping[str, KeptMapping[Any, Any]], pieces: "Mapping[str, _Whole[Any, Any]]",
    shelves: Mapping[str, Any], more: _Told,
) -> Site:  # fmt: skip
    stock = Stock(
        protocols=parts["protocols"], care=pieces["care"], sentences=pieces["sentences"], terms=pieces["terms"],
        finish_rules=more.finish_rules,
    )  # fmt: skip
    index = Index.known(
        parts["samples of"], parts["rounds of"], parts["reviews of"], parts["named"], parts["latest of"]
    )
    publication = Publication(
        settings=more.settings, stock=stock, **shelves, protocols=parts["protocols"], rounds=parts["rounds"],
        rigs=parts["rigs"], samples=_beyond(), guides=parts["guides"], about=more.about, photos=_beyond(),
        files=_beyond(), terms=pieces["terms"], addresses=cast(Addresses, _beyond()), held=more.held,
        names=parts["names"], versions=parts["versions"], reviewed=parts["reviewed"], short=_beyond(),
        elsewhere=parts["elsewhere"], pictures=_beyond(), follows=parts["follows"], known_index=index,
    )  # fmt: skip
    address, lead, tags = more.plan
    plan = Plan(address, lead, tags, parts["paths"], parts["by page"], _beyond())
    found = KeptRounds(_Loaders(keep, parts["rounds found"]))
    return Site(
        publication, plan, {}, found.findings, parts["judged"], found.orders, found.currencies, parts["pictures"],
        more.assets, behind=parts["behind"], terms=LinkedTerms(publication), wetted=parts["wetted"],
    )  # fmt: skip


def _shelf(
    keep: Pieces, kind: str, entries: KeptMapping[str, Any], held: Mapping[tuple[str, str], Any],
    altered: tuple[Iterable[str], Mapping[str, Any]] | None,
) -> Mapping[str, Any]:  # fmt: skip
    pack = keep.pack(kind, write=False)
    assert pack is not None  # there is one for the site itself
    shelf: _KeptShelf[Any] = _KeptShelf(kind, pack, entries, held, SHELVES[kind])
    return Altered(shelf, *altered) if altered else shelf


class _KeptShelf(PackedShelf[V]):
    """A shelf of the last build, from which records are taken but not made."""

    def __init__(
        self, kind: str, pack: Pack, entries: KeptMapping[str, Any], held: Mapping[tuple[str, str], V], parts: Parts[V] | None
    ) -> None:  # fmt: skip
        super().__init__(pack, {}, _refuse, lambda name: "", parts)
        self._entries = entries
        self._held = cast(dict[str, V], _OfKind(kind, held))

    def __iter__(self) -> Iterator[str]:
        raise NotAtHand


class _OfKind(Mapping[str, V]):
    """Records of one kind among those of several."""

    def __init__(self, kind: str, records: Mapping[tuple[str, str], V]) -> None:
        self._kind, self._records = kind, records

    def __getitem__(self, id: str) -> V:
        return self._records[self._kind, id]

    def __contains__(self, id: object) -> bool:
        return len(self._records) > 0 and (self._kind, id) in self._records

    def __iter__(self) -> Iterator[str]:
        raise NotAtHand

    def __len__(self) -> int:
        raise NotAtHand


class _Whole(Mapping[K, V]):
    """A mapping that is loaded whole when somebody asks: such as don't grow with the publication."""

    def __init__(self, pack: Pack, span: Span) -> None:
        self._pack, self._span = pack, span
        self._found: dict[K, V] | None = None

    def _all(self) -> dict[K, V]:
        if self._found is None:
            self._found = loaded(self._pack, self._span)
        return self._found

    def __getitem__(self, key: K) -> V:
        return self._all()[key]

    def __iter__(self) -> Iterator[K]:
        return iter(self._all())

    def __len__(self) -> int:
        return len(self._all())


class _Loaders(Mapping[str, Callable[[], Found]]):
    """What loads the findings of each round, by the keys under which they are kept."""

    def __init__(self, keep: Pieces, keys: Mapping[str, str]) -> None:
        self._keep, self._keys = keep, keys

    def __getitem__(self, id: str) -> Callable[[], Found]:
        key = self._keys[id]
        return lambda: self._keep(key, _refuse)

    def __contains__(self, id: object) -> bool:
        return id in self._keys

    def __iter__(self) -> Iterator[str]:
        raise NotAtHand

    def __len__(self) -> int:
        return len(self._keys)


def _refuse(*asked: object) -> NoReturn:
    raise Damaged


class _Beyond:
    """Stands for what isn't kept: whoever looks at it is told so."""

    def __getattr__(self, name: str) -> NoReturn:
        raise NotAtHand(name)

    def __contains__(self, key: object) -> NoReturn:
        raise NotAtHand

    def __iter__(self) -> NoReturn:
        raise NotAtHand

    def __len__(self) -> NoReturn:
        raise NotAtHand

    def __getitem__(self, key: object) -> NoReturn:
        raise NotAtHand


def _beyond() -> Any:
    return _Beyond()
