"""In which file of the record an address stands: mostly one, several where one would become too large to be read."""

from collections.abc import Iterable, Iterator, Mapping

from sitegen.records.names.addresses import ADDRESSES_FILE, ADDRESSES_FOLDER, Address, Addresses, addresses_text
from sitegen.text.source import LARGEST_TEXT

ROOM = LARGEST_TEXT * 3 // 4  # bytes; the rest is left to further languages and former addresses of a file's pages
_HEAD = len(addresses_text(Addresses()))


def by_file(known: Addresses, new: Addresses, sizes: Mapping[str, int]) -> dict[str, Addresses]:
    """The entries of `new` for each file: what stood in one stays there, also what is new of its page.

    `sizes` are the bytes of the files there are. Further pages go into addresses.yaml while there is room, and then
    into addresses/2.yaml and so on, so that an author who parted the record finds each part as it was.
    """
    of_path = {entry.path: entry.place.file for entry in known.entries}
    of_page = {page: place.file for page, place in known.pages().items()}
    pages: dict[tuple[str, str], list[Address]] = {}
    for entry in new.entries:
        pages.setdefault((entry.kind, entry.id), []).append(entry)
    fresh = {page: entries for page, entries in pages.items() if page not in of_page}
    of_page |= zip(fresh, _with_room(map(_bytes_of, fresh.values()), sizes), strict=True)
    found: dict[str, list[Address]] = {name: [] for name in sizes or (ADDRESSES_FILE,)}
    for page, entries in pages.items():
        for entry in entries:
            found.setdefault(of_path.get(entry.path, of_page[page]), []).append(entry)
    return {name: Addresses(tuple(entries)) for name, entries in found.items()}


def _with_room(needed: Iterable[int], sizes: Mapping[str, int]) -> Iterator[str]:
    """For each page that needs so many bytes the file that takes it."""
    name, number = ADDRESSES_FILE, 1
    taken = sizes.get(name, _HEAD)
    for bytes_ in needed:
        while taken > _HEAD and taken + bytes_ > ROOM:
            number += 1
            name = f"{ADDRESSES_FOLDER}/{number}.yaml"
            taken = sizes.get(name, _HEAD)
        taken += bytes_
        yield name


def _bytes_of(entries: Iterable[Address]) -> int:
    """What a page adds to a file; all of it is ASCII."""
    return len(addresses_text(Addresses(tuple(entries)))) - _HEAD
