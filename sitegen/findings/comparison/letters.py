"""Letter groups: entrants that share a letter could not be told apart, those that share none were.

Insert and absorb (Piepho, J. Comput. Graph. Statist. 13 (2004) 456-466): start with one column that holds
every entrant; for each pair told apart, double every column that holds both and take one of them out of
either copy; drop a column that lies wholly inside another. What is left are all the largest sets of entrants
of which no two were told apart. Here all pairs of one entrant are inserted in one go, over the entrants
placed so far; that gives the same columns, and many entrants are lettered in a blink.

Rounds of hundreds of entrants with unequal spreads can have more such sets than anyone could read. Above
`MOST_COLUMNS` letters, columns are therefore grown one by one, just until every pair not told apart shares
one: the law of the first sentence holds all the same, and no column lies inside another.
"""

from collections.abc import Iterable, Mapping, Sequence

from sitegen.datatypes import dataclass
from sitegen.findings.comparison.comparison import Comparison
from sitegen.findings.photos.door import Number, finite

ALPHABET = "abcdefghijklmnopqrstuvwxyz"
MOST_COLUMNS = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettered:
    """An entrant and its letters, in order; after z come a2 … z2, a3 …"""

    entrant: str
    letters: tuple[str, ...]

    @property
    def text(self) -> str:
        """The letters run together, with spaces where one has a figure.

        >>> [Lettered(entrant="tarn", letters=letters).text for letters in (("a", "b"), ("z", "a2"))]
        ['ab', 'z a2']
        """
        return ("" if all(len(letter) == 1 for letter in self.letters) else " ").join(self.letters)


def letter_groups(comparison: Comparison, *, higher_first: bool = True) -> tuple[Lettered, ...]:
    """The letters of a comparison's entrants, best first: by `centres`, higher first or lower first.

    >>> from sitegen.findings.comparison.differences import compare_ratio
    >>> masses = {"fjell": [412.0, 411.5, 412.5], "tarn": [398.5, 399.0, 398.0], "vik": [411.0, 412.5, 412.0]}
    >>> found = compare_ratio(masses, resolution=0.5)
    >>> [(one.entrant, one.text) for one in letter_groups(found, higher_first=False)]
    [('tarn', 'a'), ('vik', 'b'), ('fjell', 'b')]
    """
    return letters_for(dict(comparison.centres), comparison.distinct_pairs, higher_first=higher_first)


def letters_for(
    centres: Mapping[str, Number], distinct: Iterable[tuple[str, str]], *, higher_first: bool = True
) -> tuple[Lettered, ...]:
    """The letters of entrants with a value to order them by, and the pairs that were told apart.

    Best first, equal values by id; 'a' goes to the best entrant's first group, and on down. The order in
    which entrants or pairs come in makes no difference. Errors: ValueError for a value that isn't
    finite, a pair that names an unknown entrant or one entrant twice. Source: the module's text.

    >>> [one.text for one in letters_for({"p": 3, "q": 2, "r": 1}, [("p", "r")])]
    ['a', 'ab', 'b']
    """
    known = {name: finite(value, name) for name, value in centres.items()}
    ordered = sorted(known, key=lambda name: (-known[name] if higher_first else known[name], name))
    apart = _apart(ordered, distinct)
    columns = sorted(map(_members, _insert_and_absorb(apart) or _cover(apart)))
    labels = [_label(index) for index in range(len(columns))]
    held: list[list[str]] = [[] for _ in ordered]
    for label, column in zip(labels, columns, strict=True):
        for member in column:
            held[member].append(label)
    return tuple(Lettered(entrant=name, letters=tuple(letters)) for name, letters in zip(ordered, held, strict=True))


def _apart(ordered: Sequence[str], distinct: Iterable[tuple[str, str]]) -> list[int]:
    """For each entrant the set of those it was told apart from; sets are bits of a whole number."""
    place = {name: index for index, name in enumerate(ordered)}
    apart = [0] * len(ordered)
    for a, b in distinct:
        if a not in place or b not in place:
            raise ValueError(f"distinct pair: {a if a not in place else b!s} is no entrant")
        if a == b:
            raise ValueError(f"distinct pair: {a} can't differ from itself")
        apart[place[a]] |= 1 << place[b]
        apart[place[b]] |= 1 << place[a]
    return apart


def _insert_and_absorb(apart: Sequence[int]) -> set[int]:
    """All columns; empty when there are more than `MOST_COLUMNS`, or no entrants."""
    columns: set[int] = set()
    for newcomer, others in enumerate(apart):
        bit = 1 << newcomer
        split = {column for column in columns if column & others}
        joined = {column | bit for column in columns - split} | ({bit} if not columns else set())
        halves = {(column & ~others) | bit for column in split} - joined
        columns = split | joined | set(_absorbed(halves, joined))
        if len(columns) > MOST_COLUMNS:
            return set()
    return columns


def _absorbed(fresh: Iterable[int], kept: Iterable[int]) -> list[int]:
    """Those of `fresh` that lie inside no other of them, nor inside one of `kept`."""
    largest: list[int] = []
    standing = list(kept)
    for column in sorted(fresh, key=lambda one: (-one.bit_count(), one)):
        if not any(column & other == column for other in (*largest, *standing)):
            largest.append(column)
    return largest


def _cover(apart: Sequence[int]) -> set[int]:
    """Columns grown from the best entrant down, until all pairs not told apart share one."""
    everyone = (1 << len(apart)) - 1
    open_pairs = [everyone & ~others & ~((2 << index) - 1) for index, others in enumerate(apart)]
    columns: set[int] = set()
    for index, others in enumerate(apart):
        alone = everyone & ~others == 1 << index
        while open_pairs[index] or alone:
            column = _grown(apart, index, open_pairs[index], everyone)
            for member in _members(column):
                open_pairs[member] &= ~column
            columns.add(column)
            alone = False
    return columns


def _grown(apart: Sequence[int], start: int, wanted: int, everyone: int) -> int:
    """A largest set around `start`: first those of `wanted` that still fit, then whoever fits."""
    column, fitting = 1 << start, everyone & ~apart[start] & ~(1 << start)
    while fitting:
        choice = (fitting & wanted) or fitting
        bit = choice & -choice
        column |= bit
        fitting &= ~apart[bit.bit_length() - 1] & ~bit
    return column


def _members(column: int) -> tuple[int, ...]:
    members = []
    while column:
        bit = column & -column
        members.append(bit.bit_length() - 1)
        column ^= bit
    return tuple(members)


def _label(index: int) -> str:
    """a … z, a2 … z2, a3 …

    >>> _label(0), _label(25), _label(26), _label(52)
    ('a', 'z', 'a2', 'a3')
    """
    turn, letter = divmod(index, len(ALPHABET))
    return ALPHABET[letter] + (str(turn + 1) if turn else "")
