"""What earlier builds made, in one SQLite file of the user's own cache folder.

Pieces lie under the digest of their bytes. An index, whose content is the caller's, says which piece is what; it is
sealed with a secret of the user, and what isn't sealed by it, is of another release or isn't whole is thrown away.
So is a store that the disk or SQLite refuses: everything in it can be made again.

The folder belongs to the user and to nobody else (mode 0700). A publication can't bring a store along.
"""

import hmac
import os
import secrets
import sqlite3
import stat
from collections.abc import Iterable
from contextlib import suppress
from hashlib import blake2b
from pathlib import Path

DIGEST = 20  # bytes
_FORMAT = 1
_SECRET = "secret"
_IN_USE_MS = 2_000  # how long another build's writing is waited for


def digest_of(*parts: bytes) -> bytes:
    """The digest of some bytes: BLAKE2b of 160 bits (RFC 7693), each part with its length."""
    found = blake2b(digest_size=DIGEST)
    for part in parts:
        found.update(len(part).to_bytes(8, "big"))
        found.update(part)
    return found.digest()


class Store:
    """Pieces by digest and one index. `path` None stores nothing beyond this process.

    No method raises for a fault of the disk or of SQLite: from then on nothing is stored.
    """

    def __init__(self, path: Path | None, release: bytes, read_only: bool = False) -> None:
        """`release` names the tool, its libraries and the interpreter: a store of another one is thrown away."""
        self.path, self._release, self._read_only = path, release, read_only
        self._index: bytes | None = None
        self._new: dict[bytes, bytes] = {}  # where there is no file
        self._seal_key = b""
        self._connection = self._open()

    @property
    def index(self) -> bytes | None:
        """The index as it was saved last; None where there is none that can be trusted."""
        return self._index

    @property
    def stores(self) -> bool:
        """Whether pieces outlive this process."""
        return self._connection is not None

    def get(self, digest: bytes) -> bytes | None:
        """The piece with this digest; None where it isn't there, or isn't whole."""
        if digest in self._new or self._connection is None:
            return self._new.get(digest)
        try:
            row = self._connection.execute("SELECT data FROM pieces WHERE digest = ?", (digest,)).fetchone()
        except sqlite3.Error:
            return None
        data = row[0] if row is not None else None
        return data if isinstance(data, bytes) and digest_of(data) == digest else None

    def put(self, digest: bytes, data: bytes) -> None:
        """Keep a piece under its digest, in place of whatever damaged one is there."""
        if self._connection is None or self._read_only:
            self._new[digest] = data
            return
        try:
            self._connection.execute("INSERT OR REPLACE INTO pieces VALUES (?, ?)", (digest, data))
        except sqlite3.Error:
            self._give_up()
            self._new[digest] = data

    def drop_new(self) -> None:
        """Where this process only reads: drop what was put since, once it was handed on."""
        if self._read_only:
            self._new.clear()

    def commit(self) -> None:
        """Have what was put there for other processes to read."""
        if self._connection is not None:
            try:
                self._connection.commit()
            except sqlite3.Error:
                self._give_up()

    def save(self, index: bytes, used: Iterable[bytes]) -> None:
        """Replace the index, and remove every piece but those in `used`, in one transaction."""
        self._index = index
        if self._connection is None or self._read_only:
            return
        try:
            there = {row[0] for row in self._connection.execute("SELECT digest FROM pieces")}
            self._connection.executemany("DELETE FROM pieces WHERE digest = ?", ((d,) for d in there - set(used)))
            self._connection.execute("INSERT OR REPLACE INTO head VALUES ('index', ?)", (index,))
            self._connection.execute("INSERT OR REPLACE INTO head VALUES ('seal', ?)", (self._seal(index),))
            self._connection.commit()
        except sqlite3.Error:
            self._give_up()

    def close(self) -> None:
        """Leave the file; what wasn't saved is as if it had never been put there."""
        if self._connection is not None:
            with suppress(sqlite3.Error):
                self._connection.rollback()
                self._connection.close()
            self._connection = None

    def for_reading(self) -> "Store":
        """The same store in another process, which only reads from it."""
        return Store(self.path, self._release, read_only=True)

    def _open(self) -> sqlite3.Connection | None:
        if self.path is None or not self._release:
            return None
        try:
            self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._seal_key = _secret(self.path.parent)
            return self._opened(self.path)
        except (sqlite3.Error, OSError):
            if self._read_only:
                return None
        remove_store(self.path)
        try:
            return self._opened(self.path)
        except (sqlite3.Error, OSError):
            return None

    def _opened(self, path: Path) -> sqlite3.Connection:
        """Raises sqlite3.Error for a file that is no store or can't be written."""
        _refuse_foreign(path)
        connection = sqlite3.connect(path, timeout=_IN_USE_MS / 1000, isolation_level="DEFERRED")
        try:
            # What a power cut leaves is found out by digests and seal, so nothing waits for the disk.
            connection.execute("PRAGMA synchronous = OFF")
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA trusted_schema = OFF")
            tables = {tuple(row) for row in connection.execute("SELECT type, name FROM sqlite_master")}
            if tables - _TABLES:
                raise sqlite3.DatabaseError("another program's file")
            if not tables:
                for statement in _SCHEMA:
                    connection.execute(statement)
                connection.commit()
                with suppress(OSError):
                    path.chmod(0o600)
            head = dict(connection.execute("SELECT name, data FROM head"))
            if "index" in head:
                self._index = self._checked(head)
                if self._index is None and not self._read_only:
                    connection.execute("DELETE FROM head")
                    connection.execute("DELETE FROM pieces")
        except BaseException:
            connection.close()
            raise
        return connection

    def _checked(self, head: dict[str, bytes]) -> bytes | None:
        index, seal = head["index"], head.get("seal", b"")
        sealed = isinstance(index, bytes) and isinstance(seal, bytes) and hmac.compare_digest(seal, self._seal(index))
        return index if sealed else None

    def _seal(self, index: bytes) -> bytes:
        head = b"\0".join([str(_FORMAT).encode(), os.fsencode(str(self.path)), self._release])
        return blake2b(digest_of(head, index), key=self._seal_key, digest_size=32).digest()

    def _give_up(self) -> None:
        self.close()
        self._seal_key = b""


_SCHEMA = (
    "CREATE TABLE head (name TEXT PRIMARY KEY, data BLOB) WITHOUT ROWID",
    "CREATE TABLE pieces (digest BLOB PRIMARY KEY, data BLOB)",
)
_TABLES = {("table", "head"), ("table", "pieces"), ("index", "sqlite_autoindex_pieces_1")}


def _refuse_foreign(path: Path) -> None:
    """Raises OSError for what isn't a plain file of this user."""
    try:
        found = path.lstat()
    except FileNotFoundError:
        return
    if not stat.S_ISREG(found.st_mode) or (hasattr(os, "getuid") and found.st_uid != os.getuid()):
        raise OSError("not this user's file")


def _secret(folder: Path) -> bytes:
    """The secret that seals this user's stores, made when first wanted."""
    path = folder / _SECRET
    _refuse_foreign(path)
    with suppress(FileNotFoundError):
        found = path.read_bytes()
        if len(found) == 32:
            return found
        path.unlink()
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        made = secrets.token_bytes(32)
        os.write(handle, made)
    finally:
        os.close(handle)
    return made


def remove_store(path: Path) -> None:
    """Throw a store away, with what SQLite keeps beside it."""
    for name in (path, Path(f"{path}-wal"), Path(f"{path}-shm"), Path(f"{path}-journal")):
        with suppress(OSError):
            name.unlink(missing_ok=True)
