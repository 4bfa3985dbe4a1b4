"""Records of one kind kept in one file, each loaded when somebody asks, so many in memory at a time.

New records are written behind the others. Where each stands, what it was made from and its checksum is kept in a
table of the memory, written when a build has come to its end: whatever happens before, the table of the last build
holds, and a record that is not what the table says is made anew. Opening 4,000 small files took 0.4 s.
"""

import io
import os
import pickle
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from functools import partial
from hashlib import blake2b
from pathlib import Path
from struct import Struct
from typing import Any, NamedTuple, TypeVar

from sitegen.disk.memory import key_of_all, written_out
from sitegen.disk.workers import spread
from sitegen.place import Place
from sitegen.records.keeping import Maker, Parts, Shelf, Wanted

AT_A_TIME = 8  # records that a process makes in one go
AT_HAND = 48  # records of a kind in memory: pages are made round by round
LIGHT_AT_HAND = 512  # without the bodies of their texts: lists show many
WASTE = 2  # times as large as what is in use: then a pack is written anew
V = TypeVar("V")


SPAN = Struct("=QI16s")
Span = bytes
"""Where a piece stands in its pack, how long it is, and its checksum; as bytes, since there are two or three for each review."""


class Entry(NamedTuple):
    """One record: the digest of the files that it was made from, that of its light part and note, the note, its two parts."""

    key: bytes
    digest: bytes
    note: Any
    light: Span | None  # None where there is no record
    heavy: Span | None


class Made(NamedTuple):
    """A record as it is written, with the digest of its light part and note."""

    digest: bytes
    note: Any
    light: bytes | None
    heavy: bytes | None


def _made(parts: Parts[V] | None, make: Maker[V], todo: list[str]) -> list[Made]:
    """Some records, made here."""
    found = []
    for id in todo:
        record, note = make(id)
        if record is None:
            found.append(Made(said(note), note, None, None))
            continue
        light = parts.light(record) if parts else record
        heavy = pickle.dumps(parts.heavy(record), 5) if parts else None
        found.append(Made(said(light, note), note, pickle.dumps(light, 5), heavy))
    return found


class Pack:
    """The file. Without leave to write, or on a disk that refuses, nothing is added."""

    def __init__(self, path: Path, write: bool = True) -> None:
        self._path, self._write = path, write
        self._handle: int | None = None
        self._end = 0

    def _open(self) -> int:
        if self._handle is None and not self._write:
            self._handle = os.open(self._path, os.O_RDONLY | os.O_CLOEXEC)
        elif self._handle is None:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            self._handle = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o666)
            self._end = os.fstat(self._handle).st_size
        return self._handle

    def add(self, data: bytes) -> Span:
        """Write a piece. Raises OSError."""
        return self.add_all([data])[0]

    def add_all(self, pieces: Sequence[bytes]) -> list[Span]:
        """Write some pieces in one go. Raises OSError."""
        if not self._write:
            raise OSError
        handle, data, written, spans = self._open(), b"".join(pieces), 0, []
        while written < len(data):
            written += os.write(handle, data[written:])
        for piece in pieces:
            spans.append(SPAN.pack(self._end, len(piece), _sum(piece)))
            self._end += len(piece)
        return spans

    def read(self, span: Span) -> bytes | None:
        """A piece; None where it isn't what it was."""
        start, length, sum_of_it = SPAN.unpack(span)
        try:
            data = os.pread(self._open(), length, start)
        except OSError:
            return None
        return data if _sum(data) == sum_of_it else None

    def size(self) -> int:
        """How long the file is."""
        return self._end

    def begin_anew(self) -> None:
        """Nothing that stands in the file is wanted. Whoever reads it goes on reading the old one."""
        self.close()
        if self._write:
            with suppress(OSError):
                self._path.unlink(missing_ok=True)

    def rewritten(self, spans: Iterable[Span]) -> dict[Span, Span] | None:
        """Write the file anew with these pieces alone; gives where each stands then. None where the disk refuses."""
        beside = self._path.with_name(f"{self._path.name}.{os.getpid()}")
        fresh, moved = Pack(beside), {}
        try:
            beside.unlink(missing_ok=True)
            for span in spans:
                data = self.read(span)
                if data is not None:
                    moved[span] = fresh.add(data)
            fresh.close()
            os.replace(beside, self._path)
        except OSError:
            fresh.close()
            with suppress(OSError):
                beside.unlink(missing_ok=True)
            return None
        self.close()
        return moved

    def close(self) -> None:
        """Let go of the file."""
        if self._handle is not None:
            os.close(self._handle)
        self._handle, self._end = None, 0


def _key_of(files: str) -> bytes:
    """Some files with their digests, which would be a third of all that is known of a record; empty for none."""
    return blake2b(files.encode(), digest_size=20).digest() if files else b""


def _sum(data: bytes) -> bytes:
    return blake2b(data, digest_size=16).digest()


class _Unplaced(pickle.Pickler):
    """Writes what a record says, whatever line it stands in."""

    def reducer_override(self, thing: Any) -> Any:
        return (int, ()) if isinstance(thing, Place) else NotImplemented


def said(*things: object) -> bytes:
    """A digest of what records say, wherever they say it."""
    out = io.BytesIO()
    writer = _Unplaced(out, 5)
    writer.fast = True  # what is the same object twice, and what only equals it, say the same
    writer.dump(things)
    return blake2b(out.getbuffer(), digest_size=20).digest()


class PackedShelf(Shelf[V]):
    """A shelf whose records lie in a pack."""

    def __init__(
        self, pack: Pack, before: dict[str, Entry], make: Maker[V], digest: Callable[[str], str], parts: Parts[V] | None,
        workers: int = 1, at_hand: int = 0,
    ) -> None:  # fmt: skip
        """`before` is the table of the last build; `digest` gives that of a file, or nothing; `at_hand` records stay in memory (0: AT_HAND)."""
        super().__init__(make)
        self._workers, self._at_hand = workers, at_hand or AT_HAND
        self._pack, self._before, self._digest, self._parts = pack, before, digest, parts
        self._entries: Any = {}  # of Entry, by id
        self._lights: OrderedDict[str, V] = OrderedDict()
        self._wholes: OrderedDict[str, V] = OrderedDict()
        self._order: list[str] | None = None
        self.name = ""  # of the table of all this; two tables of one name are the same, none has no name
        if not before:
            pack.begin_anew()

    def take_all(self, wanted: Iterable[Wanted]) -> Iterator[Any]:
        """See Shelf. Where much is to be made, processes make it: reading is half of the work of a first build."""
        keys: dict[str, bytes] = {}
        todo: list[str] = []
        for id, names in wanted:
            key = keys[id] = _key_of(written_out(names, self._digest))
            kept = self._before.get(id)
            if kept is not None and key and kept.key == key:
                self._entries[id] = kept
            else:
                todo.append(id)
        made = partial(_made, self._parts, self._make)
        pieces = [todo[start : start + AT_A_TIME] for start in range(0, len(todo), AT_A_TIME)]
        for piece, brought in zip(pieces, spread(made, pieces, self._workers), strict=True):
            for id, one in zip(piece, brought, strict=True):
                self._entries[id] = self._written(id, keys[id], one)
        self._order = None
        for id in keys:
            self.notes[id] = self._entries[id].note
            yield self.notes[id]

    def _written(self, id: str, key: bytes, made: Made) -> Entry:
        if made.light is None:
            return Entry(key, made.digest, made.note, None, None)
        try:
            first = self._pack.add(made.light)
            second = self._pack.add(made.heavy) if made.heavy is not None else None
        except OSError:  # a memory that can't be written costs time and room, no more
            light = pickle.loads(made.light)
            self._held[id] = self._parts.join(light, lambda: pickle.loads(made.heavy or b"")) if self._parts else light
            return Entry(b"", made.digest, made.note, None, None)
        return Entry(key, made.digest, made.note, first, second)

    def add(self, id: str, record: V) -> None:
        """See Shelf."""
        self._order = None
        super().add(id, record)

    def digest(self, id: str) -> str:
        """See Shelf."""
        entry = self._entries.get(id)
        return entry.digest.hex() if entry is not None and entry.key else ""

    def sum(self) -> str:
        """See Shelf."""
        if not all(entry.key for entry in self._entries.values()):
            return ""
        return key_of_all(part for id, entry in self._entries.items() for part in (id, entry.digest))

    def __getitem__(self, id: str) -> V:
        if id in self._held:
            return self._held[id]
        found = self._wholes.get(id)
        if found is None:
            found = self._whole(id)
            self._put(self._wholes, id, found, self._at_hand)
        else:
            self._wholes.move_to_end(id)
        return found

    def _whole(self, id: str) -> V:
        entry = self._entries[id]
        if entry.light is None:
            raise KeyError(id)
        light = self._loaded(entry.light)
        if light is None:
            return self._again(id)
        return self._parts.join(light, lambda: self._heavy(id)) if self._parts else light

    def _heavy(self, id: str) -> Any:
        assert self._parts is not None
        span = self._entries[id].heavy
        found = self._loaded(span) if span is not None else None
        return found if found is not None else self._parts.heavy(self._again(id))

    def light(self, id: str) -> V:
        """See Shelf."""
        if self._parts is None or id in self._held:
            return self[id]
        found = self._lights.get(id)
        if found is None:
            entry = self._entries[id]
            if entry.light is None:
                raise KeyError(id)
            found = self._loaded(entry.light) or self._parts.light(self._again(id))
            self._put(self._lights, id, found, LIGHT_AT_HAND)
        return found

    def _again(self, id: str) -> V:
        """A record that lies damaged in its pack, made anew. What is wrong with it was told."""
        record, _ = self._make(id)
        if record is None:
            raise KeyError(id)
        self._held[id], self._entries[id] = record, self._entries[id]._replace(key=b"")
        return record

    def _loaded(self, span: Span) -> Any:
        data = self._pack.read(span)
        try:
            return pickle.loads(data) if data is not None else None
        except Exception:  # a record lacks what the code of today wants, whatever that raises
            return None

    @staticmethod
    def _put(group: "OrderedDict[str, V]", id: str, record: V, most: int) -> None:
        group[id] = record
        if len(group) > most:
            group.popitem(last=False)

    @property
    def entries(self) -> Mapping[str, Entry]:
        """Where each record stands."""
        found: Mapping[str, Entry] = self._entries
        return found

    @property
    def held(self) -> Mapping[str, V]:
        """The records that stand nowhere but in memory."""
        return self._held

    def __contains__(self, id: object) -> bool:
        if id in self._held:
            return True
        entry = self._entries.get(id) if isinstance(id, str) else None
        return entry is not None and entry.light is not None

    def __iter__(self) -> Iterator[str]:
        if self._order is None:
            self._order = sorted({*self._held, *(id for id, entry in self._entries.items() if entry.light is not None)})
        return iter(self._order)

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def saved(self) -> dict[str, Entry] | None:
        """The table for the next build; None where it would be that of the last one."""
        kept = {id: entry for id, entry in self._entries.items() if entry.key}
        if kept == self._before:
            return None
        every = self._entries.values()  # also those that are not kept are read from the file until the build ends
        spans = [span for entry in every for span in (entry.light, entry.heavy) if span is not None]
        if self._pack.size() > WASTE * sum(SPAN.unpack(span)[1] for span in spans):
            moved = self._pack.rewritten(spans)
            if moved is not None:
                whole = {id: _moved(entry, moved) for id, entry in self._entries.items() if _whole_in(entry, moved)}
                self._entries |= whole
                kept = {id: entry for id, entry in whole.items() if entry.key}
        return kept


def _whole_in(entry: Entry, moved: dict[Span, Span]) -> bool:
    return all(span is None or span in moved for span in (entry.light, entry.heavy))


def _moved(entry: Entry, moved: dict[Span, Span]) -> Entry:
    return entry._replace(
        light=moved[entry.light] if entry.light else None, heavy=moved[entry.heavy] if entry.heavy else None
    )
