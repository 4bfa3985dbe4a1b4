"""CommonMark text as pieces of HTML with slots for what is known only later."""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import field
from html import escape
from urllib.parse import unquote

from markdown_it.token import Token

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.text.addresses import address_fault, is_own_file
from sitegen.text.allowed_html import GuestTag, begins_block, harmless
from sitegen.text.link_titles import title_words
from sitegen.text.markdown_grammar import DEEPEST, markdown_parser
from sitegen.text.markdown_pieces import (
    Body,
    Heading,
    ImageSlot,
    LinkSlot,
    Paragraph,
    Piece,
    ValueSlot,
    Words,
)

__all__ = [
    "Body",
    "Heading",
    "ImageSlot",
    "LinkSlot",
    "Paragraph",
    "Piece",
    "ValueSlot",
    "Words",
    "parse_body",
]

LONGEST_BLOCK = 50_000  # characters without a blank line; a page of a book has 3,000
# '[' in such a block, and in a whole text: unclosed ones cost their square in time.
MOST_BRACKETS, MOST_BRACKETS_IN_ALL = 500, 10_000

_HTML = re.compile(r"</?[A-Za-z][A-Za-z0-9-]*(?:\s[^<>]*)?/?>|<!--")
_OPEN_BRACE = re.compile(r"\{[a-z]\w*")
_NONCHARACTERS = {0xFDD0: "\ufffd", 0x0: "\ufffd"}
_ALIGNED = {"text-align:left": "to-left", "text-align:center": "to-centre", "text-align:right": "to-right"}


def parse_body(body: str, first_line: int, file: str, problems: Problems, html: bool = False) -> Body:
    """Pieces of HTML for a CommonMark text whose first line is line `first_line` of `file`. Never raises.

    HTML tags are printed as they stand; with `html`, those that are harmless are obeyed instead and the others left
    out. Blocks begin and end at the same lines either way.

    Problems: an address with another scheme than http, https, mailto or INTERNAL; a picture without a text
    alternative; a heading of level 1 or one that skips a level; HTML tags; what is nested beyond DEEPEST.
    """
    text = body.replace("\r\n", "\n").replace("\r", "\n").translate(_NONCHARACTERS)
    lines = tuple(text.split("\n"))
    if _has_overlong_block(lines, first_line, file, problems):
        return Body((), (), ())
    tokens = markdown_parser(html).parse(text)
    writer = _Writer(lines, first_line, file, problems)
    writer.write(tokens)
    return Body(_joined(writer.pieces), tuple(writer.headings), tuple(_blocks(tokens, lines, first_line, file)))


def _has_overlong_block(lines: Sequence[str], first_line: int, file: str, problems: Problems) -> bool:
    size = brackets = in_all = start = 0
    for number, line in enumerate(lines):
        if not line.strip():
            size, brackets, start = 0, 0, number + 1
        size += len(line)
        brackets += line.count("[")
        in_all += line.count("[")
        if size > LONGEST_BLOCK or brackets > MOST_BRACKETS or in_all > MOST_BRACKETS_IN_ALL:
            limit = f"{MOST_BRACKETS:,} brackets '['" if size <= LONGEST_BLOCK else f"{LONGEST_BLOCK:,} characters"
            problems.error(
                "text-block",
                Place(file, first_line + start, 1),
                f"expected at most {limit} in one paragraph, list or table, found more",
                "divide it by blank lines",
            )
            return True
    return False


def _blocks(tokens: Sequence[Token], lines: Sequence[str], first_line: int, file: str) -> Iterator[Paragraph]:
    for token in tokens:
        if token.level == 0 and token.nesting >= 0 and token.map is not None:
            start, end = token.map
            text = "\n".join(lines[start:end]).strip("\n")
            yield Paragraph(text, Place(file, first_line + start, 1, max(1, len(lines[start]))))


def _joined(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Neighbouring strings as one."""
    joined: list[Piece] = []
    run: list[str] = []
    for piece in pieces:
        if isinstance(piece, str):
            run.append(piece)
            continue
        if run:
            joined.append("".join(run))
            run = []
        joined.append(piece)
    return (*joined, "".join(run)) if run else tuple(joined)


@dataclass(slots=True)
class _Writer:
    """Turns tokens into pieces; holds what one text has come to so far."""

    lines: Sequence[str]
    first_line: int
    file: str
    problems: Problems
    pieces: list[Piece] = field(default_factory=list)
    headings: list[Heading] = field(default_factory=list)
    used_ids: set[str] = field(default_factory=set)
    last_number: dict[str, int] = field(default_factory=dict)  # that made an id of a heading its own, by its words
    tables_here: int = 0  # since the last heading, so that two of them get different names
    cell_end: tuple[int, int] = (-1, 0)  # the line and column up to which cells of a row were found
    cell_tag: str = "td"
    in_cell: bool = False
    has_scroller: bool = False

    def write(self, tokens: Sequence[Token]) -> None:
        bare = False  # inside a paragraph that is pictures only
        loose = False  # inside one that stands for itself: these, and a guest's table or list
        for number, token in enumerate(tokens):
            kind = token.type
            if token.level >= DEEPEST - 1 and kind != "inline":
                self._report_depth(token)
                return
            if kind == "inline":
                self._write_inline(token, block=bare, blocks=loose)
            elif kind == "paragraph_open":
                bare = _is_pictures(tokens[number + 1])
                loose = bare or begins_block(tokens[number + 1])
                self._put("" if loose or token.hidden else "<p>")
            elif kind == "paragraph_close":
                self._put("" if token.hidden else "\n" if loose else "</p>\n")
                bare = loose = False
            elif kind == "heading_open":
                self._open_heading(token, tokens[number + 1])
            elif kind == "heading_close":
                self._put(f"</h{self.headings[-1].level}>\n")
            elif kind in ("fence", "code_block"):
                self._put(f'<pre tabindex="0"><code>{escape(token.content)}</code></pre>\n')
            elif kind in ("table_open", "table_close"):
                self._write_table_edge(token)
            elif token.tag in ("th", "td"):
                self._write_cell_edge(token, tokens[number + 1])
            else:
                self._write_tag(token)

    def _put(self, piece: Piece) -> None:
        if piece != "":
            self.pieces.append(piece)

    def _write_tag(self, token: Token) -> None:
        if token.nesting < 0:
            self._put(f"</{token.tag}>\n")
            return
        start = token.attrs.get("start")
        attributes = f' start="{int(start)}"' if start is not None else ""
        self._put(f"<{token.tag}{attributes}>" + ("" if token.tag == "li" else "\n"))

    # Headings and tables

    def _open_heading(self, token: Token, inline: Token) -> None:
        written = int(token.tag[1:])
        line = token.map[0] if token.map else 0
        place = self._line_place(line)
        before = self.headings[-1].level if self.headings else 1
        if written == 1:
            self.problems.error(
                "heading-level",
                place,
                "a text has no heading of level 1: the title stands in the front matter",
                "begin with ## here",
            )
        elif written > before + 1:
            wanted = "#" * (before + 1)
            self.problems.error(
                "heading-level",
                place,
                f"expected a heading of level {before + 1} at most, found level {written}",
                f"write {wanted} {inline.content.split(chr(10))[0]}",
            )
        level = max(2, written)
        words = self._plain_words(inline.children or [], inline, 0)
        text = "".join(word if isinstance(word, str) else f"{{{word.path}}}" for word in words).strip()
        heading = Heading(level, text, self._new_id(text), words, place)
        self.headings.append(heading)
        self.tables_here = 0
        self._put(f'<h{level} id="{heading.id}">')

    def _new_id(self, text: str) -> str:
        folded = unicodedata.normalize("NFKD", text.casefold()).encode("ascii", "ignore").decode()
        stem = re.sub("[^a-z0-9]+", "-", folded).strip("-") or "section"
        wanted, number = stem, self.last_number.get(stem, 1)
        while wanted in self.used_ids:
            number += 1
            wanted = f"{stem}-{number}"
        self.last_number[stem] = number
        self.used_ids.add(wanted)
        return wanted

    def _write_table_edge(self, token: Token) -> None:
        if token.nesting < 0:
            self._put("</table></div>\n" if self.has_scroller else "</table>\n")
            return
        self.has_scroller = bool(self.headings)
        if not self.headings:
            self.problems.caution(
                "table-name",
                self._line_place(token.map[0] if token.map else 0),
                "this table has no name, because no heading stands above it",
                "write a heading above the table, such as ## Readings in the rain",
            )
            self._put("<table>\n")
            return
        self.tables_here += 1
        number = f" ({self.tables_here})" if self.tables_here > 1 else ""
        name = [escape(word) if isinstance(word, str) else word for word in self.headings[-1].words]
        self.pieces += ['<div class="scroller" role="region" tabindex="0" aria-label="', *name, f'{number}">']
        self.pieces += ["<table>\n<caption>", *name, f"{number}</caption>\n"]

    def _write_cell_edge(self, token: Token, following: Token) -> None:
        self.in_cell = token.nesting > 0
        if not self.in_cell:
            self._put(f"</{self.cell_tag}>\n")
            return
        is_head = token.tag == "th" and bool(following.content.strip())  # an empty corner heads nothing
        self.cell_tag = "th" if is_head else "td"
        aligned = _ALIGNED.get(str(token.attrs.get("style", "")))
        side = f' class="{aligned}"' if aligned else ""
        self._put(f"<{self.cell_tag}{side}" + (' scope="col">' if is_head else ">"))

    # Running text

    def _write_inline(self, inline: Token, block: bool, blocks: bool) -> None:
        pieces = list(self._inline_pieces(inline, block))
        written = [piece for piece in pieces if not isinstance(piece, GuestTag)]
        for piece in written if len(written) == len(pieces) else harmless(pieces, blocks, self.problems):
            self._put(piece)

    def _inline_pieces(self, inline: Token, block: bool) -> Iterator[Piece | GuestTag]:
        refused = False
        columns = self._columns(inline)
        for token in inline.children or []:
            kind = token.type
            if kind in ("text", "text_special"):
                if kind == "text":
                    self._look_for_html(token, inline, columns)
                    self._look_for_brace(token, inline, columns)
                yield "" if block else escape(token.content)
            elif kind == "value":
                yield ValueSlot(token.content, self._place(token, inline, columns))
            elif kind == "html_inline":
                yield GuestTag(token.content, self._place(token, inline, columns))
            elif kind == "image":
                yield self._image(token, inline, columns, block)
            elif kind == "link_open":
                slot = self._link(token, self._place(token, inline, columns))
                refused = slot is None
                yield slot or ""
            elif kind == "link_close":
                yield "" if refused else "</a>"
            elif kind in ("softbreak", "hardbreak"):
                yield "\n" if kind == "softbreak" else "<br>\n"
            elif kind == "code_inline":
                yield f"<code>{escape(token.content)}</code>"
            else:  # em and strong
                yield f"<{'/' if token.nesting < 0 else ''}{token.tag}>"

    def _image(self, token: Token, inline: Token, columns: "_Columns", block: bool) -> ImageSlot:
        place = self._place(token, inline, columns)
        src = unquote(str(token.attrs.get("src", "")))
        alt = self._plain_words(token.children or [], inline, token.meta["at"] + 2, columns)
        if not is_own_file(src):
            self.problems.error(
                "image-address",
                place,
                f"expected the file of a picture in the publication, found {quoted(src)}",
                "put the picture into photos/ and write photos/ and its name",
            )
        if not any(isinstance(word, ValueSlot) or word.strip() for word in alt):
            self.problems.error(
                "image-alt",
                place,
                "this picture has no text for those who can't see it",
                f"say between the brackets what it shows: ![Water beading on the sleeve]({src})",
            )
        return ImageSlot(src, alt, title_words(token, place), place, block)

    def _link(self, token: Token, place: Place) -> LinkSlot | None:
        href = str(token.attrs.get("href", ""))
        fault = address_fault(href)
        if fault is None:
            return LinkSlot(href, title_words(token, place), place)
        self.problems.error("link-address", place, *fault)
        return None

    def _plain_words(
        self, tokens: Sequence[Token], inline: Token, offset: int, columns: "_Columns | None" = None
    ) -> Words:
        """The text of tokens without its marks; `offset` is where their positions count from."""
        columns = columns or self._columns(inline)
        words: list[Piece] = []
        for token in tokens:
            if token.type == "value":
                words.append(ValueSlot(token.content, self._place(token, inline, columns, offset)))
            elif token.type == "image":
                inner = offset + token.meta["at"] + 2
                words += self._plain_words(token.children or [], inline, inner, columns)
            elif token.type in ("softbreak", "hardbreak"):
                words.append(" ")
            elif token.type != "html_inline":
                words.append(token.content)
        return tuple(word for word in _joined(words) if isinstance(word, str | ValueSlot) and word != "")

    def _look_for_html(self, token: Token, inline: Token, columns: "_Columns") -> None:
        found = _HTML.search(token.content)
        if found is None:
            return
        at = max(0, inline.content.find(found.group()))
        self.problems.caution(
            "html-in-text",
            columns.place(self, at, at + len(found.group())),
            f"HTML is printed as it stands here: {quoted(found.group())}",
            "use Markdown, such as *word* or a table; for a plain < write \\<",
        )

    def _look_for_brace(self, token: Token, inline: Token, columns: "_Columns") -> None:
        """A brace before a word that no other brace closes: nearly always a value whose end was forgotten."""
        found = _OPEN_BRACE.search(token.content)
        if found is None:
            return
        at = max(0, inline.content.find(found.group()))
        self.problems.caution(
            "brace-open",
            columns.place(self, at, at + len(found.group())),
            f"this brace is printed as it stands: {quoted(found.group())} names no value without its '}}'",
            "close it, such as {mass}; for a plain brace write \\{",
        )

    # Places

    def _line_place(self, line: int) -> Place:
        text = self.lines[line]
        start = len(text) - len(text.lstrip())
        return Place(self.file, self.first_line + line, start + 1, max(1, len(text.strip())))

    def _place(self, token: Token, inline: Token, columns: "_Columns", offset: int = 0) -> Place:
        return columns.place(self, offset + token.meta["at"], offset + token.meta["end"])

    def _columns(self, inline: Token) -> "_Columns":
        """Where each line of an inline text begins in the source, after the marks of quotes and lists."""
        first = inline.map[0] if inline.map else 0
        pieces = inline.content.split("\n")
        starts = []
        for number, piece in enumerate(pieces):
            line = self.lines[first + number] if first + number < len(self.lines) else ""
            if self.in_cell:  # the same words may stand in the cell before
                after = self.cell_end[1] if self.cell_end[0] == first else 0
                start = line.find(piece, after)
                start = after if start < 0 else start
                self.cell_end = (first, start + len(piece))
            else:
                start = max(0, line.rfind(piece.rstrip()))
            starts.append(start)
        return _Columns(first, pieces, starts)

    def _report_depth(self, token: Token) -> None:
        self.problems.error(
            "text-depth",
            self._line_place(token.map[0] if token.map else 0),
            f"lists and quotes stand inside one another more than {DEEPEST // 2} times",
            "delete the surplus > or - at the start of the line",
        )


@dataclass(frozen=True, slots=True)
class _Columns:
    """The lines of one inline text with the columns (from 0) at which they begin in the source."""

    first: int
    pieces: Sequence[str]
    starts: Sequence[int]

    def place(self, writer: _Writer, at: int, end: int) -> Place:
        """The place of a stretch of the inline text; only its first line is marked."""
        for number, piece in enumerate(self.pieces):
            if at <= len(piece):
                width = max(1, min(end, len(piece)) - at)
                line = min(self.first + number, len(writer.lines) - 1)
                column = min(self.starts[number] + at, len(writer.lines[line]))
                return Place(writer.file, writer.first_line + line, column + 1, width)
            at, end = at - len(piece) - 1, end - len(piece) - 1
        return Place(writer.file, writer.first_line + self.first, 1)


def _is_pictures(inline: Token) -> bool:
    children = [t for t in inline.children or [] if t.content.strip() or t.type not in ("text", "softbreak")]
    return bool(children) and all(child.type == "image" for child in children)
