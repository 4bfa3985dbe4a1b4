"""How the order of a round depends on what the reader does, and how sure it is."""

from sitegen.findings.rounds import RoundFindings
from sitegen.pages.site import Sheet
from sitegen.pages.views import UseOrder


def order_sentences(sheet: Sheet, findings: RoundFindings, product: str) -> tuple[str, ...]:
    """For one entrant: a sentence for each use."""
    return ()


def use_orders(sheet: Sheet, findings: RoundFindings) -> tuple[UseOrder, ...]:
    """For the whole round: an order for each use."""
    return ()
