"""The store of what builds made: pieces by digest, one sealed index, and nothing that can stop a build."""

import os
import sqlite3
from pathlib import Path

import pytest

from sitegen.disk import cache_folder as cache
from sitegen.disk.store import DIGEST, Store, digest_of

RELEASE = b"release"
needs_users = pytest.mark.skipif(
    not hasattr(os, "getuid") or os.getuid() != 0, reason="files are given away by root alone"
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where a store lies."""
    return tmp_path / "cache" / "one.store"


def saved(path: Path, release: bytes = RELEASE) -> bytes:
    """A store with one piece and an index; the digest of the piece."""
    store, digest = Store(path, release), digest_of(b"piece")
    assert store.stores
    store.put(digest, b"piece")
    store.save(b"index", {digest})
    store.close()
    return digest


def trusted(path: Path, release: bytes = RELEASE) -> bytes | None:
    """The index that a store gives, having shown that it still works."""
    store = Store(path, release)
    index = store.index
    store.put(digest_of(b"new"), b"new")
    assert store.get(digest_of(b"new")) == b"new"
    store.close()
    return index


def test_digests_are_those_of_the_standard() -> None:
    """BLAKE2b of 160 bits with each part's length before it: parts that are cut otherwise have another digest.

    The reference is `b2sum -l 160` (GNU coreutils) of eight bytes of length and "abc".
    """
    import subprocess

    framed = (3).to_bytes(8, "big") + b"abc"
    reference = subprocess.run(["b2sum", "-l", "160"], input=framed, capture_output=True, check=True).stdout
    assert digest_of(b"abc").hex() == reference.split()[0].decode()
    assert len({digest_of(b"ab", b"c"), digest_of(b"a", b"bc"), digest_of(b"abc")}) == 3
    assert len(digest_of()) == DIGEST


def test_what_was_saved_comes_back(path: Path) -> None:
    """Index and pieces outlive the process; of pieces those that are in use."""
    digest = saved(path)
    store = Store(path, RELEASE)
    assert (store.index, store.get(digest), store.get(digest_of(b"other"))) == (b"index", b"piece", None)
    store.put(digest_of(b"other"), b"other")
    store.save(b"second", {digest_of(b"other")})
    store.close()
    again = Store(path, RELEASE)
    assert (again.index, again.get(digest), again.get(digest_of(b"other"))) == (b"second", None, b"other")
    again.close()


def test_what_was_not_saved_is_forgotten(path: Path) -> None:
    """A build that is ended leaves the index of before, and no piece that belongs to no index counts for anything."""
    digest = saved(path)
    store = Store(path, RELEASE)
    store.put(digest_of(b"other"), b"other")
    store.close()
    again = Store(path, RELEASE)
    assert (again.index, again.get(digest), again.get(digest_of(b"other"))) == (b"index", b"piece", None)
    again.close()


def test_a_store_is_of_one_release(path: Path) -> None:
    """Another release of the tool throws it away; without a name of the release nothing is stored."""
    saved(path)
    assert trusted(path, b"another") is None
    saved(path, b"another")
    assert trusted(path) is None
    assert not Store(path, b"").stores


def test_a_store_is_of_one_place_and_secret(path: Path) -> None:
    """One that was copied from elsewhere, or sealed with another user's secret, isn't trusted."""
    saved(path)
    other = path.with_name("two.store")
    other.write_bytes(path.read_bytes())
    assert trusted(other) is None
    (path.parent / "secret").unlink()
    assert trusted(path) is None


@pytest.mark.parametrize("name", ["index", "seal"])
def test_an_index_that_was_written_to_is_not_trusted(name: str, path: Path) -> None:
    """Nobody's index is read who hasn't got the secret: it is bytes of a format that trusts its writer."""
    saved(path)
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE head SET data = ? WHERE name = ?", (b"\x00" * 32, name))
    connection.close()
    assert trusted(path) is None


def test_a_piece_that_was_written_to_is_not_there(path: Path) -> None:
    """A piece whose digest isn't its name is none, whatever stands in its place, and is put there anew."""
    digest = saved(path)
    for damage in (b"other", "text", 7, None):
        with sqlite3.connect(path) as connection:
            connection.execute("UPDATE pieces SET data = ?", (damage,))
        connection.close()
        store = Store(path, RELEASE)
        assert (store.index, store.get(digest)) == (b"index", None)
        store.put(digest, b"piece")
        assert store.get(digest) == b"piece"
        store.close()


@pytest.mark.parametrize(
    "damage",
    [
        lambda path: path.write_bytes(b""),
        lambda path: path.write_bytes(b"not a database at all" * 500),
        lambda path: path.write_bytes(path.read_bytes()[: path.stat().st_size // 2]),
        lambda path: path.write_bytes(path.read_bytes()[:100] + b"\xff" * 3000 + path.read_bytes()[3100:]),
        lambda path: (path.unlink(), path.symlink_to("/etc/hostname")),
        lambda path: (path.unlink(), path.symlink_to(path)),
        lambda path: (path.unlink(), path.mkdir()),
        lambda path: (path.unlink(), os.mkfifo(path)),
        lambda path: sqlite3.connect(path).execute("CREATE TABLE others (a)").connection.close(),
        lambda path: sqlite3.connect(path).execute("DROP TABLE pieces").connection.close(),
        lambda path: sqlite3.connect(path).execute("ALTER TABLE pieces ADD COLUMN more").connection.close(),
        lambda path: sqlite3.connect(path).executescript(
            "CREATE TRIGGER t AFTER INSERT ON pieces BEGIN DELETE FROM pieces; END"
        ).connection.close(),
        lambda path: (path.parent / "secret").write_bytes(b"short"),
        lambda path: ((path.parent / "secret").unlink(), (path.parent / "secret").mkdir()),
    ],
    ids=[
        "empty", "nonsense", "half", "overwritten", "a link", "a link to itself", "a folder", "a pipe", "another table",
        "a table less", "a column more", "a trigger", "a short secret", "a secret that is a folder",
    ],
)  # fmt: skip
def test_no_damage_raises(damage: object, path: Path) -> None:
    """Whatever lies where the store should, it works for the process, and what can't be trusted isn't."""
    digest = saved(path)
    damage(path)  # type: ignore[operator]
    store = Store(path, RELEASE)
    assert store.get(digest) in (None, b"piece")
    store.put(digest_of(b"new"), b"new")
    assert store.get(digest_of(b"new")) == b"new"
    store.save(b"second", {digest_of(b"new")})
    store.close()
    assert Path("/etc/hostname").exists()


def test_a_store_deleted_while_it_is_open(path: Path) -> None:
    """The process goes on; the next one begins anew."""
    digest = saved(path)
    store = Store(path, RELEASE)
    path.unlink()
    assert store.get(digest) in (None, b"piece")
    store.put(digest_of(b"new"), b"new")
    store.save(b"second", {digest_of(b"new")})
    store.close()
    assert trusted(path) is None


def test_a_store_that_is_in_use_is_left_to_its_user(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second process that may not write works without; what the first saves stands, and stays whole."""
    monkeypatch.setattr("sitegen.disk.store._IN_USE_MS", 50)
    saved(path)
    first, second = Store(path, RELEASE), Store(path, RELEASE)
    first.put(digest_of(b"a"), b"a")
    second.put(digest_of(b"b"), b"b")
    assert not second.stores and second.get(digest_of(b"b")) == b"b"
    second.save(b"of the second", {digest_of(b"b")})
    first.save(b"of the first", {digest_of(b"a")})
    first.close(), second.close()
    again = Store(path, RELEASE)
    assert (again.index, again.get(digest_of(b"a"))) == (b"of the first", b"a")
    again.close()


def test_who_only_reads_writes_nothing(path: Path) -> None:
    """A worker's store gives what its parent's has committed, holds what is new in memory, and changes no byte."""
    digest = saved(path)
    store = Store(path, RELEASE)
    reader = store.for_reading()
    reader.put(digest_of(b"new"), b"new")
    assert (reader.index, reader.get(digest), reader.get(digest_of(b"new"))) == (b"index", b"piece", b"new")
    reader.save(b"second", set())
    reader.drop_new()
    assert reader.get(digest_of(b"new")) is None
    reader.close(), store.close()
    assert trusted(path) == b"index"


def test_a_full_disk_costs_only_what_would_be_stored(path: Path) -> None:
    """Where SQLite has no room (here by its own limit of pages) the process goes on and keeps what it made."""
    saved(path)
    store = Store(path, RELEASE)
    assert store._connection is not None
    store._connection.execute("PRAGMA max_page_count = 12")
    pieces = {digest_of(bytes([number]) * 20_000): bytes([number]) * 20_000 for number in range(8)}
    for digest, data in pieces.items():
        store.put(digest, data)
    assert not store.stores
    store.save(b"second", pieces)
    assert store.get(next(reversed(pieces))) == pieces[next(reversed(pieces))]
    store.close()
    assert trusted(path) == b"index"


def test_files_of_the_store_are_closed_to_others(path: Path) -> None:
    """Folder 0700, store and secret 0600, whatever the umask: what is stored of a publication may not be public yet."""
    before = os.umask(0)
    try:
        saved(path)
    finally:
        os.umask(before)
    modes = {found.name: found.stat().st_mode & 0o777 for found in (path.parent, path, path.parent / "secret")}
    assert modes == {"cache": 0o700, "one.store": 0o600, "secret": 0o600}


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user's cache folder, with ours not made yet."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "own"))
    return tmp_path / "own" / "sitegen"


def test_the_cache_folder_is_the_users_own(own: Path) -> None:
    """Made with mode 0700, and closed again where it stands open; by the XDG Base Directory Specification a relative
    path doesn't count."""
    assert cache.cache_folder() == str(own)
    own.chmod(0o777)
    assert cache.cache_folder() == str(own)
    assert own.stat().st_mode & 0o777 == 0o700
    os.environ["XDG_CACHE_HOME"] = "relative"
    os.environ["HOME"], home = str(own.parent), os.environ["HOME"]
    try:
        assert cache.cache_folder() == str(own.parent / ".cache" / "sitegen")
    finally:
        os.environ["HOME"] = home


def test_a_cache_folder_that_is_none_is_not_used(own: Path) -> None:
    """A link or a file in its place: nothing is stored."""
    own.parent.mkdir()
    (own.parent / "elsewhere").mkdir()
    own.symlink_to(own.parent / "elsewhere")
    assert cache.cache_folder() is None
    own.unlink()
    own.write_text("a file")
    assert cache.cache_folder() is None and cache.cache_file("store", "a") is None


@needs_users
def test_another_users_folder_or_file_is_not_used(own: Path, path: Path) -> None:
    """What somebody else could have written is never read as ours."""
    own.mkdir(parents=True)
    os.chown(own, 65534, 65534)  # nobody, by common practice
    assert cache.cache_folder() is None
    saved(path)
    os.chown(path, 65534, 65534)
    assert trusted(path) is None


def test_each_pair_of_folders_has_a_file_of_its_own(own: Path) -> None:
    """Also where two names put together read the same; a link names what it leads to."""
    files = {cache.cache_file("store", *names) for names in (("/a", "/b"), ("/a/b", "/"), ("/a",), ("/b", "/a"))}
    assert len(files) == 4
    own.mkdir(parents=True, exist_ok=True)
    (own / "link").symlink_to(own)
    assert cache.cache_file("store", str(own / "link")) == cache.cache_file("store", str(own))
