"""What is wrong with a publication, collected and told to its author."""

import difflib
import unicodedata
from collections.abc import Iterable, Iterator
from enum import Enum
from functools import lru_cache
from itertools import groupby, islice

from sitegen.datatypes import dataclass
from sitegen.place import Place

SHOWN_WIDTH = 96  # columns of source shown under a problem: fits an 80-120 column terminal with its margin
LEAD_WIDTH = 40  # what is kept to the left of the fault when a long line is cut
QUOTED_LENGTH = 40  # longest piece of an author's text that a message repeats
MOST_NAMED = 12  # names that a hint lists where none is near
MOST_TOLD = 200  # of one file: an author mends some dozens at a sitting, and a slip of a script spoils every line alike
LONGEST_GUESS = 80  # longer words are no slips of the keyboard; comparing them would only cost time


class Severity(Enum):
    """An error stops publication; a caution is listed."""

    ERROR = "error"
    CAUTION = "caution"


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault: `code` names the rule, `message` what was expected and found, `hint` what to type."""

    code: str
    severity: Severity
    place: Place
    message: str
    hint: str = ""


class Problems:
    """The collector handed from stage to stage, so that an author mends everything in one go."""

    def __init__(self) -> None:
        self._found: list[Problem] = []

    def error(self, code: str, place: Place, message: str, hint: str = "") -> None:
        """Note something that must be mended before publication."""
        self._found.append(Problem(code, Severity.ERROR, place, message, hint))

    def caution(self, code: str, place: Place, message: str, hint: str = "") -> None:
        """Note something that the author should look at."""
        self._found.append(Problem(code, Severity.CAUTION, place, message, hint))

    def extend(self, problems: Iterable[Problem]) -> None:
        """Take over problems that were found elsewhere, such as in another process."""
        self._found.extend(problems)

    @property
    def errors(self) -> tuple[Problem, ...]:
        """The errors in the order they were found."""
        return tuple(p for p in self._found if p.severity is Severity.ERROR)

    @property
    def cautions(self) -> tuple[Problem, ...]:
        """The cautions in the order they were found."""
        return tuple(p for p in self._found if p.severity is Severity.CAUTION)

    @property
    def has_errors(self) -> bool:
        """Whether publication must stop."""
        return any(p.severity is Severity.ERROR for p in self._found)

    def worst_first(self) -> tuple[Problem, ...]:
        """What is told: errors before cautions, each by file, line and column; of one file MOST_TOLD of either kind,
        and then in one line how many more there are.
        """
        ranked = sorted(self._found, key=_rank)
        return tuple(told for _, alike in groupby(ranked, key=_kind) for told in _some(alike))

    def __len__(self) -> int:
        return len(self._found)

    def __iter__(self) -> Iterator[Problem]:
        return iter(tuple(self._found))


def _rank(problem: Problem) -> tuple[bool, str, int, int]:
    place = problem.place
    return (problem.severity is Severity.CAUTION, place.file, place.line, place.column)


def _kind(problem: Problem) -> tuple[Severity, str]:
    return problem.severity, problem.place.file


def _some(alike: Iterator[Problem]) -> Iterator[Problem]:
    """The first of many problems; the others as one."""
    yield from islice(alike, MOST_TOLD)
    further = tuple(alike)
    if len(further) < 2:  # the line that counts it would be as long
        yield from further
        return
    first = further[0]
    message = f"{len(further):,} more {first.severity.value}s in this file are not listed"
    yield Problem("many", first.severity, first.place, message, "fix those above; the next run lists what is left")


def nearest(word: str, words: Iterable[str]) -> str | None:
    """The one of `words` that `word` was probably meant to be, whatever its case; None if none is near."""
    wanted = _plain(word) if len(word) <= LONGEST_GUESS else ""
    return _nearest(wanted, tuple(words)) if wanted else None


@lru_cache(maxsize=256)  # a file made by a script has the same slip on every line
def _nearest(wanted: str, words: tuple[str, ...]) -> str | None:
    by_plain = {_plain(candidate): candidate for candidate in sorted(words, reverse=True)}
    near = difflib.get_close_matches(wanted, by_plain, n=1, cutoff=0.6)
    return by_plain[near[0]] if near else None


def meant_or(word: str, words: Iterable[str], otherwise: str = "") -> str:
    """The hint beside a word that nobody knows: the nearest of `words`, else `otherwise`."""
    near = nearest(word, words)
    return f"did you mean `{near}`?" if near else otherwise


def some_of(names: Iterable[str]) -> str:
    """Names as a hint lists them: the first ones, then how many more there are.

    >>> some_of("abc"), some_of(())
    ('a, b, c', 'none')
    """
    known = list(names)
    more = len(known) - MOST_NAMED
    return (", ".join(known[:MOST_NAMED]) or "none") + (f", and {more:,} more" if more > 0 else "")


def unknown_name(what: str, name: str, names: Iterable[str]) -> str:
    """What a command answers to a name that isn't there: with the nearest that is, else with some of them."""
    known = list(dict.fromkeys(names))
    near = nearest(name, known)
    hint = f"did you mean '{near}'?" if near else f"known: {some_of(known)}"
    return f"there is no {what} '{name}'; {hint}"


@lru_cache(maxsize=4096)
def _plain(word: str) -> str:
    """Case, accents and the choice between blank, hyphen and underscore are the commonest slips."""
    letters = unicodedata.normalize("NFKD", word.strip().casefold())
    kept = "".join(c for c in letters if not unicodedata.combining(c))
    return kept.replace("-", "_").replace(" ", "_")


def quoted(text: str) -> str:
    """An author's text as a message repeats it: in quotes, shortened, nothing a terminal would obey."""
    cut = text if len(text) <= QUOTED_LENGTH else text[: QUOTED_LENGTH - 1] + "…"
    return "'" + "".join(map(_harmless, cut)) + "'"


def render(problem: Problem, line_text: str | None) -> str:
    """A problem as the author reads it: place, message, the source line with a caret, a hint.

    `line_text` is the whole source line without its end; None (or a line the file hasn't got) leaves it out.
    """
    place = problem.place
    head = f"{_safe(str(place))}: {problem.severity.value}: {_safe(problem.message)} [{problem.code}]"
    parts = [head]
    if line_text is not None:
        shown, before, under = _window(line_text, place.column, place.width)
        number = f"{place.line:>5}"
        parts.append(f"{number} | {shown}".rstrip())
        parts.append(f"{' ' * len(number)} | {' ' * before}{'^' * under}")
    if problem.hint:
        parts.append(f"   hint: {_safe(problem.hint)}")
    return "\n".join(parts)


def _window(line: str, column: int, width: int) -> tuple[str, int, int]:
    """The shown part of a line, the terminal columns before the fault, and those under it."""
    start = min(max(column - 1, 0), len(line))
    # Only what can come into the window is looked at: a line may have millions of characters.
    left = max(0, start - SHOWN_WIDTH)
    before = [_harmless(c) for c in line[left:start]]
    after = [_harmless(c) for c in line[start : start + SHOWN_WIDTH]]
    too_wide = _columns(before) + _columns(after) > SHOWN_WIDTH
    if left > 0 or (too_wide and _columns(before) > LEAD_WIDTH):
        before = ["…", *_last_columns(before, LEAD_WIDTH - 1)]
    room = SHOWN_WIDTH - _columns(before)
    kept = _first_columns(after, room)
    if len(kept) < len(after) or start + SHOWN_WIDTH < len(line):
        kept = [*_first_columns(after, room - 1), "…"]
    under = max(1, min(_columns(after[: max(width, 1)]), room))
    return "".join(before + kept), _columns(before), under


def _first_columns(cells: list[str], room: int) -> list[str]:
    kept: list[str] = []
    for cell in cells:
        room -= _column_count(cell)
        if room < 0:
            break
        kept.append(cell)
    return kept


def _last_columns(cells: list[str], room: int) -> list[str]:
    return _first_columns(cells[::-1], room)[::-1]


def _columns(cells: list[str]) -> int:
    return sum(map(_column_count, cells))


def _column_count(cell: str) -> int:
    """Terminal columns of a shown character, by UAX 11: wide and fullwidth take two, combining marks none."""
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in cell)


def _safe(text: str) -> str:
    return "".join(map(_harmless, text))


def _harmless(character: str) -> str:
    """What is printed for a character of guest text, so that it can't steer a terminal or reorder a line."""
    if character == "\t":
        return "    "
    if character.isascii():
        if character.isprintable():
            return character
        return "\N{SYMBOL FOR DELETE}" if character == "\x7f" else chr(0x2400 + ord(character))
    if unicodedata.category(character) in {"Cc", "Cf", "Cs", "Zl", "Zp", "Cn"}:
        return "\N{REPLACEMENT CHARACTER}"
    return character
