"""Whatever becomes of the user's cache, the next build says and makes what a clean one does."""

import os
import pickle
import random
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from rich_publication import rich_files, write_rich

from bench.killed import digest
from sitegen.cli import main
from sitegen.disk.cache_folder import cache_file
from sitegen.pipeline import outputs, unchanged
from sitegen.pipeline.unchanged import answer

SEED = 11
as_root = pytest.mark.skipif(not hasattr(os, "getuid") or os.getuid() != 0, reason="files are given away by root alone")


class Lab:
    """The rich publication in two versions and the digests of what clean builds make of them."""

    def __init__(self, place: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
        self.place, self.capsys = place, capsys
        self.source, self.site, self.cache = place / "pub", place / "site", place / "cache" / "sitegen"
        monkeypatch.setenv("XDG_CACHE_HOME", str(self.cache.parent))
        monkeypatch.setattr(unchanged, "RACY", 0)  # else nothing is remembered of files as new as these
        text = rich_files()["reviews/tarn/de.md"].decode()
        self.texts = (text, text.replace("Sie wiegt", "Die Hose wiegt"))
        write_rich(self.source)
        self.clean = []
        for version in (0, 1):
            self.turn(version)
            said = self.build(place / "clean")
            self.clean.append((digest(place / "clean"), said))
            shutil.rmtree(place / "clean")
            shutil.rmtree(self.cache.parent)
        assert self.clean[0] != self.clean[1]

    @property
    def store(self) -> Path:
        """The store of the publication's builds."""
        return Path(cache_file("sqlite", str(self.source)) or "")

    def turn(self, version: int) -> None:
        path = self.source / "reviews/tarn/de.md"
        if path.read_text("utf-8") != self.texts[version]:
            path.write_text(self.texts[version], "utf-8")

    def build(self, to: Path) -> str:
        """What the command says of problems; it must succeed."""
        self.capsys.readouterr()
        words = ["build", str(self.source), "--to", str(to), "--quiet"]
        code = answer(words)
        assert (main(words) if code is None else code) == 0
        return self.capsys.readouterr().err

    def check(self, version: int) -> None:
        """The next build gives the bytes and the words of a clean one."""
        self.turn(version)
        said = self.build(self.site)
        assert (digest(self.site), said) == self.clean[version]


@pytest.fixture
def lab(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Lab:
    """A site that was built once, with its cache."""
    found = Lab(tmp_path, capsys, monkeypatch)
    found.check(0)
    return found


def _flip(path: Path, chance: random.Random) -> None:
    data = bytearray(path.read_bytes()) or bytearray(b"x")
    for _ in range(20):
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    path.write_bytes(data)


def _cut(path: Path, chance: random.Random) -> None:
    data = path.read_bytes()
    path.write_bytes(data[: chance.randrange(len(data) + 1)])


def _empty(path: Path, chance: random.Random) -> None:
    path.write_bytes(b"")


def _folder(path: Path, chance: random.Random) -> None:
    path.unlink()
    (path / "x").mkdir(parents=True)


def _led_astray(path: Path, chance: random.Random) -> None:
    """A link to itself: it can be neither read nor followed, by root either."""
    path.unlink()
    path.symlink_to(path)


def _anybodys(path: Path, chance: random.Random) -> None:
    if os.getuid() == 0:
        os.chown(path, 65534, 65534)  # nobody, by common practice
    path.chmod(0o666)


WAYS: tuple[Callable[[Path, random.Random], None], ...] = (
    _flip,
    _cut,
    _flip,
    _empty,
    _cut,
    _folder,
    _led_astray,
    _anybodys,
)


def test_damage_to_every_file_of_the_cache(lab: Lab) -> None:
    """Each file (store, scan, secret, lock) flipped, cut, emptied, made a folder, a link to itself, anybody's, by a fixed
    seed; what earlier damage left is still there."""
    chance, met = random.Random(SEED), set[str]()
    for number, way in enumerate(WAYS):
        files = sorted(path for path in lab.cache.iterdir() if path.is_file() and not path.is_symlink())
        for path in files:
            met.add(path.suffix.partition("-")[0] or path.name)
            way(path, chance)
        lab.check(number % 3 % 2)  # with an edit before it, and without
    assert {".sqlite", ".scan", "secret"} <= met, met


def test_pieces_that_are_damaged_one_by_one(lab: Lab) -> None:
    """With a sound index, of the pieces one in three is other bytes, another's, text or gone: each is made again."""
    with sqlite3.connect(lab.store) as connection:
        digests = [row[0] for row in connection.execute("SELECT digest FROM pieces ORDER BY digest")]
        assert len(digests) > 60
        damages = (b"other", b"", "text", None, pickle.dumps(["wrong"]))
        connection.executemany(
            "UPDATE pieces SET data = ? WHERE digest = ?",
            [(damages[number % len(damages)], digest) for number, digest in enumerate(digests[::3])],
        )
        connection.executemany("DELETE FROM pieces WHERE digest = ?", [(digest,) for digest in digests[1::9]])
    connection.close()
    lab.check(1)
    lab.check(0)


class Runs:
    """Pickled, it has the ordinary reader run a command."""

    def __init__(self, mark: Path) -> None:
        self.mark = mark

    def __reduce__(self) -> tuple[object, tuple[str]]:
        return os.system, (f"touch {self.mark}",)


def test_a_store_that_would_run_code(lab: Lab) -> None:
    """Bytes that run a command when an ordinary reader loads them, as index and as each piece: nothing runs."""
    mark = lab.place / "mark"
    code = pickle.dumps(Runs(mark))
    with sqlite3.connect(lab.store) as connection:
        connection.execute("UPDATE pieces SET data = ?", (code,))
    connection.close()
    lab.check(1)
    with sqlite3.connect(lab.store) as connection:
        connection.execute("UPDATE head SET data = ? WHERE name = 'index'", (code,))
    connection.close()
    lab.check(0)
    assert not mark.exists()


def test_a_store_of_another_release(lab: Lab, monkeypatch: pytest.MonkeyPatch) -> None:
    """What another release made of the same files, into the same folder and store, is not taken for ours."""
    from sitegen.pipeline import build

    real = outputs.render_sheet
    monkeypatch.setattr(build, "this_release", lambda: b"another")
    monkeypatch.setattr(outputs, "render_sheet", lambda *words: real(*words) + b"<!-- another -->")
    lab.turn(1)
    lab.build(lab.site)
    assert digest(lab.site) != lab.clean[1][0]
    monkeypatch.undo()
    monkeypatch.setenv("XDG_CACHE_HOME", str(lab.cache.parent))
    next(lab.cache.glob("*.scan")).unlink()  # another release has other files, which this one has not
    lab.check(1)


def test_a_store_of_another_publication(lab: Lab) -> None:
    """A store that was put in the place of another's isn't trusted, whatever is in it."""
    other = shutil.copytree(lab.source, lab.place / "other")
    assert main(["build", str(other), "--to", str(lab.place / "its"), "--quiet"]) == 0
    shutil.copyfile(cache_file("sqlite", str(other)) or "", lab.store)
    lab.check(1)


def test_a_cache_that_is_deleted_while_it_is_built(lab: Lab, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody clears the caches in the middle of a build: this one and the next are as ever."""
    real, seen = outputs.pages, list[int]()

    def pages() -> object:
        if not seen:
            shutil.rmtree(lab.cache)
            seen.append(1)
        return real()

    monkeypatch.setattr(outputs, "pages", pages)
    lab.check(1)
    assert seen
    lab.check(0)


@as_root
def test_a_cache_folder_of_somebody_else(lab: Lab) -> None:
    """It is neither read nor written: builds go on without a store."""
    for path in (*lab.cache.iterdir(), lab.cache):
        os.chown(path, 65534, 65534)
    before = {path.name: path.stat().st_mtime_ns for path in lab.cache.iterdir()}
    lab.check(1)
    assert {path.name: path.stat().st_mtime_ns for path in lab.cache.iterdir()} == before
