"""The memory: a piece comes back only whole and only for the very same key."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.disk.memory import Memory, key_of

KEY = key_of("chart", "a")


def test_what_was_put_comes_back(tmp_path: Path) -> None:
    """In the same build and in a later one, and under its own key alone."""
    assert Memory(tmp_path).put(KEY, b"piece") == b"piece"
    assert Memory(tmp_path).get(KEY) == b"piece"
    assert Memory(tmp_path).get(key_of("chart", "b")) is None


@given(st.integers(0, 10_000), st.integers(1, 255))
def test_a_flipped_bit_is_noticed(at: int, flip: int) -> None:
    """Any single byte changed anywhere in the kept file makes it count as never made."""
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        memory = Memory(Path(name))
        memory.put(KEY, b"piece of some length")
        (path,) = (p for p in Path(name).rglob("*") if p.is_file())
        data = bytearray(path.read_bytes())
        data[at % len(data)] ^= flip
        path.write_bytes(bytes(data))
        assert memory.get(KEY) is None


def test_things_come_back_whole_or_not_at_all(tmp_path: Path) -> None:
    """A table that was dumped comes back the same; with any byte changed, cut anywhere or under another name it doesn't."""
    thing = {f"r{n}": (n, b"x" * n) for n in range(400)}  # longer than one block
    memory = Memory(tmp_path)
    memory.dump(KEY, thing)
    assert Memory(tmp_path).load(KEY) == thing
    (path,) = (p for p in tmp_path.rglob("*") if p.is_file())
    whole = path.read_bytes()
    for at in range(0, len(whole), 997):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        assert memory.load(KEY) is None
        path.write_bytes(whole[:at])
        assert memory.load(KEY) is None
    other = key_of("chart", "b")
    (tmp_path / other[:2]).mkdir(exist_ok=True)
    (tmp_path / other[:2] / other[2:]).write_bytes(whole)
    assert memory.load(other) is None


def test_what_is_no_pickle_is_no_thing(tmp_path: Path) -> None:
    """A whole piece that is something else counts as never made."""
    memory = Memory(tmp_path)
    memory.put(KEY, b"no pickle")
    assert memory.load(KEY) is None and memory.get(KEY) == b"no pickle"


@pytest.mark.parametrize("kept", [0, 5, 17, 20, 33, 40])
def test_a_cut_file_is_noticed(kept: int, tmp_path: Path) -> None:
    """A build that was ended while writing leaves nothing that a later one would trust."""
    memory = Memory(tmp_path)
    memory.put(KEY, b"a piece that is long enough to be cut anywhere")
    (path,) = (p for p in tmp_path.rglob("*") if p.is_file())
    path.write_bytes(path.read_bytes()[:kept])
    assert memory.get(KEY) is None
    memory.put(KEY, b"again")
    assert memory.get(KEY) == b"again"


def test_another_version_is_made_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What another format wrote counts as never made."""
    memory = Memory(tmp_path)
    memory.put(KEY, b"piece")
    monkeypatch.setattr("sitegen.disk.memory._HEAD", b"sitegen memory 2\n")
    assert memory.get(KEY) is None


def test_keys_depend_on_every_part_and_where_it_ends() -> None:
    """Parts joined differently, in another order or of another kind give another key; the same give the same."""
    keys = [key_of("a", "bc"), key_of("ab", "c"), key_of("abc"), key_of("bc", "a"), key_of("a", "bc", "")]
    assert len(set(keys)) == len(keys)
    assert key_of("ä") == key_of("ä".encode())


def test_what_no_build_asked_for_is_forgotten(tmp_path: Path) -> None:
    """The memory doesn't grow for ever: what the last build did not use goes."""
    other = key_of("chart", "b")
    first = Memory(tmp_path)
    first.put(KEY, b"1")
    first.put(other, b"2")
    second = Memory(tmp_path)
    assert second.get(KEY) == b"1"
    second.forget_unused()
    assert Memory(tmp_path).get(KEY) == b"1"
    assert Memory(tmp_path).get(other) is None


def test_a_memory_that_cannot_be_written_costs_time_only(tmp_path: Path) -> None:
    """A file stands where the folder should be: pieces are made, nothing is kept, nothing fails."""
    (tmp_path / "memory").write_bytes(b"")
    memory = Memory(tmp_path / "memory")
    assert memory.put(KEY, b"piece") == b"piece"
    assert memory.get(KEY) is None
    memory.forget_unused()
    assert Memory(None).put(KEY, b"piece") == b"piece"
    assert Memory(None).get(KEY) is None
