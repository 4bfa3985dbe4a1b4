"""Where an entrant stands in one measure of its round, as far as differences could be shown."""

from sitegen.datatypes import dataclass
from sitegen.findings.comparison.comparison import Doubt
from sitegen.findings.found import Compared


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The other entrants by how `product` compares with them; ids in the round's order.

    `lower` and `higher` have a value that is clearly lower or higher than the product's; between `level` and the
    product no difference could be shown.
    """

    product: str
    lower: tuple[str, ...]
    level: tuple[str, ...]
    higher: tuple[str, ...]

    @property
    def of(self) -> int:
        """How many entrants were compared, the product among them."""
        return 1 + len(self.lower) + len(self.level) + len(self.higher)

    @property
    def is_lowest(self) -> bool:
        """Whether its value is clearly the lowest of all."""
        return bool(self.higher) and not self.lower and not self.level

    @property
    def is_highest(self) -> bool:
        """Whether its value is clearly the highest of all."""
        return bool(self.lower) and not self.higher and not self.level

    def place(self, better: str) -> int | None:
        """Its place, 1 for the best; None where it shares one or neither direction is better.

        `better` is the protocol's: higher, lower or neither.
        """
        if self.level or better == "neither":
            return None
        return 1 + len(self.lower if better == "lower" else self.higher)


def standing_of(entry: Compared, product: str) -> Standing | None:
    """Where a product stands; None where no difference could have been shown, or nothing was measured of it."""
    comparison = entry.comparison
    if comparison is None or Doubt.CANNOT_SHOW_A_DIFFERENCE in comparison.reasons:
        return None
    others: dict[str, list[str]] = {"lower": [], "level": [], "higher": []}
    for pair in comparison.pairs:
        if product not in (pair.a, pair.b):
            continue
        other, ahead = (pair.b, pair.difference) if product == pair.a else (pair.a, -pair.difference)
        others["level" if not pair.distinct else "lower" if ahead > 0 else "higher"].append(other)
    if not any(others.values()):
        return None
    order = {cell.product: number for number, cell in enumerate(entry.measured.cells)}
    lower, level, higher = (tuple(sorted(found, key=order.__getitem__)) for found in others.values())
    return Standing(product=product, lower=lower, level=level, higher=higher)
