"""CommonMark text as pieces of HTML with slots for what is known only later."""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import field
from html import escape
from itertools import islice
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
    Placement,
    ValueSlot,
    Words,
)
from sitegen.text.markdown_places import Columns, Places
from sitegen.text.value_grammar import PLACEMENT

__all__ = [
    "Body",
    "Heading",
    "ImageSlot",
    "LinkSlot",
    "Paragraph",
    "Piece",
    "Placement",
    "ValueSlot",
    "Words",
    "parse_body",
]

MOST_LINES = 50_000  # that aren't blank; a thick book of 2 MiB has 30,000
LONGEST_BLOCK = 50_000  # characters without a blank line; a page of a book has 3,000
# '[' in such a block, and in a whole text: unclosed ones cost their square in time.
MOST_BRACKETS, MOST_BRACKETS_IN_ALL = 500, 10_000

_SLIPS = (
    (
        re.compile(r"</?[A-Za-z][A-Za-z0-9-]*(?:\s[^<>]*)?/?>|<!--"),
        "html-in-text",
        "HTML is printed as it stands here: {}",
        "use Markdown, such as *word* or a table; for a plain < write \\<",
    ),
    (  # a brace before a word that no other brace closes: nearly always a value whose end was forgotten
        re.compile(r"\{[a-z]\w*"),
        "brace-open",
        "this brace is printed as it stands: {} names no value without its '}}'",
        "close it, such as {mass}; for a plain brace write \\{",
    ),
    (
        re.compile(r"^#{2,6}[^\s#]\S*"),
        "heading-blank",
        "this is printed as it stands, not as a heading: {}",
        "write a blank after the last #",
    ),
)
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
    if _has_too_many_lines(lines, first_line, file, problems) or _has_overlong_block(lines, first_line, file, problems):
        return Body((), (), ())
    tokens = markdown_parser(html).parse(text)
    writer = _Writer(Places(lines, first_line, file), problems)
    writer.write(tokens)
    return Body(_joined(writer.pieces), tuple(writer.headings), tuple(_blocks(tokens, lines, first_line, file)))


def _has_too_many_lines(lines: Sequence[str], first_line: int, file: str, problems: Problems) -> bool:
    written = (number for number, line in enumerate(lines) if line and not line.isspace())
    beyond = next(islice(written, MOST_LINES, None), None)
    if beyond is not None:
        message = f"expected at most {MOST_LINES:,} lines in a text, found more"
        problems.error("text-lines", Place(file, first_line + beyond, 1), message, "make several texts of it")
    return beyond is not None


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

    places: Places
    problems: Problems
    pieces: list[Piece] = field(default_factory=list)
    headings: list[Heading] = field(default_factory=list)
    used_ids: set[str] = field(default_factory=set)
    last_number: dict[str, int] = field(default_factory=dict)  # that made an id of a heading its own, by its words
    tables_here: int = 0  # since the last heading, so that two of them get different names
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
                self.pieces.clear()  # blocks stand open; nothing of a text with this error is shown
                return
            if kind == "inline":
                self._write_inline(token, block=bare, blocks=loose)
            elif kind == "paragraph_open" and (placed := _placement(tokens[number + 1])):
                place = self.places.columns(tokens[number + 1], self.in_cell).of_token(placed[2])
                self._put(Placement(placed[0], placed[1], place))
                tokens[number + 1].children = []
                bare, loose = False, True
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
        place = self.places.of_block(token)
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
                self.places.of_block(token),
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
        columns = self.places.columns(inline, self.in_cell)
        for token in inline.children or []:
            kind = token.type
            if kind in ("text", "text_special"):
                if kind == "text":
                    self._look_for_slips(token, inline, columns)
                yield "" if block else escape(token.content)
            elif kind == "value":
                yield ValueSlot(token.content, columns.of_token(token))
            elif kind == "html_inline":
                yield GuestTag(token.content, columns.of_token(token))
            elif kind == "image":
                yield self._image(token, inline, columns, block)
            elif kind == "link_open":
                slot = self._link(token, columns.of_token(token))
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

    def _image(self, token: Token, inline: Token, columns: Columns, block: bool) -> ImageSlot:
        place = columns.of_token(token)
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
        self, tokens: Sequence[Token], inline: Token, offset: int, columns: Columns | None = None
    ) -> Words:
        """The text of tokens without its marks; `offset` is where their positions count from."""
        columns = columns or self.places.columns(inline, self.in_cell)
        words: list[Piece] = []
        for token in tokens:
            if token.type == "value":
                words.append(ValueSlot(token.content, columns.of_token(token, offset)))
            elif token.type == "image":
                inner = offset + token.meta["at"] + 2
                words += self._plain_words(token.children or [], inline, inner, columns)
            elif token.type in ("softbreak", "hardbreak"):
                words.append(" ")
            elif token.type != "html_inline":
                words.append(token.content)
        return tuple(word for word in _joined(words) if isinstance(word, str | ValueSlot) and word != "")

    def _look_for_slips(self, token: Token, inline: Token, columns: Columns) -> None:
        """What is printed as it stands and was hardly meant so: the first of each kind in a stretch of text."""
        for pattern, code, message, hint in _SLIPS:
            found = pattern.search(token.content)
            if found is not None:
                at = max(0, inline.content.find(found[0]))
                place = columns.place(at, at + len(found[0]))
                self.problems.caution(code, place, message.format(quoted(found[0])), hint)

    def _report_depth(self, token: Token) -> None:
        self.problems.error(
            "text-depth",
            self.places.of_block(token),
            f"lists and quotes stand inside one another more than {DEEPEST // 2} times",
            "delete the surplus > or - at the start of the line",
        )


def _placement(inline: Token) -> tuple[str, str, Token] | None:
    """Kind, subject and token of a placement where a paragraph outside lists and quotes holds only that."""
    children = inline.children or []
    if len(children) != 1 or children[0].type != "value" or inline.level != 1:
        return None
    found = PLACEMENT.match(children[0].content)
    return (found[1], found[2], children[0]) if found else None


def _is_pictures(inline: Token) -> bool:
    children = [t for t in inline.children or [] if t.content.strip() or t.type not in ("text", "softbreak")]
    return bool(children) and all(child.type == "image" for child in children)
