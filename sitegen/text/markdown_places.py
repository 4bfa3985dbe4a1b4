"""Where a piece of Markdown stands in its file: the parser tells lines, and positions only within running text."""

from collections.abc import Sequence

from markdown_it.token import Token

from sitegen.datatypes import dataclass
from sitegen.place import Place


@dataclass(slots=True)
class Places:
    """The lines of one text, the first of which is line `first_line` of `file`."""

    lines: Sequence[str]
    first_line: int
    file: str
    cell_end: tuple[int, int] = (-1, 0)  # the line and column up to which cells of a row were found

    def of_line(self, line: int) -> Place:
        """All of a line (from 0) but the blanks around it."""
        text = self.lines[line]
        start = len(text) - len(text.lstrip())
        return Place(self.file, self.first_line + line, start + 1, max(1, len(text.strip())))

    def of_block(self, token: Token) -> Place:
        """The first line of a block."""
        return self.of_line(token.map[0] if token.map else 0)

    def columns(self, inline: Token, in_cell: bool) -> "Columns":
        """Where each line of a running text begins in the source, after the marks of quotes and lists."""
        first = inline.map[0] if inline.map else 0
        pieces = inline.content.split("\n")
        starts = []
        for number, piece in enumerate(pieces):
            line = self.lines[first + number] if first + number < len(self.lines) else ""
            if in_cell:  # the same words may stand in the cell before
                after = self.cell_end[1] if self.cell_end[0] == first else 0
                start = line.find(piece, after)
                start = after if start < 0 else start
                self.cell_end = (first, start + len(piece))
            else:
                start = max(0, line.rfind(piece.rstrip()))
            starts.append(start)
        return Columns(self, first, pieces, starts)


@dataclass(frozen=True, slots=True)
class Columns:
    """The lines of one running text with the columns (from 0) at which they begin in the source."""

    within: Places
    first: int
    pieces: Sequence[str]
    starts: Sequence[int]

    def place(self, at: int, end: int) -> Place:
        """The place of a stretch of the running text; only its first line is marked."""
        lines, file, first_line = self.within.lines, self.within.file, self.within.first_line
        for number, piece in enumerate(self.pieces):
            if at <= len(piece):
                width = max(1, min(end, len(piece)) - at)
                line = min(self.first + number, len(lines) - 1)
                column = min(self.starts[number] + at, len(lines[line]))
                return Place(file, first_line + line, column + 1, width)
            at, end = at - len(piece) - 1, end - len(piece) - 1
        return Place(file, first_line + self.first, 1)

    def of_token(self, token: Token, offset: int = 0) -> Place:
        """The place of a token that knows its position, counted from `offset`."""
        return self.place(offset + token.meta["at"], offset + token.meta["end"])
