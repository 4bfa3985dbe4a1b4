"""What was made before, kept under the digest of everything it was made from.

A piece is found again only under the very same key, and only whole: each is stored with a checksum,
and what doesn't match (a cut file, a flipped bit, another piece, another version's format) counts as never made.
"""

import os
import pickle
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from functools import partial
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, TypeVar, cast

from sitegen.disk.workers import spread
from sitegen.records.keeping import Maker, OfFiles, Parts, Shelf

if TYPE_CHECKING:
    from sitegen.disk.packs import Pack, PackedShelf

_HEAD = b"sitegen memory 1\n"
_SUM = 16
_BLOCK = 1 << 16
BEGINNING = 2  # letters of a key that make a folder
T = TypeVar("T")


def key_of(*parts: str | bytes) -> str:
    """The key of a piece: a digest over everything that it depends on, each part with its length."""
    return key_of_all(parts)


def key_of_all(parts: Iterable[str | bytes]) -> str:
    """As `key_of`, for very many parts: only one of them has to be in memory at a time."""
    digest = blake2b(digest_size=20)
    for part in parts:
        data = part.encode() if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "big"))
        digest.update(data)
    return digest.hexdigest()


def written_out(names: Iterable[str], digest: Callable[[str], str]) -> str:
    """Some files with their digests, as a key; empty where one has none. Not hashed: for one record that takes longer."""
    parts = [part for name in names for part in (name, digest(name))]
    return "\0".join(parts) if all(parts) else ""


class Memory:
    """A folder of kept pieces. `folder` None remembers nothing."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self._used: set[str] = set()

    def get(self, key: str) -> bytes | None:
        """The piece under a key; None where it was never made, or isn't whole any more."""
        if self.folder is None:
            return None
        self._used.add(key)
        try:
            with open(self._path(key), "rb") as file:
                head, piece = file.read(len(_HEAD) + _SUM), file.read()
        except OSError:
            return None
        return piece if head == _head_of(key, [piece]) else None

    def load(self, key: str) -> Any:
        """The thing under a key that `dump` put there; None as with `get`, and where it lacks what the code of today wants.

        A table of a large publication takes many times its room on the disk, so its bytes are never there beside it.
        """
        if self.folder is None:
            return None
        self._used.add(key)
        try:
            with open(self._path(key), "rb") as file:
                head = file.read(len(_HEAD) + _SUM)
                if head != _head_of(key, iter(partial(file.read, _BLOCK), b"")):
                    return None
                file.seek(len(head))
                return pickle.load(file)
        except Exception:  # besides those of the disk: whatever a record raises that lacks something
            return None

    def has(self, key: str) -> bool:
        """Whether there is a piece under a key; whether it is whole is seen when it is asked for. It counts as used."""
        self._used.add(key)
        return self.folder is not None and self._path(key).is_file()

    def use(self, key: str) -> None:
        """Say that a piece is still of use, without looking at it."""
        self._used.add(key)

    def put(self, key: str, piece: bytes) -> bytes:
        """Keep a piece and give it back. A memory that can't be written loses nothing but time."""
        self._put(key, lambda file: file.write(piece))
        return piece

    def dump(self, key: str, thing: object) -> None:
        """Keep a thing as a pickle, written as it is made."""
        self._put(key, lambda file: pickle.dump(thing, file, 5))

    def _put(self, key: str, write: Callable[["_Summed"], object]) -> None:
        if self.folder is None:
            return
        self._used.add(key)
        path = self._path(key)
        beside = path.with_name(f"{path.name}.{os.getpid()}")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            with open(beside, "wb") as file:
                file.write(bytes(len(_HEAD) + _SUM))
                summed = _Summed(key, file)
                write(summed)
                file.seek(0)
                file.write(summed.head())
            os.replace(beside, path)
        except OSError:
            _remove(beside)

    def drop(self, key: str) -> None:
        """Keep nothing under a key."""
        if self.folder is not None:
            _remove(self._path(key))

    def forget_unused(self, also_used: Iterable[str] = ()) -> None:
        """Remove what neither this build nor `also_used` asked for."""
        if self.folder is None or not self.folder.is_dir():
            return
        kept, folder = self._used | set(also_used), os.fspath(self.folder)
        for name in sorted(os.listdir(folder)):
            if len(name) == BEGINNING and os.path.isdir(f"{folder}/{name}"):
                for rest in os.listdir(f"{folder}/{name}"):
                    if name + rest not in kept:
                        _remove(Path(folder, name, rest))
            elif name.rpartition(".")[2].isdigit():  # left beside by a build that was ended by force
                _remove(Path(folder, name))

    def _path(self, key: str) -> Path:
        assert self.folder is not None
        return self.folder / key[:BEGINNING] / key[BEGINNING:]


class _Summed:
    """A file being written, with a sum of what was."""

    def __init__(self, key: str, file: BinaryIO | None = None) -> None:
        """The sum takes up the key: a whole piece that came to lie under another name is no use."""
        self._digest, self._file = blake2b(key.encode(), digest_size=_SUM), file

    def write(self, data: bytes) -> None:
        """Take some bytes up."""
        self._digest.update(data)
        if self._file is not None:
            self._file.write(data)

    def head(self) -> bytes:
        """What stands before a piece of these bytes."""
        return _HEAD + self._digest.digest()


def _head_of(key: str, blocks: Iterable[bytes]) -> bytes:
    summed = _Summed(key)
    for block in blocks:
        summed.write(block)
    return summed.head()


def _remove(path: Path) -> None:
    with suppress(OSError):  # what can't be removed costs room, no more
        path.unlink(missing_ok=True)


class Pieces:
    """Keeps what stages made as pieces of the memory; those of another tool, library or Python are made anew.

    The memory is the author's own folder: what lies there was written by this tool, and each piece is checked to be whole.
    """

    def __init__(
        self,
        memory: Memory,
        tool: str,
        digest: Callable[[str], str] = lambda name: "",
        alone: bool = True,
        workers: int = 1,
    ) -> None:
        """`tool` is the digest of all code; without one nothing is kept. `digest` gives that of a file, or nothing.

        Where another may write to the memory too (`alone` False), records are read from it and not added. Where much
        is to be made, `workers` processes make it.
        """
        self._memory, self._tool, self._digest, self._alone, self._workers = memory, tool, digest, alone, workers
        self._shelves: dict[str, PackedShelf[Any]] = {}
        self._packs: list[Pack] = []

    def __call__(self, key: str, make: Callable[[], T]) -> T:
        """What `make` makes, made once for each `key`."""
        if not self._tool:
            return make()
        name = key_of("made", self._tool, key)
        kept = self._memory.load(name)
        if kept is not None:
            return cast(T, kept[0])
        made = make()
        self._memory.dump(name, (made,))
        return made

    def later_all(
        self, wanted: Mapping[str, Callable[[], T]], get_ready: Callable[[], object]
    ) -> dict[str, Callable[[], T]]:
        """As `later` for many at once, under the same keys; processes make what has to be made.

        `get_ready` loads what the making needs: once, before processes part.
        """
        if self._tool and self._workers > 1:
            todo = [key for key in wanted if not self._memory.has(key_of("made", self._tool, key))]
            if len(todo) > 1:
                get_ready()
            for _ in spread(partial(self._make_one, wanted), todo, self._workers):
                pass
        return {key: self.later(key, make) for key, make in wanted.items()}

    def _make_one(self, wanted: Mapping[str, Callable[[], T]], key: str) -> None:
        self(key, wanted[key])

    def later(self, key: str, make: Callable[[], T]) -> Callable[[], T]:
        """As a call, but what is kept is loaded when it is wanted; what isn't is made now."""
        name = key_of("made", self._tool, key)
        if not self._tool or not self._memory.has(name):
            made = self(key, make)
            if not self._tool or not self._memory.has(name):
                return lambda: made
        return lambda: self(key, make)

    def all_of_files(self, what: str, wanted: OfFiles[T]) -> dict[str, T]:
        """What is made of some files, small things by id, in one file of the memory; anew where they are no plain files."""
        before, now = self.table(f"all {what}"), dict[str, tuple[str, T]]()
        for id, (names, make) in wanted.items():
            key, kept = written_out(names, self._digest), before.get(id)
            now[id] = kept if kept is not None and key and kept[0] == key else (key, make())
        whole = {id: one for id, one in now.items() if one[0]}
        if whole.keys() == before.keys() and all(one is before[id] for id, one in whole.items()):
            self._memory.use(key_of("table", self._tool, f"all {what}"))
        else:
            self.save_table(f"all {what}", whole)
        return {id: made for id, (_, made) in now.items()}

    def sum(self, names: Iterable[str]) -> str:
        """The digest of some files; empty where one isn't a plain file."""
        files = written_out(names, self._digest)
        return key_of(files) if files else ""

    def shelf(self, kind: str, make: Maker[T], parts: "Parts[T] | None" = None, at_hand: int = 0) -> "Shelf[T]":
        """An empty shelf for one kind of records, whose pack lies in the memory."""
        from sitegen.disk.packs import PackedShelf

        pack = self.pack(kind, write=True)
        if pack is None:
            return Shelf(make)
        before = self.table(f"pack {kind}")
        entries = before.get("entries", {})
        shelf: PackedShelf[T] = PackedShelf(pack, entries, make, self._digest, parts, self._workers, at_hand)
        shelf.name = before.get("name", "")
        self._shelves[kind] = shelf
        return shelf

    @property
    def shelves(self) -> "Mapping[str, PackedShelf[Any]]":
        """The shelves whose packs lie in the memory, by kind."""
        return self._shelves

    def pack(self, name: str, *, write: bool) -> "Pack | None":
        """A pack of the memory; None where nothing is kept."""
        from sitegen.disk.packs import Pack

        if not self._tool or self._memory.folder is None:
            return None
        pack = Pack(self._memory.folder / f"{name}.pack", write and self._alone)
        self._packs.append(pack)
        return pack

    def close(self) -> None:
        """Let go of the files; whoever asks for a record later opens its own again."""
        for pack in self._packs:
            pack.close()

    def save_shelves(self) -> None:
        """Keep what lies on the shelves for the next build."""
        for kind, shelf in self._shelves.items():
            table = shelf.saved()
            if table is None:
                self._memory.use(key_of("table", self._tool, f"pack {kind}"))
            else:
                shelf.name = os.urandom(8).hex()
                self.save_table(f"pack {kind}", {"name": shelf.name, "entries": table})

    def drop_table(self, name: str) -> None:
        """Have no such table. Removed and not written empty: that would fail on a full disk."""
        if self._tool:
            self._memory.drop(key_of("table", self._tool, name))

    def table(self, name: str) -> dict[Any, Any]:
        """A table kept as a whole; empty where there is none."""
        kept = self._memory.load(key_of("table", self._tool, name)) if self._tool else None
        return cast(dict[Any, Any], kept[0]) if kept is not None else {}

    def save_table(self, name: str, table: dict[Any, Any]) -> None:
        """Keep a table for the next build."""
        if self._tool:
            self._memory.dump(key_of("table", self._tool, name), (table,))
