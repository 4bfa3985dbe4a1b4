"""What is said of how readings scatter: readings that contradict the protocol, and entrants measured once."""

from collections.abc import Iterator

from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition
from sitegen.findings.comparison.comparison import Doubt
from sitegen.findings.found import Compared, Measured, RoundFindings
from sitegen.findings.statistics.pooling import Disagreement
from sitegen.findings.statistics.rounding import round_uncertainty
from sitegen.records.measured.protocol import CURVE, ORDINAL


def scatter_sentences(edition: Edition, findings: RoundFindings) -> Iterator[str]:
    """A sentence for each measure whose readings contradict its protocol, or of which an entrant was measured once."""
    for entry in findings.compared:
        pooling = entry.measured.pooling
        if pooling is not None and pooling.disagreement is not None:
            yield _disagreement(edition, entry.measured, pooling.disagreement)
        # Of single runs the limits speak themselves, of single grades the sentences on how grades scatter.
        others = entry.measured.protocol.scale not in {CURVE, ORDINAL}
        if others and entry.comparison is not None and Doubt.SINGLE_SPECIMEN in entry.comparison.reasons:
            yield _measured_once(edition, entry)


def _disagreement(edition: Edition, measured: Measured, found: Disagreement) -> str:
    own, others = (
        numbers.quantity(edition.lang, round_uncertainty(s), measured.protocol.unit) for s in (found.s, found.others)
    )
    return edition.lang.text(
        "{measure}: taken to scatter alike for all products, but the readings of {product} have a standard deviation of "
        "{own}, those of the others {others}; its interval may be wrong.",
        measure=edition.measure(measured.measure),
        product=edition.product(found.entrant),
        own=own,
        others=others,
    )


def _measured_once(edition: Edition, entry: Compared) -> str:
    once = [cell.product for cell in entry.measured.cells if len(cell.specimens) == 1]
    return edition.lang.text(
        "{measure}: measured once for {products}, so how much it scatters is not known and no difference can be shown.",
        measure=edition.measure(entry.measured.measure),
        products=numbers.listing(edition.lang, [edition.product(id) for id in once]),
    )
