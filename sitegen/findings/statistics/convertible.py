"""Which figures may stand beside one another: a number means nothing without the method that made it.

Units convert; methods don't. A table says for each method what it measures and under what conditions; two
figures are comparable when both agree, or when a published chart links their scales. Anything else is refused
with a reason.
"""

from sitegen.datatypes import dataclass
from sitegen.findings.reasons import Reason


@dataclass(frozen=True, slots=True)
class Method:
    """`measurand`: what is measured. `family`: methods with the same aim. `condition`: what sets this one
    apart.

    `differs`: the reason to give when another method of the family is held against it. `source` of the row.
    """

    measurand: str
    family: str
    condition: str
    differs: Reason
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Convertibility:
    """Whether figures of two methods may be compared, and why or why not."""

    allowed: bool
    reason: Reason


def _vapour(measurand: str, condition: str, source: str) -> Method:
    return Method(measurand, "water vapour", condition, Reason.OTHER_VAPOUR_METHOD, source)


def _air(condition: str, source: str) -> Method:
    return Method("air permeability", "air", condition, Reason.OTHER_PRESSURE, source)


# Conditions from memory of the standards where not said otherwise. That vapour methods don't convert: still
# air layer, gradient, temperature and contact with liquid differ (reviews of vapour methods; for
# air-permeable knits one paper of 2007 found otherwise, for laminates it stays refused). A pressure drop is
# never recalculated: flow through cloth isn't proportional to it (ISO 9237:1995 asks that it be reported).
E96 = "ASTM E96: a result holds only for its conditions"
METHODS: dict[str, Method] = {
    "iso_11092_ret": _vapour("vapour resistance", "35 °C plate, 35 °C air, 40 % RH", "ISO 11092:2014"),
    "iso_11092_rct": Method(
        "thermal resistance", "heat", "20 °C air, 65 % RH", Reason.OTHER_CONDITIONS, "ISO 11092:2014"
    ),
    "astm_e96_a": _vapour("vapour transmission", "dry cup upright", E96),
    "astm_e96_b": _vapour("vapour transmission", "water cup upright", E96),
    "astm_e96_bw": _vapour("vapour transmission", "water cup inverted", E96),
    "jis_l1099_a1": _vapour("vapour transmission", "calcium chloride cup, 40 °C, 90 % RH", "JIS L 1099"),
    "jis_l1099_b1": _vapour("vapour transmission", "potassium acetate, inverted, 30 °C", "JIS L 1099"),
    "jis_l1099_b2": _vapour("vapour transmission", "as B-1 with a film over the specimen", "JIS L 1099"),
    "iso_15496": _vapour("vapour permeability", "inverted cup between two membranes", "ISO 15496"),
    "bs_7209": _vapour("vapour index against a reference", "upright cup on a turntable", "BS 7209"),
    "breath_feel": _vapour("felt resistance to breath", "by mouth, ordinal", "house method"),
    "iso_9237_100pa": _air("100 Pa", "ISO 9237:1995"),
    "iso_9237_200pa": _air("200 Pa", "ISO 9237:1995"),
    "astm_d737_125pa": _air("125 Pa", "ASTM D737"),
    "iso_811_10cm": Method("hydrostatic head", "head", "10 cm water a minute", Reason.OTHER_RATE, "ISO 811"),
    "iso_811_60cm": Method("hydrostatic head", "head", "60 cm water a minute", Reason.OTHER_RATE, "ISO 811"),
    "fl1_run_time": Method("run time", "light", "to 10 %", Reason.OTHER_SHARE, "ANSI/PLATO FL 1"),
    "run_time_50": Method("run time", "light", "to 50 %", Reason.OTHER_SHARE, "common practice"),
    "iso_4920": Method("spray grade", "spray", "0 to 5", Reason.OTHER_CONDITIONS, "ISO 4920:2012"),
    "aatcc_tm22": Method("spray rating", "spray", "0 to 100", Reason.OTHER_CONDITIONS, "AATCC TM22"),
}

# One picture chart, two ways of numbering it: a table links them (ISO grade 5 is rating 100).
SAME_SCALE = frozenset({frozenset({"iso_4920", "aatcc_tm22"})})


def convertible(method_a: str, method_b: str) -> Convertibility:
    """Whether a figure by one method may be held against a figure by the other; order is of no account.

    Methods are keys of `METHODS`; an unknown one is comparable only with itself.

    >>> convertible("iso_11092_ret", "jis_l1099_b1")
    Convertibility(allowed=False, reason=<Reason.OTHER_VAPOUR_METHOD: 'other_vapour_method'>)
    >>> convertible("iso_4920", "aatcc_tm22").allowed
    True
    """
    if method_a == method_b:
        return Convertibility(allowed=True, reason=Reason.SAME_METHOD)
    if method_a not in METHODS or method_b not in METHODS:
        return Convertibility(allowed=False, reason=Reason.UNKNOWN_METHOD)
    if frozenset({method_a, method_b}) in SAME_SCALE:
        return Convertibility(allowed=True, reason=Reason.SAME_SCALE)
    a, b = METHODS[method_a], METHODS[method_b]
    return Convertibility(allowed=False, reason=a.differs if a.family == b.family else Reason.OTHER_MEASURAND)
