"""The makers' figures as numbers beside the findings, for charts."""

from sitegen.findings.found import RoundFindings
from sitegen.records.measured.protocol import RATIO


def claimed_values(findings: RoundFindings) -> dict[tuple[str, str], float]:
    """Claims on ratio measures when new, by protocol and product, in the protocol's unit."""
    found: dict[tuple[str, str], float] = {}
    for judged in findings.claims:
        entry = findings.of(judged.measure)
        if entry is not None and entry.measured.protocol.scale == RATIO:
            found.setdefault((judged.measure.protocol, judged.product), float(judged.value))
    return found
