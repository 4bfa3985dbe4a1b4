"""Readings known by a bound: product-limit and permutation against published data and statsmodels, and what is made of them."""

import math
from decimal import Decimal

import numpy as np
import pytest
from builders import SMALL
from hypothesis import given
from hypothesis import strategies as st
from small_records import edition, small_findings, small_publication
from statsmodels.duration.survfunc import SurvfuncRight

from sitegen.figures.wording.cells import word_cell
from sitegen.findings.claiming.claims import Bound, Claim, Outcome, judge_censored
from sitegen.findings.comparison.censored_differences import compare_censored, gehan_p, gehan_scores
from sitegen.findings.comparison.comparison import Doubt, Method
from sitegen.findings.ranking.worth import Line, WorthReason, censored_worth
from sitegen.findings.statistics.censored import (
    CensoredSummary,
    product_limit,
    product_limit_median,
    summarise_censored,
)
from sitegen.records.measured.round import parse_measure

# Freireich and others 1963, weeks; + is censored (from memory; the printed results below hold the values to account).
MERCAPTOPURINE = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
PLACEBO = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"


def split(text: str) -> tuple[list[Decimal], list[Decimal]]:
    """Exact readings, and limits of those marked +."""
    words = text.split()
    return [Decimal(w) for w in words if w[-1] != "+"], [Decimal(w[:-1]) for w in words if w[-1] == "+"]


def read(text: str) -> CensoredSummary:
    """The summary of such a text."""
    return summarise_censored(*split(text))


def test_product_limit_of_the_leukaemia_trial() -> None:
    """Shares and Greenwood's standard errors of the treated, as the textbooks print them (Freireich 1963; from memory)."""
    found = {
        int(value): (round(share, 4), round(error, 4)) for value, share, error in product_limit(*split(MERCAPTOPURINE))
    }
    assert found == {
        6: (0.8571, 0.0764), 7: (0.8067, 0.0869), 10: (0.7529, 0.0963), 13: (0.6902, 0.1068),
        16: (0.6275, 0.1141), 22: (0.5378, 0.1282), 23: (0.4482, 0.1346),
    }  # fmt: skip
    assert product_limit_median(*split(MERCAPTOPURINE)) == 23
    assert product_limit_median(*split(PLACEBO)) == 8


TIMES = st.lists(st.tuples(st.integers(1, 12), st.booleans()), min_size=1, max_size=12)


@given(TIMES)
def test_product_limit_agrees_with_statsmodels(times: list[tuple[int, bool]]) -> None:
    """Source: statsmodels' SurvfuncRight on random times with many ties; readings at a limit stay at risk there."""
    exact = [Decimal(value) for value, ended in times if ended]
    above = [Decimal(value) for value, ended in times if not ended]
    if not exact:
        assert list(product_limit(exact, above)) == []
        return
    fitted = SurvfuncRight([value for value, _ in times], [int(ended) for _, ended in times])
    expected = dict(zip(map(float, fitted.surv_times), map(float, fitted.surv_prob), strict=True))
    found = {float(value): share for value, share, _ in product_limit(exact, above)}
    assert found == {value: pytest.approx(expected[value], abs=1e-9) for value in {float(one) for one in exact}}


@given(TIMES, st.sampled_from([3, 6, 9]))
def test_with_one_limit_the_median_is_that_of_all_readings(times: list[tuple[int, bool]], limit: int) -> None:
    """What is known of the median beyond one limit holds for whatever the readings beyond it really are."""
    values = [value for value, _ in times]
    cut = [value for value in values if value >= limit]
    found = summarise_censored([Decimal(v) for v in values if v < limit], [Decimal(limit)] * len(cut))
    true = float(np.median(values))
    if found.median is not None and (
        len(values) % 2 or not cut
    ):  # of two middle ones the product limit takes the lower
        assert float(found.median) == pytest.approx(true)
    if found.median_above is not None:
        assert float(found.median_above) <= true
    if found.median_below is not None:
        assert float(found.median_below) >= true


@pytest.mark.parametrize(
    ("exact", "above", "below", "median", "bounds"),
    [
        ("57 62", "300", "", "62", (None, None)),
        ("57", "300 300", "", None, ("300", None)),
        ("", "20 20 20", "", None, ("20", None)),
        ("14 16 17 19", "20", "", "17", (None, None)),
        ("3 4", "", "1 1 1", None, (None, "1")),
        ("3 4 5", "", "1 1", "3", (None, None)),
        ("5", "9", "1", "5", (None, None)),
        ("", "9", "1", None, (None, None)),
    ],
)
def test_what_is_known_of_the_middle(
    exact: str, above: str, below: str, median: str | None, bounds: tuple[str | None, str | None]
) -> None:
    """Worked by hand: the middle reading where enough are numbers, else a bound of it; nothing where both sides are open."""
    found = summarise_censored(*([Decimal(w) for w in text.split()] for text in (exact, above, below)))
    shown = tuple(str(x) if x is not None else None for x in (found.median_above, found.median_below))
    assert (str(found.median) if found.median is not None else None, shown) == (median, bounds)


def test_gehan_scores_of_the_leukaemia_trial() -> None:
    """W = 271 with variance 5 644.4 under permutation, z = 3.607 (Gehan 1965; from memory, worked out anew with NumPy)."""
    spans = [
        span
        for text in (MERCAPTOPURINE, PLACEBO)
        for exact, above in [split(text)]
        for span in [*((float(v), float(v)) for v in exact), *((float(v), math.inf) for v in above)]
    ]
    scores = np.array(gehan_scores(spans), dtype=float)
    n, m = 21, len(scores) - 21
    variance = n * m / ((n + m) * (n + m - 1)) * float((scores**2).sum())
    assert float(scores[:n].sum()) == 271
    assert variance == pytest.approx(5644.4, abs=0.05)


@pytest.mark.parametrize(
    ("a", "b", "p"),
    [
        ("20+ 20+ 20+", "12 15 18", 2 / 20),
        ("20+ 20+ 20+", "12 15 20+", 8 / 20),
        ("20+ 20+ 20+ 20+", "12 15 18 20+", 10 / 70),
        ("20+ 20+ 20+ 20+ 20+", "12 14 15 18 20+", 12 / 252),
    ],
)
def test_readings_at_a_limit_are_compared_exactly(a: str, b: str, p: float) -> None:
    """Share of all ways to part the readings that are as extreme, counted by hand over C(2n, n) arrangements."""
    assert gehan_p(read(a), read(b)) == pytest.approx(p)
    assert gehan_p(read(b), read(a)) == pytest.approx(p)


def test_without_bounds_the_permutation_is_that_of_the_rank_sum() -> None:
    """Source: scipy.stats.mannwhitneyu, exact, on data without ties."""
    from scipy import stats

    a, b = "1 3 4 9", "5 7 8 10 12"
    reference = stats.mannwhitneyu([float(w) for w in a.split()], [float(w) for w in b.split()], method="exact")
    assert gehan_p(read(a), read(b)) == pytest.approx(float(reference.pvalue))


def test_a_longer_record_is_no_longer_time() -> None:
    """One lamp logged for 5 h, the other for 10 h, both of the same kind: both are cut at 5 h, so nothing differs."""
    assert gehan_p(read("300+ 300+ 300+ 300+"), read("600+ 600+ 600+ 600+")) == 1.0


def test_a_mixed_round_has_one_family() -> None:
    """Numbers by Welch, bounds by permutation, all pairs by Holm's steps; an entrant with one reading has no place."""
    groups = {"a": read("10.1 10.2 10.0"), "b": read("15.0 15.1 14.9"), "c": read("20+ 20+ 20+"), "d": read("20+")}
    found = compare_censored(groups)
    assert found.method is Method.WELCH_PERMUTATION and Doubt.SINGLE_SPECIMEN in found.reasons
    assert found.distinct_pairs == (("a", "b"),)
    assert [name for name, _ in found.centres] == ["a", "b", "c"]
    alone = compare_censored({"c": read("20+ 20+ 20+"), "e": read("18 17 16")})
    assert Doubt.CANNOT_SHOW_A_DIFFERENCE in alone.reasons and alone.specimens_needed == 4


@pytest.mark.parametrize(
    ("text", "bound", "value", "outcome"),
    [
        ("20+ 20+ 20+", Bound.AT_LEAST, "10", Outcome.HOLDS),
        ("20+ 20+ 20+", Bound.AT_LEAST, "20", Outcome.CANNOT_BE_TOLD),  # half of such threes all pass by chance
        ("20+ 20+ 20+ 20+ 20+ 20+", Bound.AT_LEAST, "20", Outcome.HOLDS),
        ("20+ 20+ 20+", Bound.AT_LEAST, "30", Outcome.CANNOT_BE_TOLD),
        ("20+ 20+ 20+", Bound.AT_MOST, "10", Outcome.DOES_NOT_HOLD),
        ("20+ 20+ 9", Bound.AT_LEAST, "10", Outcome.CANNOT_BE_TOLD),
        ("20+", Bound.AT_LEAST, "10", Outcome.HOLDS),
    ],
)
def test_claims_against_bounds(text: str, bound: Bound, value: str, outcome: Outcome) -> None:
    """All readings have to agree, and be so many or so far off that it would hardly come about at the limit."""
    assert judge_censored(Claim(value=Decimal(value), bound=bound), read(text)).outcome is outcome


def test_worth_of_readings_beyond_a_limit() -> None:
    """Three readings: each gap by C(3, j)/8; the middle one, if a number, is the worth; alone it is unknown."""
    found = censored_worth(read("50 60 100+"), Line(worth_0=0, worth_100=200))
    assert (found.value, found.low, found.high) == (30, 30, 30)
    assert found.belief.chances == (1 / 8, 3 / 8, 3 / 8, 1 / 8)  # type: ignore[union-attr]
    assert found.belief.spans == ((0, 25), (25, 30), (30, 100), (50, 100))  # type: ignore[union-attr]
    assert WorthReason.SPREAD_UNKNOWN in censored_worth(read("100+"), Line(worth_0=0, worth_100=200)).reasons


HEAD = "rounds/trousers/hydrostatic_head.csv"


def test_a_bound_travels_from_the_table_to_the_sentence() -> None:
    """`>1 m` becomes more than 1000 mm, beside the others; it is in no mean, and the open data keep it."""
    round = SMALL["rounds/trousers/round.yaml"].replace("[spray, mass,", "[spray, mass, hydrostatic_head,")
    table = (
        "product,specimen,value,unit\ntarn,1,>1,m\ntarn,2,800,mm\ntarn,3,900,mm\nfenn,1,>1000 mm,mm\nfenn,2,>1000,mm\n"
    )
    publication = small_publication({"rounds/trousers/round.yaml": round, HEAD: table})
    found = small_findings(publication).of(parse_measure("hydrostatic_head"))  # type: ignore[arg-type]
    assert found is not None
    tarn, fenn = (word_cell(edition(publication), found.measured, found.measured.cell(id)) for id in ("tarn", "fenn"))
    plain = [text.replace("\u00a0", " ") for text in (tarn.value, tarn.spread, fenn.value, fenn.spread)]
    assert plain[0].startswith("900") and "middle reading" in plain[0]
    assert "more than 1,000" in plain[1] and "in 1 of 3" in plain[1] and "800" in plain[1]
    assert plain[2].startswith("more than 1,000") and "in 2 of 2" in plain[3]


def test_some_runs_that_ran_longer_are_told_beside_the_others() -> None:
    """One run of three outlasted the logger: the middle one is a number, and the sentence names all three."""
    rows = ["product,specimen,time,value"]
    for run, last in (("1", 20), ("2", 22), ("3", 290)):
        rows += [f"tarn,{run},{time},{value}" for time, value in ((0, 300), (60, 290), (120, last), (300, last))]
    publication = small_publication({"rounds/trousers/run_time.csv": "\n".join(rows) + "\n"})
    found = small_findings(publication).of(parse_measure("run_time"))  # type: ignore[arg-type]
    assert found is not None
    worded = word_cell(edition(publication), found.measured, found.measured.cell("tarn"))
    assert "middle reading" in worded.value and "longer than 5\u00a0h in 1 of 3" in worded.spread
    assert "the others" in worded.spread
