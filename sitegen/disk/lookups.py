"""Mappings kept in a pack, of which a look-up loads a few entries, however many there are."""

import pickle
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple, NoReturn, TypeVar
from zlib import crc32

from sitegen.disk.packs import SPAN, Pack, Span

K = TypeVar("K")
V = TypeVar("V")
A_BUCKET = 12  # entries that are loaded together


class NotAtHand(Exception):
    """More was asked for than is kept to be looked up. No KeyError: nobody may take it for an entry that isn't there."""


class Damaged(NotAtHand):
    """What was kept isn't whole any more."""


class Kept(NamedTuple):
    """A mapping in a pack: its number of entries, and where the list of its buckets stands."""

    entries: int
    buckets: Span


def keep_mapping(pack: Pack, mapping: Mapping[Any, Any]) -> Kept:
    """Write a mapping to a pack, its keys being texts or tuples of texts. Raises OSError."""
    buckets: list[dict[Any, Any]] = [{} for _ in range(len(mapping) // A_BUCKET + 1)]
    for key, value in mapping.items():
        buckets[_number(key, len(buckets))][key] = value
    spans = pack.add_all([pickle.dumps(bucket, 5) for bucket in buckets])
    return Kept(len(mapping), pack.add(b"".join(spans)))


class KeptMapping(Mapping[K, V]):
    """A mapping that was kept. What it is asked for is loaded; raises Damaged where that isn't whole any more, and NotAtHand to
    whoever wants to go through all of it.
    """

    def __init__(self, pack: Pack, kept: Kept) -> None:
        self._pack, self._kept = pack, kept
        self._spans: bytes | None = None
        self._loaded: dict[int, dict[Any, Any]] = {}

    def __getitem__(self, key: K) -> V:
        found: V = self._bucket(key)[key]
        return found

    def __contains__(self, key: object) -> bool:
        return key in self._bucket(key)

    def __iter__(self) -> Iterator[K]:
        return _refuse()

    def __len__(self) -> int:
        return self._kept.entries

    def _bucket(self, key: object) -> dict[Any, Any]:
        if self._spans is None:
            self._spans = _whole(self._pack, self._kept.buckets)
        number = _number(key, len(self._spans) // SPAN.size)
        found = self._loaded.get(number)
        if found is None:
            span = self._spans[number * SPAN.size : (number + 1) * SPAN.size]
            found = self._loaded[number] = loaded(self._pack, span)
        return found


def loaded(pack: Pack, span: Span) -> Any:
    """A piece of a pack. Raises Damaged where it isn't what it was."""
    data = _whole(pack, span)
    try:
        return pickle.loads(data)
    except Exception as fault:  # it lacks what the code of today wants, whatever that raises
        raise Damaged from fault


def _whole(pack: Pack, span: Span) -> bytes:
    data = pack.read(span)
    if data is None:
        raise Damaged
    return data


def _refuse() -> NoReturn:
    raise NotAtHand


def _number(key: object, buckets: int) -> int:
    return crc32("\0".join(_words(key)).encode("utf-8", "surrogateescape")) % buckets


def _words(key: object) -> Iterator[str]:
    if isinstance(key, tuple):
        for part in key:
            yield from _words(part)
    else:
        yield str(key)
