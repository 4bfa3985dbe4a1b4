"""HTML in a text, where a publication allows it: what is harmless stays, everything else is taken away and told."""

from collections.abc import Sequence

from markdown_it.token import Token

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.text.markdown_pieces import Piece

RUNNING = frozenset(
    "a abbr b bdi br cite code del dfn em i ins kbd mark q s samp small span strong sub sup time var".split()
)
"""What may stand within running text."""

BLOCKS = frozenset(
    "blockquote caption dd details dl dt figcaption figure li ol p summary table tbody td tfoot th thead tr ul".split()
)
"""What may stand besides in a paragraph that begins with one of `OPENING`."""

OPENING = frozenset("blockquote details dl figure ol p table ul".split())

_OF_ALL = frozenset({"lang", "dir"})
ATTRIBUTES: dict[str, frozenset[str]] = {
    **dict.fromkeys(sorted((RUNNING | BLOCKS) - {"a", "br"}), _OF_ALL),
    "a": frozenset({"href"}),
    "abbr": _OF_ALL | {"title"},
    "time": _OF_ALL | {"datetime"},
    "td": _OF_ALL | {"colspan", "rowspan"},
    "th": _OF_ALL | {"colspan", "rowspan", "scope"},
}
"""Which attributes an element may have; some only with the values of `guest_html`."""


@dataclass(frozen=True, slots=True)
class GuestTag:
    """One tag (or comment) as it was written, with its place."""

    text: str
    place: Place


def begins_block(inline: Token) -> bool:
    """Whether a paragraph's running text begins with a tag of `OPENING`, and is so a block of its own."""
    first = next(iter(inline.children or []), None)
    if first is None or first.type != "html_inline":
        return False
    from sitegen.text.guest_html import OneTag

    return OneTag(first.content).name in OPENING


def harmless(pieces: Sequence[Piece | GuestTag], blocks: bool, problems: Problems) -> tuple[Piece, ...]:
    """The pieces with what is allowed of the guest's tags; they are balanced. `blocks` also allows those of BLOCKS.

    Problems: a caution for each tag of which something is taken away, or that nothing closes.
    """
    from sitegen.text.guest_html import clean  # two milliseconds to load, and most publications allow no HTML

    return clean(pieces, blocks, problems)
