"""The charts of a round in an edition: worded once, though the round's page and those of all its entrants show them."""

from sitegen.figures.charts.charts import ChartFigure
from sitegen.figures.charts.protocol_charts import protocol_charts
from sitegen.findings.found import RoundFindings
from sitegen.pages.parts.claimed import claimed_values
from sitegen.pages.site import Sheet


def round_charts(sheet: Sheet, findings: RoundFindings) -> tuple[ChartFigure, ...]:
    """A chart for each protocol whose findings can be drawn, no entrant marked."""
    edition = sheet.edition
    return edition.once(
        "charts",
        findings,
        lambda: protocol_charts(edition, findings.measured, findings.letters(), claimed_values(findings)),
    )
