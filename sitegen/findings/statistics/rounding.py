"""The digits that a value may show: as many as its uncertainty carries, no more."""

from decimal import ROUND_HALF_EVEN, ROUND_UP, Context, Decimal
from fractions import Fraction

from sitegen.datatypes import dataclass
from sitegen.findings.photos.door import Number, finite, positive

DIGITS = 2  # of an uncertainty, at most (GUM 7.2.6)
MOST_STEPS = Decimal(4)  # of the last digit of a value that stands alone, in its expanded uncertainty
LARGEST_LOSS = Decimal("0.01")  # rounding down may take away at most this share of the uncertainty
DIVIDING = Context(prec=60, rounding=ROUND_HALF_EVEN)  # so many digits that the one visible rounding decides
EXACT = Context(prec=1200, rounding=ROUND_HALF_EVEN)  # holds any finite float to the finest place let in


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounded:
    """A value and its uncertainty to the same place; the digits are final, later stages only dress them."""

    value: Decimal
    uncertainty: Decimal | None


def round_uncertainty(uncertainty: Number) -> Decimal:
    """An uncertainty (zero or more, any unit) to two significant digits, up when in doubt.

    The rule: to the nearest, unless that takes away more than 1 % of it; then up. It gives what GUM 7.2.6
    prints (10.47 becomes 11, 28.05 becomes 28) and H.1 (93.4 becomes 93), and never understates by more than
    1 %.
    Errors: ValueError when not finite or below zero.

    >>> [str(round_uncertainty(u)) for u in (10.47, 28.05, 93.4, 0.0996, 1234)]
    ['11', '28', '93', '0.10', '1300']
    """
    exact = _exact(uncertainty, "uncertainty")
    if exact < 0:
        raise ValueError(f"uncertainty: expected zero or more, found {uncertainty}")
    if exact == 0:
        return Decimal(0)
    place = Decimal(1).scaleb(exact.adjusted() - DIGITS + 1)
    nearest = exact.quantize(place, context=EXACT)
    if exact - nearest > LARGEST_LOSS * exact:
        nearest = exact.quantize(place, rounding=ROUND_UP, context=EXACT)
    return _written_out(_two_digits(nearest))


def round_estimate(value: Number, uncertainty: Number | None, resolution: Number | None = None) -> Rounded:
    """A value to the last place of its rounded uncertainty; without one, to the place of the resolution.

    `value`, `uncertainty`, `resolution`: one unit. Halves go to the even digit (ISO 80000-1 annex B, rule A).
    An uncertainty of zero counts as none. With neither, the value stays as it was written. Never a negative
    zero.
    Errors: ValueError when something isn't finite, uncertainty is negative, or resolution isn't positive.
    Source: GUM 7.2.6.

    >>> shown = round_estimate(Decimal("1412.5"), 0.98)
    >>> str(shown.value), str(shown.uncertainty)
    ('1412.50', '0.98')
    >>> str(round_estimate(Decimal("-0.2"), None, Decimal(1)).value)
    '0'
    """
    exact = _exact(value, "value")
    shown = round_uncertainty(uncertainty) if uncertainty is not None else None
    if not shown:
        place = _place_of_resolution(resolution) if resolution is not None else None
        return Rounded(value=_to_place(exact, place), uncertainty=None)
    return Rounded(value=_to_place(exact, last_place(shown)), uncertainty=shown)


def round_plainly(value: Number, uncertainty: Number | None, resolution: Number | None = None) -> Decimal:
    """A value to stand without its uncertainty: with the finest place of which that is at most four steps.

    `value`, `uncertainty`, `resolution`: one unit. With an expanded uncertainty at 95 % the standard one is then at most
    two steps of the last digit (common practice, no source). Without an uncertainty, or with one of zero, the place is
    that of the resolution. Errors: ValueError as `round_estimate`.

    >>> [str(round_plainly(Decimal("331.40"), u)) for u in (0.046, 0.4, 0.46, 3.1, 4.6)]
    ['331.4', '331.4', '331', '331', '330']
    """
    if not uncertainty:
        return round_estimate(value, None, resolution).value
    shown = round_uncertainty(uncertainty)
    place = shown.adjusted() + (shown > MOST_STEPS.scaleb(shown.adjusted()))
    return _to_place(_exact(value, "value"), Decimal(1).scaleb(place))


def last_place(shown: Decimal) -> Decimal:
    """The place of the second significant digit of a rounded uncertainty: 10 for 1300 is 100, for 0.98 is
    0.01.

    >>> str(last_place(Decimal("0.98"))), str(last_place(Decimal("1300")))
    ('0.01', '1E+2')
    """
    return Decimal(1).scaleb(shown.adjusted() - DIGITS + 1)


def _exact(number: Number, name: str) -> Decimal:
    finite(number, name)
    if isinstance(number, Decimal):
        return number
    if isinstance(number, Fraction):
        return DIVIDING.divide(Decimal(number.numerator), Decimal(number.denominator))
    if isinstance(number, int):
        return Decimal(number)
    return Decimal(repr(float(number)))  # the shortest digits that give the float, so 28.05 is 28.05


def _two_digits(rounded: Decimal) -> Decimal:
    """99.7 rounds to 100, which shows three digits: its last one is dropped."""
    return rounded.quantize(last_place(rounded), context=EXACT)


def _place_of_resolution(resolution: Number) -> Decimal:
    positive(resolution, "resolution")
    exponent = _exact(resolution, "resolution").normalize().as_tuple().exponent
    return Decimal(1).scaleb(int(exponent))


def _to_place(value: Decimal, place: Decimal | None) -> Decimal:
    rounded = value if place is None else value.quantize(place, context=EXACT)
    return _written_out(abs(rounded) if rounded == 0 else rounded)


def _written_out(number: Decimal) -> Decimal:
    """4.57E+4 as 45700: no reader and no number pattern wants the power of ten."""
    return number.quantize(Decimal(1), context=EXACT) if int(number.as_tuple().exponent) > 0 else number
