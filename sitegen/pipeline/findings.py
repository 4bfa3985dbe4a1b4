"""What the readings of each round support, and what the texts say beside that."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from sitegen.editions.following.freshness import Behind, behind_of, check_edition, text_at
from sitegen.editions.typed.against_data import Bench
from sitegen.editions.typed.typed_figures import check_text
from sitegen.pipeline import reading
from sitegen.pipeline.demand import derived, report
from sitegen.pipeline.views import Lookup, shown, shown_round_ids
from sitegen.problems import Problems

if TYPE_CHECKING:  # what finds and orders is loaded where something must be found: most builds find it stored
    from sitegen.findings.found import RoundFindings
    from sitegen.findings.ranking.ordered import RoundOrder
    from sitegen.findings.rigs.rig_state import JudgedRig
    from sitegen.findings.statistics.pooling import Pooled


@derived
def rig_state(id: str) -> "JudgedRig | None":
    """The state of a rig, by its checks."""
    from sitegen.findings.rigs.rig_state import judge_rig_record

    found = reading.rig(id)
    return judge_rig_record(found, reading.protocols()) if found is not None else None


def rig_states() -> "Lookup[str, JudgedRig]":
    """The state of each rig."""
    return Lookup(reading.rig_ids, rig_state)


@derived
def rounds_before() -> dict[str, tuple[str, ...]]:
    """For each round that names an instrument, the rounds before it that used the same one."""
    from sitegen.findings.statistics.earlier import earlier_rounds

    return earlier_rounds(shown().rounds)


@derived
def rounds_before_one(id: str) -> tuple[str, ...]:
    """The rounds before a round that used an instrument of its."""
    return rounds_before().get(id, ())


@derived
def known_scatter(id: str) -> "Mapping[str, Pooled]":
    """What the rounds before a round tell of the scatter of its instruments."""
    before = rounds_before_one(id)
    if not before:
        return {}
    from sitegen.findings.statistics.earlier import earlier_scatter

    publication = shown()
    rounds = [publication.rounds[earlier] for earlier in before]
    return earlier_scatter(publication.rounds[id], rounds, publication.readings, publication.protocols)


@derived
def round_findings(id: str) -> "RoundFindings | None":
    """The findings of a round."""
    from sitegen.findings.rounds import find_round

    publication = shown()
    if id not in publication.rounds:
        return None
    round, readings = publication.rounds[id], publication.readings[id]
    return find_round(round, readings, publication.protocols, publication.products, rig_states(), known_scatter(id))


class Ordered(NamedTuple):
    """The order of a round, and the currency in which its prices are."""

    order: "RoundOrder | None"
    currency: str


@derived
def round_order(id: str) -> Ordered:
    """The order of a round; none where nothing can be put in order."""
    from sitegen.findings.ranking.round_order import order_round
    from sitegen.findings.rounds import round_prices

    publication, found = shown(), round_findings(id)
    if found is None or publication.rounds[id].single:
        return Ordered(None, "")
    prices, currency = round_prices(publication.rounds[id], publication.products)
    return Ordered(order_round(found, prices), currency)


@derived
def ordered_rounds() -> dict[str, None]:
    """The rounds that have an order."""
    return {id: None for id in shown_round_ids() if round_order(id).order is not None}


def findings() -> "Lookup[str, RoundFindings]":
    """The findings of each round."""
    return Lookup(shown_round_ids, round_findings)


@derived
def text_beside(kind: str, id: str) -> dict[str, Behind]:
    """One text beside its translations and the readings; gives the translations that lag, by language."""
    publication, problems = shown(), Problems()
    holder = text_at(publication, kind, id)
    check_edition(publication, holder, problems)
    check_text(holder, Bench(publication, findings()), problems)
    report(problems)
    return behind_of(publication, holder)


@derived
def behind(kind: str, id: str, lang: str) -> Behind | None:
    """How one translation lags."""
    return text_beside(kind, id).get(lang)
