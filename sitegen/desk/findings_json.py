"""`sitegen findings --json`: the findings in a documented form for others' programs.

The form has a version. A key is only added within one; what changes or goes raises it. Numbers are JSON numbers in
`unit`; `shown` are texts with the digits that a page prints. What isn't known is null. `SCHEMA` (JSON Schema 2020-12)
describes it all; README.md says it in words.
"""

import math
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from sitegen.findings.claiming.claims import GradeVerdict, Verdict
from sitegen.findings.comparison.comparison import LEVEL, Comparison
from sitegen.findings.found import Cell, Compared, CurveSummary, Judged, Measured, RoundFindings, Summary
from sitegen.findings.statistics.censored import CensoredSummary, censored_times
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.findings.statistics.ratio import RatioSummary
from sitegen.records.fields.words import Words
from sitegen.records.measured.protocol import CURVE, RATIO

VERSION = 1

Json = dict[str, Any]


def findings_json(findings: Iterable[RoundFindings], lead: str) -> Json:
    """All rounds; the author's words in the language `lead`."""
    return {"form": "sitegen findings", "version": VERSION, "rounds": [_round(found, lead) for found in findings]}


def _round(found: RoundFindings, lead: str) -> Json:
    return {
        "round": found.round.id,
        "measures": [_measure(entry, lead) for entry in found.compared],
        "claims": [_claim(judged) for judged in found.claims],
    }


def _measure(entry: Compared, lead: str) -> Json:
    measured, protocol = entry.measured, entry.measured.protocol
    return {
        "protocol": protocol.id,
        "stage": measured.measure.stage.text,
        "scale": protocol.scale,
        "unit": protocol.along.unit if protocol.scale == CURVE and protocol.along else protocol.unit,
        "better": protocol.better,
        "scatter": _scatter(measured),
        "products": [_product(cell, lead) for cell in measured.cells],
        "comparison": _comparison(entry.comparison, entry.letters) if entry.comparison is not None else None,
    }


def _scatter(measured: Measured) -> Json | None:
    """Whose the scatter is, and of an instrument's how much, from how many degrees of freedom, and what contradicts it."""
    if measured.protocol.scale not in {RATIO, CURVE}:
        return None
    pooling = measured.pooling
    pooled, odd = (pooling.pooled, pooling.disagreement) if pooling is not None else (None, None)
    return {
        "of": measured.protocol.scatter,
        "standard_deviation": pooled.s if pooled else None,
        "degrees_of_freedom": pooled.dof if pooled else None,
        "contradicted_by": {"product": odd.entrant, "own": odd.s, "others": odd.others} if odd else None,
    }


def _product(cell: Cell, lead: str) -> Json:
    readings = {
        "came": cell.came,
        "used": cell.used,
        "missing": [_said(words, lead) for words in cell.missing],
    }
    return {"product": cell.product, "readings": readings, "finding": _finding(cell.summary) if cell.summary else None}


def _said(words: Words, lead: str) -> str:
    return words.text(lead, lead)


def _finding(summary: Summary) -> Json:
    if isinstance(summary, RatioSummary):
        return {"kind": "mean", **_mean(summary)}
    if isinstance(summary, CensoredSummary):
        return {"kind": "beyond", **_beyond(summary)}
    if isinstance(summary, GradeSummary):
        return {
            "kind": "grades",
            "n": summary.n,
            "median": _numbers(summary.median),
            "lowest": float(summary.low),
            "highest": float(summary.high),
            "values": _numbers(summary.values),
        }
    if isinstance(summary, CurveSummary):
        return {"kind": "times", "shares": [_times(summary, index) for index in range(len(summary.times))]}
    return {"kind": "share", "n": summary.n, "yes": summary.yes, "low": summary.low, "high": summary.high}


def _mean(summary: RatioSummary) -> Json:
    """A mean with its interval and what that rests on; all null where one reading of unknown scatter is all there is."""
    parts = [
        {"name": part.name, "standard_uncertainty": part.contribution, "degrees_of_freedom": _finite(part.dof)}
        for part in summary.components
    ]
    return {
        "n": summary.n,
        "value": summary.mean,
        "expanded": summary.expanded,
        "coverage": summary.coverage,
        "factor": summary.coverage_factor,
        "degrees_of_freedom": _finite(summary.dof),
        "rests_on": parts,
        "shown": str(summary.shown),
        "shown_expanded": str(summary.shown_expanded) if summary.shown_expanded is not None else None,
        "values": _numbers(summary.values),
    }


def _beyond(summary: CensoredSummary) -> Json:
    return {
        "n": summary.n,
        "values": _numbers(summary.exact),
        "above": _numbers(summary.above),
        "below": _numbers(summary.below),
        "median": _float(summary.median),
        "median_above": _float(summary.median_above),
        "median_below": _float(summary.median_below),
    }


def _times(summary: CurveSummary, index: int) -> Json:
    entry = summary.times[index]
    mean = {"kind": "mean", **_mean(entry.summary)} if entry.summary is not None else None
    return {
        "share": float(entry.share),
        "finding": mean or {"kind": "beyond", **_beyond(censored_times(entry.runs))},
    }


def _comparison(comparison: Comparison, letters: Any) -> Json:
    return {
        "method": comparison.method.value,
        "family_wise_level": LEVEL,
        "limits": [doubt.value for doubt in comparison.reasons],
        "letters": dict(letters),
        "pairs": [
            {
                "a": pair.a,
                "b": pair.b,
                "difference": pair.difference,
                "low": pair.low,
                "high": pair.high,
                "p": pair.p_adjusted,
                "distinct": pair.distinct,
            }
            for pair in comparison.pairs
        ],
    }


def _claim(judged: Judged) -> Json:
    verdict = judged.verdict
    base = {
        "product": judged.product,
        "protocol": judged.measure.protocol,
        "stage": judged.measure.stage.text,
        "unit": judged.unit,
        "claimed": float(judged.value),
        "verdict": verdict.outcome.value,
        "reasons": [reason.value for reason in verdict.reasons],
    }
    if isinstance(verdict, Verdict):
        tolerated = {"low": verdict.limits.low, "high": verdict.limits.high}
        return base | {
            "tolerated": tolerated,
            "probability": verdict.probability,
            "off": verdict.off,
            "off_expanded": verdict.off_expanded,
        }
    return base | _met(verdict)


def _met(verdict: GradeVerdict) -> Json:
    return {"met": verdict.share.yes, "of": verdict.share.n}


def _numbers(values: Sequence[Decimal]) -> list[float]:
    return [float(value) for value in values]


def _float(value: Decimal | None) -> float | None:
    return float(value) if value is not None else None


def _finite(value: float | None) -> float | None:
    """Infinite degrees of freedom are none to speak of, and JSON has no infinity."""
    return value if value is not None and math.isfinite(value) else None


_NUMBER: Json = {"type": "number"}
_MAYBE: Json = {"type": ["number", "null"]}
_TEXT: Json = {"type": "string"}
_NUMBERS: Json = {"type": "array", "items": _NUMBER}


def _object(**keys: Json) -> Json:
    return {"type": "object", "properties": keys, "required": list(keys)}


def _list(items: Json) -> Json:
    return {"type": "array", "items": items}


_PART = _object(name=_TEXT, standard_uncertainty=_NUMBER, degrees_of_freedom=_MAYBE)
_FINDINGS: Json = {
    "oneOf": [
        _object(
            kind={"const": "mean"}, n={"type": "integer"}, value=_NUMBER, expanded=_MAYBE, coverage=_NUMBER, factor=_MAYBE,
            degrees_of_freedom=_MAYBE, rests_on=_list(_PART), shown=_TEXT, shown_expanded={"type": ["string", "null"]}, values=_NUMBERS,
        ),
        _object(
            kind={"const": "beyond"}, n={"type": "integer"}, values=_NUMBERS, above=_NUMBERS, below=_NUMBERS,
            median=_MAYBE, median_above=_MAYBE, median_below=_MAYBE,
        ),
        _object(kind={"const": "grades"}, n={"type": "integer"}, median=_NUMBERS, lowest=_NUMBER, highest=_NUMBER, values=_NUMBERS),
        _object(kind={"const": "share"}, n={"type": "integer"}, yes={"type": "integer"}, low=_NUMBER, high=_NUMBER),
        _object(kind={"const": "times"}, shares=_list(_object(share=_NUMBER, finding={"type": "object"}))),
        {"type": "null"},
    ]
}  # fmt: skip
_PAIR = _object(a=_TEXT, b=_TEXT, difference=_NUMBER, low=_MAYBE, high=_MAYBE, p=_MAYBE, distinct={"type": "boolean"})
_MEASURE = _object(
    protocol=_TEXT,
    stage=_TEXT,
    scale={"enum": ["ratio", "ordinal", "curve", "yes_no"]},
    unit=_TEXT,
    better={"enum": ["higher", "lower", "neither"]},
    scatter={"type": ["object", "null"]},
    products=_list(
        _object(
            product=_TEXT,
            readings=_object(came={"type": "integer"}, used={"type": "integer"}, missing=_list(_TEXT)),
            finding=_FINDINGS,
        )
    ),
    comparison={
        "anyOf": [
            {"type": "null"},
            _object(
                method=_TEXT,
                family_wise_level=_NUMBER,
                limits=_list(_TEXT),
                letters={"type": "object", "additionalProperties": _TEXT},
                pairs=_list(_PAIR),
            ),
        ]
    },
)
_CLAIM = _object(
    product=_TEXT, protocol=_TEXT, stage=_TEXT, unit=_TEXT, claimed=_NUMBER,
    verdict={"enum": ["holds", "does_not_hold", "cannot_be_told"]}, reasons=_list(_TEXT),
)  # fmt: skip
SCHEMA: Json = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    **_object(
        form={"const": "sitegen findings"},
        version={"const": VERSION},
        rounds=_list(_object(round=_TEXT, measures=_list(_MEASURE), claims=_list(_CLAIM))),
    ),
}
