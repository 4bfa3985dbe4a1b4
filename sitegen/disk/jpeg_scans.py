"""How often a JPEG goes over its points: a progressive one may do so hundreds of times, and each costs as if it were whole."""

import re
from io import SEEK_CUR, BufferedIOBase

# ITU-T T.81, table B.1: SOI and EOI, begin and end of the picture; SOS, begin of a scan. Within a scan FF 00 is a
# byte of data and FF D0 to FF D7 are restart markers (B.1.1.2 and B.1.1.3).
_SOI, _EOI, _SOS = 0xD8, 0xD9, 0xDA
_MARKER = re.compile(rb"\xff+([^\x00\xd0-\xd7\xff])", re.DOTALL)
_CHUNK = 256 * 1024
_MOST_SEGMENTS = 100_000  # a camera writes some fifty


def scans_of(original: BufferedIOBase, most: int) -> int:
    """The number of scans of a JPEG, counted to `most` + 1; 0 for another kind of file. Nothing is unpacked."""
    original.seek(0)
    if original.read(2) != bytes((0xFF, _SOI)):
        return 0
    scans = 0
    for _ in range(_MOST_SEGMENTS):
        marker = _next_marker(original)
        if marker in (_EOI, None):
            return scans
        scans += marker == _SOS
        if scans > most:
            return scans
        original.seek(max(0, int.from_bytes(original.read(2)) - 2), SEEK_CUR)  # B.1.1.4: its length counts itself
    return most + 1


def _next_marker(original: BufferedIOBase) -> int | None:
    """The marker that comes next, with the file just behind it; None where none comes any more."""
    size = 4  # between two segments it comes at once, behind the data of a scan after a while
    while chunk := original.read(size):
        found = _MARKER.search(chunk)
        if found is not None:
            original.seek(found.end() - len(chunk), SEEK_CUR)
            return found[1][0]
        if chunk.endswith(b"\xff") and len(chunk) == size:
            original.seek(-1, SEEK_CUR)  # its other half comes with the next chunk
            if len(chunk) == 1:
                return None
        size = _CHUNK
    return None
