"""Share of specimens that passed, with an interval that holds for any number of them."""

from collections.abc import Sequence

from sitegen.datatypes import dataclass
from sitegen.findings.photos import door
from sitegen.findings.reasons import Reason
from sitegen.findings.statistics.quantiles import beta_quantile
from sitegen.findings.statistics.uncertainty import COVERAGE


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareSummary:
    """`yes` of `n` specimens; `share`, `low`, `high` between 0 and 1; `values` in the order given."""

    n: int
    yes: int
    share: float
    low: float
    high: float
    coverage: float
    values: tuple[bool, ...]
    reasons: tuple[Reason, ...]


def summarise_yes_no(answers: Sequence[bool], coverage: float = COVERAGE) -> ShareSummary:
    """The share of yes among `answers` with its exact interval; ValueError when empty or no truth value.

    >>> found = summarise_yes_no([True, True, True])
    >>> found.share, round(found.low, 3), found.high
    (1.0, 0.292, 1.0)
    """
    for index, answer in enumerate(answers):
        if not isinstance(answer, bool):
            raise ValueError(f"answers[{index}]: expected yes or no, found {answer!r}")
    if not answers:
        raise ValueError("answers: expected at least 1 values, found 0")
    n, yes = len(answers), sum(answers)
    low, high = exact_interval(yes, n, coverage)
    return ShareSummary(
        n=n,
        yes=yes,
        share=yes / n,
        low=low,
        high=high,
        coverage=coverage,
        values=tuple(answers),
        reasons=(Reason.ONE_SPECIMEN,) if n == 1 else (),
    )


def exact_interval(yes: int, n: int, coverage: float = COVERAGE) -> tuple[float, float]:
    """The interval of Clopper & Pearson, Biometrika 26 (1934) 404: never covers less than it says.

    It is wider than approximate ones, and that is the point with three specimens. Errors: ValueError unless
    0 <= yes <= n and n >= 1, and for a coverage outside 0..1.

    >>> [round(limit, 4) for limit in exact_interval(0, 10)]
    [0.0, 0.3085]
    """
    if n < 1 or not 0 <= yes <= n:
        raise ValueError(f"yes of n: expected 0 <= yes <= n and n >= 1, found {yes} of {n}")
    tail = (1 - door.share(coverage, "coverage")) / 2
    low = beta_quantile(tail, yes, n - yes + 1) if yes else 0.0
    high = beta_quantile(1 - tail, yes + 1, n - yes) if yes < n else 1.0
    return low, high
