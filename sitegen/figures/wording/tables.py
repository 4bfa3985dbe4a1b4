"""Tables of finished text: every number in them is already in the language's form."""

from sitegen.datatypes import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The head of a column; `unit` is printed below or after the text."""

    text: str
    unit: str = ""
    number: bool = False
    href: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A cell; `number` aligns figures, `letters` is a letter group, `note` is small print below, in the language `note_lang` where
    that is another than the page's.

    `sort` is a language-free key by which a script may sort the column ("" sorts last).
    """

    text: str
    number: bool = False
    letters: str = ""
    note: str = ""
    note_lang: str = ""
    href: str = ""
    sort: str = ""
    literal: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table with a caption; the first cell of each row is its header."""

    caption: str
    heads: tuple[Head, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""
    sortable: bool = False
