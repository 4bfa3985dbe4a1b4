"""Whatever becomes of the memory, the next build says and makes what a clean one does."""

import os
import pickle
import random
import shutil
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
import sitegen.build as building
import sitegen.pages_made as pages_made
from rich_publication import rich_files, write_rich
from sitegen.disk.memory import key_of
from sitegen.disk.unchanged import answer

from bench.killed import digest
from sitegen.cli import main

DAMAGES, AT_ONCE, SEED = 40, 4, 11
Damage = Callable[[Path, Path, random.Random], None]


@cache
def tables() -> dict[str, str]:
    """The names of the kept tables by their keys."""
    names = ("files", "checks", "templates", "pack products", "pack readings", "pack reviews", "site", "told")
    return {key_of("table", building.tool_digest(), name): f"table {name}" for name in names}


def kind(piece: Path) -> str:
    """What a file of the memory holds, by a look into it."""
    if piece.name in {"unchanged", "lock"} or piece.suffix == ".pack":
        return piece.name
    if piece.parent.name + piece.name in tables():
        return tables()[piece.parent.name + piece.name]
    data = piece.read_bytes()[33:]  # behind the head and the sum
    if data[:1] in b"[<":
        return "drawing" if data[:1] == b"<" else "picture" if data[:2] == b"[[" else "wetted"
    try:
        held = pickle.loads(data)
    except Exception:
        return "damaged"
    return "pages" if len(held) == 5 else type(held[0]).__name__


def _flip(piece: Path, other: Path, chance: random.Random) -> None:
    data = bytearray(piece.read_bytes()) or bytearray(b"x")
    data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    piece.write_bytes(data)


def _cut(piece: Path, other: Path, chance: random.Random) -> None:
    data = piece.read_bytes()
    piece.write_bytes(data[: chance.randrange(len(data) + 1)])


def _swap(piece: Path, other: Path, chance: random.Random) -> None:
    one, two = piece.read_bytes(), other.read_bytes()
    piece.write_bytes(two)
    other.write_bytes(one)


def _empty(piece: Path, other: Path, chance: random.Random) -> None:
    piece.write_bytes(b"")


def _folder(piece: Path, other: Path, chance: random.Random) -> None:
    piece.unlink()
    (piece / "x").mkdir(parents=True)


def _of_another_format(piece: Path, other: Path, chance: random.Random) -> None:
    piece.write_bytes(
        piece.read_bytes().replace(b"sitegen memory 1", b"sitegen memory 0").replace(b"state 2", b"state 0")
    )


def _nobodys(piece: Path, other: Path, chance: random.Random) -> None:
    if os.getuid() == 0:
        os.chown(piece, 65534, 65534)  # nobody, by common practice
    piece.chmod(0)


def _led_astray(piece: Path, other: Path, chance: random.Random) -> None:
    """A link to itself: it can be neither read nor followed, by root either."""
    piece.unlink()
    piece.symlink_to(piece)


WAYS: tuple[Damage, ...] = (_flip, _cut, _swap, _empty, _folder, _of_another_format, _nobodys, _led_astray, _flip, _cut)


def pieces(memory: Path) -> dict[str, list[Path]]:
    """The files of a memory by kind."""
    found: dict[str, list[Path]] = {}
    for path in sorted(path for path in memory.rglob("*") if path.is_file() and not path.is_symlink()):
        found.setdefault(kind(path), []).append(path)
    return found


class Lab:
    """The rich publication in two versions and the digests of what clean builds make of them."""

    def __init__(self, place: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.place, self.capsys = place, capsys
        self.source, self.site, self.memory = place / "pub", place / "site", place / "site.memory"
        text = rich_files()["reviews/tarn/de.md"].decode()
        self.texts = (text, text.replace("Sie wiegt", "Die Hose wiegt"))
        write_rich(self.source)
        self.clean = []
        for version in (0, 1):
            self.turn(version)
            said = self.build(place / "clean")
            self.clean.append((digest(place / "clean"), said))
            shutil.rmtree(place / "clean")
            shutil.rmtree(place / "clean.memory")
        assert self.clean[0] != self.clean[1]

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

    def check(self, version: int, tried: list[str]) -> None:
        """The next build gives the bytes and the words of a clean one."""
        self.turn(version)
        said = self.build(self.site)
        assert (digest(self.site), said) == self.clean[version], tried


def test_a_damaged_memory(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Pieces and tables of every kind flipped, cut, swapped, emptied, of another format, made folders, anybody's: by a
    fixed seed, some before each build, what earlier damage left still there. Prints what was tried."""
    lab, chance, tried, met = Lab(tmp_path, capsys), random.Random(SEED), list[str](), set[str]()
    lab.check(0, tried)
    for number in range(DAMAGES // AT_ONCE):
        for _ in range(AT_ONCE):
            found = pieces(lab.memory)
            every = [path for paths in found.values() for path in paths]
            waiting = sorted(set(found) - met - {"damaged"}) or sorted(found)
            chosen, way = chance.choice(waiting), WAYS[len(tried) % len(WAYS)]
            piece = chance.choice(found[chosen])
            way(piece, chance.choice(every), chance)
            met.add(chosen)
            tried.append(f"{way.__name__} {chosen} {piece.relative_to(lab.memory)}")
        lab.check(number // 2 % 2, tried)  # with an edit before it, and without
    with capsys.disabled():
        print(f"\n{len(tried)} damages, seed {SEED}:", *tried, sep="\n  ")
    assert len(tried) == DAMAGES
    assert (
        len(met) >= 11 and {*tables().values(), "drawing", "picture", "wetted", "pages", "unchanged", "lock"} <= met
    ), sorted(met)


def test_everything_damaged_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With no piece left as it was, each in its own way, all is made anew; the build after that is a common one."""
    lab, chance = Lab(tmp_path, capsys), random.Random(SEED)
    lab.check(0, [])
    every = [path for paths in pieces(lab.memory).values() for path in paths]
    for number, piece in enumerate(every):
        way = WAYS[number % len(WAYS)]
        way(piece, chance.choice([path for path in every if path.is_file()]), chance)
    assert len(every) > 2 * len(WAYS)
    for version in (0, 0, 1):
        lab.check(version, ["all"])


def test_a_memory_of_another_tool(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What another release made of the same files, into the same folder and memory, is not taken for ours."""
    lab, real = Lab(tmp_path, capsys), pages_made.render_sheet
    monkeypatch.setattr(building, "tool_digest", lambda: "another")
    monkeypatch.setattr(pages_made, "render_sheet", lambda *words: real(*words) + b"<!-- another -->")
    lab.turn(0)
    lab.build(lab.site)
    assert digest(lab.site) != lab.clean[0][0]
    monkeypatch.undo()
    (lab.memory / "unchanged").unlink()  # another release has other files, which this one has not
    lab.check(0, ["another tool"])
