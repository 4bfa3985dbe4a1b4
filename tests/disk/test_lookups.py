"""Mappings kept to be looked things up in: the same answers as the mapping gives, or a refusal, never a wrong one."""

import pickle
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitegen.disk.lookups import A_BUCKET, KeptMapping, NotAtHand, keep_mapping
from sitegen.disk.packs import Pack

MANY = {("review", f"jacket-{number}", "de"): f"de/reviews/{number}.html" for number in range(500)}


def kept(folder: Path, mapping: dict[object, object]) -> KeptMapping[object, object]:
    """The mapping as another process finds it."""
    pack = Pack(folder / "some.pack")
    place = pickle.loads(pickle.dumps(keep_mapping(pack, mapping)))
    pack.close()
    return KeptMapping(Pack(folder / "some.pack", write=False), place)


TEXTS = st.text(max_size=8)


@given(st.dictionaries(TEXTS | st.tuples(TEXTS, TEXTS), st.integers(), max_size=60), st.lists(TEXTS, max_size=8))
def test_it_answers_as_the_mapping_does(
    tmp_path_factory: pytest.TempPathFactory, mapping: dict[object, object], others: list[str]
) -> None:
    """For keys that are in it, and for such as aren't; half of a surrogate pair may be in a file's name."""
    found = kept(tmp_path_factory.mktemp("kept"), mapping)
    assert len(found) == len(mapping)
    for key in (*mapping, *others, "\udc80"):
        assert (key in found) == (key in mapping)
        assert found.get(key) == mapping.get(key)


def test_few_entries_are_loaded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A look-up reads the list of buckets once, and then a bucket of some dozen entries at most."""
    found, read = kept(tmp_path, dict(MANY)), list[int]()
    ask = Pack.read

    def noted(pack: Pack, span: bytes) -> bytes | None:
        data = ask(pack, span)
        read.append(len(pickle.loads(data)) if read and data else 0)
        return data

    monkeypatch.setattr(Pack, "read", noted)
    key = ("review", "jacket-7", "de")
    assert found[key] == found[key] == MANY[key]
    assert len(read) == 2 and 0 < read[1] <= 4 * A_BUCKET


def test_nobody_goes_through_all(tmp_path: Path) -> None:
    """A walk would see a part only."""
    found = kept(tmp_path, dict(MANY))
    for walk in (list, dict, sorted):
        with pytest.raises(NotAtHand):
            walk(found)  # type: ignore[operator]


@pytest.mark.parametrize("at", range(0, 40, 3))
def test_a_damaged_piece_is_no_answer(tmp_path: Path, at: int) -> None:
    """One bit flipped anywhere: each key is answered rightly or refused, and never said to be missing."""
    pack = tmp_path / "some.pack"
    place = keep_mapping(Pack(pack), MANY)
    data = bytearray(pack.read_bytes())
    data[len(data) * at // 40] ^= 4
    pack.write_bytes(data)
    found, refused = KeptMapping[object, str](Pack(pack, write=False), place), 0
    for key, value in MANY.items():
        try:
            assert found.get(key) == value
        except NotAtHand:
            refused += 1
    assert refused
