"""What commands write: results to the output, all else to the error stream. Nothing that is written steers a terminal.

Whichever stream its caller closed is not written to.
"""

import os
import sys

TYPE_CHECKING = False  # as typing's, which takes longer to load than a build with nothing to do
if TYPE_CHECKING:
    from typing import TextIO

# Names of files and folders may hold what no text file may. Tabs and line ends are wanted; marks of direction and
# isolates stay, since right-to-left figures need them.
_STEERING: dict[int, int | str] = {
    **{code: 0x2400 + code for code in range(0x20) if chr(code) not in "\t\n"},
    0x7F: "\N{SYMBOL FOR DELETE}",
    **dict.fromkeys((*range(0x80, 0xA0), 0x2028, 0x2029, *range(0x202A, 0x202F)), "\N{REPLACEMENT CHARACTER}"),
}


class OutputLost(Exception):
    """The output can't be written; the text says why."""


def ready() -> None:
    """Have the output take any text: what its encoding hasn't is written as an escape, as on the error stream."""
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="backslashreplace")


def give(text: str) -> None:
    """Write a result to the output, now. Raises OutputLost, or BrokenPipeError where nobody reads on."""
    try:
        _write(sys.stdout, text)
    except BrokenPipeError:
        raise
    except OSError as fault:
        raise OutputLost(fault.strerror or str(fault)) from fault


def tell(text: str) -> None:
    """Write to the error stream, now; where that can't be written nobody can be told so."""
    try:
        _write(sys.stderr, text)
    except OSError:
        return


def settle() -> None:
    """Write what still waits, so that Python's end finds nothing that it can't write. Raises as `give` does."""
    try:
        if sys.stderr is not None:
            sys.stderr.flush()
    except OSError:
        _write_no_more(sys.stderr)
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError as fault:
        _write_no_more(sys.stdout)
        if isinstance(fault, BrokenPipeError):
            raise
        raise OutputLost(fault.strerror or str(fault)) from fault


def _write_no_more(stream: "TextIO") -> None:
    """Have what waits, and all that follows, go nowhere."""
    with open(os.devnull, "wb") as nowhere:
        os.dup2(nowhere.fileno(), stream.fileno())


def harmless(text: str) -> str:
    """The text with a sign for each character that a terminal would obey.

    >>> harmless("a\\x1b[31mb")
    'a␛[31mb'
    """
    return _as_text(text).translate(_STEERING)


def _as_text(text: str) -> str:
    """Bytes of names that Python's encoding of names didn't know (PEP 383) as the UTF-8 that they nearly always are."""
    try:
        return text if text.isascii() else text.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    except UnicodeEncodeError:  # another half of a pair, which no name has
        return text


def _write(stream: "TextIO | None", text: str) -> None:
    if stream is None or not text:
        return
    stream.write(harmless(text))
    stream.flush()
