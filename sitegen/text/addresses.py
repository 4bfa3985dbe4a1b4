"""Which addresses a text may link to, and which pictures it may show."""

import re

from sitegen.problems import nearest, quoted

# `review:fjellrinn` is the page of that review in the edition that is read.
INTERNAL = ("review", "guide", "method", "round", "product", "rig")
_OUTSIDE = ("http", "https", "mailto")

_SCHEME = re.compile(r"([A-Za-z][A-Za-z0-9+.-]*):")
# Browsers drop the first two kinds within an address and read a backslash as a slash (URL Living Standard, 4.4): what
# stands here would not be where the link leads.
_UNCLEAR = re.compile(r"[\x00-\x20\x7f-\x9f\\]")
_NO_NAME = re.compile(r"[\x00-\x1f\x7f\\]")  # browsers skip some of these and read what is left as an address
# Where a page will stand depends on its title and on the edition; what begins with / may lie beside the publication.
_PAGE_FILE = re.compile(r"[^/?#][^?#]*\.(html?|md)([?#]|$)", re.IGNORECASE)
_INTERNAL_ADDRESS = re.compile(r"[a-z]+:[a-z0-9][a-z0-9_-]*(#[^\s]*)?")


def is_own_file(src: str) -> bool:
    """Whether an address can be that of a file in the publication: relative, and never leading out of it."""
    return bool(src) and not (
        _SCHEME.match(src) or src.startswith("/") or ".." in src.split("/") or _NO_NAME.search(src)
    )


def address_fault(href: str) -> tuple[str, str] | None:
    """What is wrong with the address of a link, and a hint; None if nothing is."""
    scheme = _SCHEME.match(href)
    if not href:
        return "this link has no address", "write it between the round brackets: (https://…) or (review:…)"
    if _UNCLEAR.search(href):
        return (
            f"an address holds no blank, backslash or invisible character, found {quoted(href)}",
            "write %20 for a blank, / for a backslash",
        )
    if href.startswith("//"):
        return f"expected a whole address, found {quoted(href)}", f"write https:{href}"
    if scheme is None and _PAGE_FILE.match(href):
        hint = "link to review:, guide:, method:, round:, product: or rig: and its id, such as review:fjellrinn"
        return f"a page is named by its id, found the file {quoted(href)}", hint
    if scheme is None or scheme[1].lower() in _OUTSIDE:
        return None
    word = scheme[1]
    if word in INTERNAL:
        if _INTERNAL_ADDRESS.fullmatch(href):
            return None
        return (
            f"expected {word}: and an id, found {quoted(href)}",
            f"write it like {word}:fjellrinn, in small letters",
        )
    near = nearest(word, INTERNAL)
    hint = f"did you mean {near}:{href[len(word) + 1 :]}?" if near else "link to https://…, mailto:… or a page's id"
    known = ", ".join(f"{known}:" for known in (*_OUTSIDE, *INTERNAL))
    return f"expected an address that begins with one of {known}, found {quoted(href)}", hint
