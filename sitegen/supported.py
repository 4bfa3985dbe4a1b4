"""What the data of a publication support, and what its texts say beside that: made, or found again from the last build."""

from collections.abc import Iterable, Mapping
from functools import cache, partial
from importlib import import_module
from typing import TYPE_CHECKING

from sitegen.disk.digests import Digests
from sitegen.disk.kept_checks import Checked, Kept, KeptChecks
from sitegen.disk.kept_rounds import Found, KeptRounds
from sitegen.disk.memory import Pieces, key_of
from sitegen.editions.against_data import Bench
from sitegen.editions.freshness import Behind, behind_of, check_edition, names_of_texts, text_at
from sitegen.editions.typed_figures import check_text
from sitegen.findings.earlier import earlier_rounds
from sitegen.problems import Problems
from sitegen.records.publication import Publication

if TYPE_CHECKING:
    from sitegen.findings.found import RoundFindings
    from sitegen.findings.rig_state import JudgedRig


def judge_rigs(publication: Publication) -> "dict[str, JudgedRig]":
    """The state of each rig, by its checks."""
    if not publication.rigs:
        return {}
    from sitegen.findings.rig_state import judge_rig_record

    return {id: judge_rig_record(rig, publication.protocols) for id, rig in publication.rigs.items()}


def find_rounds(
    publication: Publication, rigs: "Mapping[str, JudgedRig]", digests: Digests, keep: Pieces
) -> KeptRounds:
    """The findings of every round: those that are kept when somebody asks, the others now, before processes part."""
    earlier = earlier_rounds(publication.rounds)
    keys = {id: f"round {id} {_round_digest(publication, earlier, id, digests)}" for id in publication.rounds}
    found = keep.later_all(
        {key: partial(_find, publication, earlier.get(id, ()), id, rigs) for id, key in keys.items()}, _get_ready
    )
    return KeptRounds({id: found[key] for id, key in keys.items()}, keys)


def _get_ready() -> None:
    """Load the statistics, for processes that will part and would each load them."""
    for name in ("sitegen.findings.rounds", "sitegen.findings.round_order", "scipy.special"):
        import_module(name)


def find_one(
    publication: Publication, earlier: Iterable[str], id: str, rigs: "Mapping[str, JudgedRig]"
) -> "RoundFindings":
    """The findings of one round; `earlier` are the rounds that tell of its instruments' scatter."""
    from sitegen.findings.earlier import earlier_scatter
    from sitegen.findings.rounds import find_round

    round, protocols = publication.rounds[id], publication.protocols
    scatter = earlier_scatter(round, (publication.rounds[one] for one in earlier), publication.readings, protocols)
    return find_round(round, publication.readings.get(id, ()), protocols, publication.products, rigs, scatter)


def _find(publication: Publication, earlier: Iterable[str], id: str, rigs: "Mapping[str, JudgedRig]") -> Found:
    from sitegen.findings.round_order import order_round
    from sitegen.findings.rounds import round_prices

    round = publication.rounds[id]
    found = find_one(publication, earlier, id, rigs)
    if round.single:
        return found, None
    prices, currency = round_prices(round, publication.products)
    order = order_round(found, prices)
    return found, (order, currency) if order is not None else None


def check_texts(
    publication: Publication, rounds: KeptRounds, digests: Digests, kept: dict[str, Kept], problems: Problems
) -> dict[tuple[str, str, str], Behind]:  # fmt: skip
    """Every text beside its translations and the readings. Gives the translations that lag, by kind of page, id and language."""
    round_digest = cache(partial(_round_digest, publication, earlier_rounds(publication.rounds), files=digests))

    def data_of(product: str) -> str:
        return key_of(digests.group(f"products/{product}"), *map(round_digest, publication.rounds_of(product)))

    names = repr(dict(publication.names))
    common = key_of(*map(digests.group, ("publication.yaml", "protocols")), names, repr(publication.held))
    checks, bench = KeptChecks(kept, common, data_of), Bench(publication, rounds.findings)
    found = {
        (kind, id): checks.of_text(
            f"{kind} {id}",
            digests.group(f"{kind}s/{id}" if id else "about"),
            partial(check_one, publication, kind, id, bench),
        )
        for kind, id in names_of_texts(publication)
    }
    for what in ("editions", "figures"):
        for checked in found.values():
            problems.extend(getattr(checked, what))
    kept.clear()
    kept.update(checks.now)
    return {(*text, lang): lagging for text, checked in found.items() for lang, lagging in checked.behind.items()}


def check_one(publication: Publication, kind: str, id: str, bench: Bench) -> Checked:
    """One text beside its translations and the readings."""
    holder = text_at(publication, kind, id)
    editions, figures = Problems(), Problems()
    check_edition(publication, holder, editions)
    asked = check_text(holder, bench, figures)
    return Checked(tuple(editions), tuple(figures), behind_of(publication, holder), tuple(sorted(asked)))


def _round_digest(publication: Publication, earlier: Mapping[str, tuple[str, ...]], id: str, files: Digests) -> str:
    """The digest of all that a round's findings depend on, but for the code."""
    own = (
        f"rounds/{id}",
        *(f"rounds/{one}" for one in earlier.get(id, ())),
        f"reviews/{id}",
        *(f"products/{entrant.product.id}" for entrant in publication.rounds[id].entrants),
    )
    return key_of(*map(files.group, (*own, "publication.yaml", "protocols", "rigs")), repr(publication.held))
