"""Records on shelves: what is taken from a pack is what was put there, or is made anew."""

import pickle
from pathlib import Path
from typing import Any

import pytest

from sitegen.datatypes import dataclass
from sitegen.disk import packs
from sitegen.disk.memory import Memory, Pieces
from sitegen.disk.packs import Pack, said
from sitegen.place import Place
from sitegen.records.keeping import Altered, Light, Parts, Shelf

PARTS: Parts[dict[str, Any]] = Parts(
    lambda record: record | {"body": None}, lambda record: record["body"], lambda light, load: light | {"body": load()}
)


def shelf_of(folder: Path, made: list[str], digests: dict[str, str], alone: bool = True) -> tuple[Pieces, Shelf[Any]]:
    """A shelf with a record for each file of `digests`, whose contents are its digest; `made` notes which were made."""
    keep = Pieces(Memory(folder), "tool", lambda name: digests.get(name, ""), alone)

    def make(id: str) -> tuple[Any, Any]:
        made.append(id)
        return {"id": id, "body": digests[id] * 1000}, f"note of {id}"

    shelf: Shelf[Any] = keep.shelf("things", make, PARTS)
    for id in digests:
        assert shelf.take(id, (id,)) == f"note of {id}"
    return keep, shelf


def test_records_are_made_once_and_found_again(tmp_path: Path) -> None:
    """What lies on a shelf is made once for the same files; one whose file changed, and no other, is made anew."""
    made: list[str] = []
    keep, shelf = shelf_of(tmp_path, made, {"b": "2", "a": "1", "c": "3"})
    assert list(shelf) == ["a", "b", "c"] and len(shelf) == 3 and "a" in shelf and "x" not in shelf
    keep.save_shelves()
    _, again = shelf_of(tmp_path, made, {"a": "1", "b": "4"})
    assert made == ["b", "a", "c", "b"]
    assert dict(again) == {"a": {"id": "a", "body": "1" * 1000}, "b": {"id": "b", "body": "4" * 1000}}
    with pytest.raises(KeyError):
        again["c"]


def test_without_the_table_of_a_build_that_ended_nothing_is_found(tmp_path: Path) -> None:
    """A build that is killed leaves records behind the others: they are never taken for what the table speaks of."""
    made: list[str] = []
    shelf_of(tmp_path, made, {"a": "1"})
    _, shelf = shelf_of(tmp_path, made, {"a": "1"})
    assert made == ["a", "a"] and shelf["a"]["body"] == "1" * 1000


@pytest.mark.parametrize("at", [0.0, 0.3, 0.6, 0.95])
def test_a_damaged_record_is_made_anew(tmp_path: Path, at: float) -> None:
    """A bit flipped anywhere in a pack: whoever asks for the record gets what its files say."""
    made: list[str] = []
    keep, _ = shelf_of(tmp_path, made, {"a": "1", "b": "2"})
    keep.save_shelves()
    pack = tmp_path / "things.pack"
    data = bytearray(pack.read_bytes())
    data[int(at * len(data))] ^= 8
    pack.write_bytes(data)
    _, shelf = shelf_of(tmp_path, made, {"a": "1", "b": "2"})
    assert [shelf[id]["body"] for id in ("a", "b")] == ["1" * 1000, "2" * 1000]
    assert [shelf.light(id)["id"] for id in ("a", "b")] == ["a", "b"]
    assert len(made) == 3


@pytest.mark.parametrize("what", ["cut", "gone", "a folder", "empty"])
def test_a_pack_that_is_no_more_costs_time_only(tmp_path: Path, what: str) -> None:
    """A pack that was cut, removed or replaced by something else: the records are those of their files."""
    made: list[str] = []
    keep, _ = shelf_of(tmp_path, made, {"a": "1", "b": "2"})
    keep.save_shelves()
    pack = tmp_path / "things.pack"
    data = pack.read_bytes()
    pack.unlink()
    if what == "a folder":
        pack.mkdir()
    elif what != "gone":
        pack.write_bytes(data[: len(data) // 2] if what == "cut" else b"")
    keep, shelf = shelf_of(tmp_path, made, {"a": "1", "b": "2"})
    assert [shelf[id]["body"] for id in ("a", "b")] == ["1" * 1000, "2" * 1000]
    keep.save_shelves()
    _, shelf = shelf_of(tmp_path, made, {"a": "1", "b": "2"})
    assert [shelf[id]["body"] for id in ("a", "b")] == ["1" * 1000, "2" * 1000]


def test_a_pack_doesn_t_grow_for_ever(tmp_path: Path) -> None:
    """After many edits a pack holds about what is in use."""
    digests = {"a": "1", "b": "2"}
    for number in range(50):
        digests["a"] = f"{number:02d}"
        keep, shelf = shelf_of(tmp_path, [], digests)
        keep.save_shelves()
    used = 2 * len(pickle.dumps("02" * 1000)) + 2 * len(pickle.dumps({"id": "a", "body": None}))
    assert (tmp_path / "things.pack").stat().st_size <= (packs.WASTE + 1) * used
    _, shelf = shelf_of(tmp_path, [], digests)
    assert [shelf[id]["body"] for id in ("a", "b")] == ["49" * 1000, "2" * 1000]


def test_what_is_not_kept_is_still_there_when_a_pack_is_written_anew(tmp_path: Path) -> None:
    """A record of files that are no plain files, and one that was damaged: both are found until the build ends."""
    digests = {"a": "1", "b": ""}  # nothing is known of what b will hold
    for number in range(9):
        digests["a"] = str(number)
        keep, shelf = shelf_of(tmp_path, [], digests)
        keep.save_shelves()
        assert [shelf[id]["body"] for id in ("a", "b")] == [str(number) * 1000, ""]
        assert shelf.light("b")["id"] == "b"


def test_few_records_are_in_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However many records there are, so many are held as were asked for last; each is still found."""
    monkeypatch.setattr(packs, "AT_HAND", 3)
    _, shelf = shelf_of(tmp_path, [], {f"r{n}": str(n) for n in range(9)})
    assert [shelf[f"r{n}"]["body"][0] for n in range(9)] == [str(n) for n in range(9)]
    assert len(shelf._wholes) == 3  # type: ignore[attr-defined]


def test_the_light_part_lacks_what_is_heavy(tmp_path: Path) -> None:
    """Cards are looked at without their bodies, through whatever lies between."""
    _, shelf = shelf_of(tmp_path, [], {"a": "1", "b": "2"})
    assert shelf.light("a") == {"id": "a", "body": None} == Light(shelf)["a"]
    altered: Altered[Any] = Altered(shelf, gone={"b"}, replaced={"a": {"id": "a", "body": "less"}})
    assert dict(altered) == {"a": {"id": "a", "body": "less"}} and len(altered) == 1
    with pytest.raises(KeyError):
        altered["b"]
    with pytest.raises(KeyError):
        altered.light("b")


@dataclass(frozen=True, slots=True)
class Said:
    """A word with the place it stands at."""

    word: str
    place: Place


def test_a_digest_is_of_what_is_said_not_where() -> None:
    """A record that moved by a line says the same."""
    assert said(Said("x", Place("a.md", 1, 1))) == said(Said("x", Place("a.md", 7, 3)))
    assert said(Said("x", Place("a.md", 1, 1))) != said(Said("y", Place("a.md", 1, 1)))


def test_who_is_not_alone_adds_nothing(tmp_path: Path) -> None:
    """A helper elsewhere takes from the pack what is there, and holds what isn't."""
    made: list[str] = []
    keep, _ = shelf_of(tmp_path, made, {"a": "1"})
    keep.save_shelves()
    before = (tmp_path / "things.pack").read_bytes()
    _, shelf = shelf_of(tmp_path, made, {"a": "1", "b": "2"}, alone=False)
    assert made == ["a", "b"] and [shelf[id]["body"][0] for id in ("a", "b")] == ["1", "2"]
    assert (tmp_path / "things.pack").read_bytes() == before


def test_files_that_are_no_plain_files_are_read_each_time(tmp_path: Path) -> None:
    """Where a file's digest says nothing of what it will hold, the record is made at each build."""
    made: list[str] = []

    def make(id: str) -> tuple[Any, None]:
        made.append(id)
        return {"id": id, "body": "1"}, None

    for times in (1, 2):
        keep = Pieces(Memory(tmp_path), "tool", lambda name: "")
        shelf: Shelf[Any] = keep.shelf("things", make, PARTS)
        shelf.take("a", ("a",))
        assert shelf["a"]["body"] == "1" and shelf.digest("a") == "" == shelf.sum()
        keep.save_shelves()
        assert len(made) == times


def test_pack_gives_nothing_for_a_wrong_sum(tmp_path: Path) -> None:
    """A piece is given back only whole."""
    pack = Pack(tmp_path / "p.pack")
    span = pack.add(b"whole")
    assert pack.read(span) == b"whole"
    start, _, checksum = packs.SPAN.unpack(span)
    assert pack.read(packs.SPAN.pack(start, 4, checksum)) is None
    pack.close()
