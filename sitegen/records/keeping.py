"""How a stage is told to look first whether it did the same work before. Where that is kept is not its business.

A shelf holds the records of one kind. They are taken from it when somebody asks, so that after an edit few are looked
at, and only so many are in memory at a time.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any, Generic, Protocol, TypeVar

T = TypeVar("T")
V = TypeVar("V")
Maker = Callable[[str], tuple[V | None, Any]]
"""Makes the record of an id (none for None), and the note about it."""
Wanted = tuple[str, Iterable[str]]
"""What a shelf is asked to take: an id, and the files that the record comes from."""
OfFiles = Mapping[str, tuple[Iterable[str], Callable[[], T]]]
"""What is made of some files, by id: the files, and what makes it."""


class Shelf(Mapping[str, V]):
    """The records of one kind by id, in order of id. This one has them all in memory.

    `notes` says of each name that was taken what is wanted without its record; a name without a record has one too.
    """

    def __init__(self, make: Maker[V]) -> None:
        self.notes: dict[str, Any] = {}
        self._make = make
        self._held: dict[str, V] = {}

    def take(self, id: str, names: Iterable[str]) -> Any:
        """Have the record of these files on the shelf, made now if need be; gives the note about it."""
        return next(iter(self.take_all([(id, names)])))

    def take_all(self, wanted: Iterable[Wanted]) -> Iterator[Any]:
        """As `take` for many at once, the notes in their order; others may help with the work."""
        for id, _ in wanted:
            record, self.notes[id] = self._make(id)
            if record is not None:
                self._held[id] = record
            yield self.notes[id]

    def add(self, id: str, record: V) -> None:
        """A record that has no files of its own."""
        self._held[id] = record

    def digest(self, id: str) -> str:
        """The digest of a record but for its texts' bodies; empty where it isn't known."""
        return ""

    def sum(self) -> str:
        """A digest of all records and notes but for the bodies of texts; empty where one isn't known."""
        return ""

    def light(self, id: str) -> V:
        """A record in which the bodies of texts may be missing."""
        return self[id]

    def __getitem__(self, id: str) -> V:
        return self._held[id]

    def __contains__(self, id: object) -> bool:
        return id in self._held

    def __iter__(self) -> Iterator[str]:
        return iter(sorted(self._held))

    def __len__(self) -> int:
        return len(self._held)


class Light(Mapping[str, V]):
    """A shelf whose records are looked at without the bodies of their texts."""

    def __init__(self, shelf: Mapping[str, V]) -> None:
        self._light: Callable[[str], V] = getattr(shelf, "light", shelf.__getitem__)
        self._shelf: Mapping[str, V] = getattr(shelf, "unnoted", shelf)

    def __getitem__(self, id: str) -> V:
        return self._light(id)

    def __contains__(self, id: object) -> bool:
        return id in self._shelf

    def __iter__(self) -> Iterator[str]:
        return iter(self._shelf)

    def __len__(self) -> int:
        return len(self._shelf)


class Altered(Mapping[str, V]):
    """Records but for those that are gone, with some replaced; the others stay where they are."""

    def __init__(
        self, records: Mapping[str, V], gone: Iterable[str] = (), replaced: Mapping[str, V] | None = None
    ) -> None:
        self.records, self.gone, self.replaced = records, frozenset(gone), dict(replaced or {})

    def digest(self, id: str) -> str:
        """See Shelf; which records are replaced has to be known otherwise."""
        return str(self.records.digest(id)) if isinstance(self.records, Shelf) else ""

    def light(self, id: str) -> V:
        """A record in which the bodies of texts may be missing."""
        if id in self.replaced or not isinstance(self.records, Shelf):
            return self[id]
        if id in self.gone:
            raise KeyError(id)
        found: V = self.records.light(id)
        return found

    def __getitem__(self, id: str) -> V:
        if id in self.gone:
            raise KeyError(id)
        return self.replaced[id] if id in self.replaced else self.records[id]

    def __contains__(self, id: object) -> bool:
        return id not in self.gone and id in self.records

    def __iter__(self) -> Iterator[str]:
        return (id for id in self.records if id not in self.gone)

    def __len__(self) -> int:
        return sum(1 for _ in self)


class Keep(Protocol):
    """Gives what was made before, or has it made now."""

    def __call__(self, key: str, make: Callable[[], T]) -> T:
        """What `make` makes; `key` must name all that it depends on."""

    def all_of_files(self, what: str, wanted: OfFiles[T]) -> dict[str, T]:
        """What is made of some files of the publication and of nothing else: small things, kept together by id."""

    def sum(self, names: Iterable[str]) -> str:
        """The digest of some files of the publication; empty where it can't be known."""

    def shelf(self, kind: str, make: Maker[V], parts: "Parts[V] | None" = None, at_hand: int = 0) -> Shelf[V]:
        """An empty shelf for one kind of records, of which so many may stay in memory (0: some dozen)."""


class Parts(Generic[V]):
    """How a record is kept in two parts: what many ask for, and what few do."""

    def __init__(
        self, light: Callable[[V], V], heavy: Callable[[V], Any], join: Callable[[V, Callable[[], Any]], V]
    ) -> None:
        """`join` gives the whole of a light part and what loads the heavy one when it is wanted."""
        self.light, self.heavy, self.join = light, heavy, join


class _Anew:
    def __call__(self, key: str, make: Callable[[], T]) -> T:
        return make()

    def all_of_files(self, what: str, wanted: OfFiles[T]) -> dict[str, T]:
        return {id: make() for id, (_, make) in wanted.items()}

    def sum(self, names: Iterable[str]) -> str:
        return ""

    def shelf(self, kind: str, make: Maker[V], parts: "Parts[V] | None" = None, at_hand: int = 0) -> Shelf[V]:
        return Shelf(make)


make_anew: Keep = _Anew()
"""Keeps nothing."""
