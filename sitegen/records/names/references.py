"""Whether what is named exists: products, rounds, protocols, versions, samples, photos, linked pages."""

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import TYPE_CHECKING

from sitegen.place import Place
from sitegen.problems import Problems, meant_or, nearest, quoted, some_of
from sitegen.records.fields.fields import Ref
from sitegen.records.fields.kinds import Amount
from sitegen.records.fields.units import UnitMismatch, convert
from sitegen.records.ledger import Sample
from sitegen.records.measured.protocol import CURVE, YES_OR_NO, Protocol
from sitegen.records.measured.round import Measure, Round, Use, anchors_of, stages_of
from sitegen.records.product import ANSWER, Claim, Product
from sitegen.records.publication import Publication
from sitegen.records.texts.text_files import Guide, Review
from sitegen.records.texts.texts import Text
from sitegen.text.markdown import ImageSlot, LinkSlot

if TYPE_CHECKING:
    from sitegen.records.measured.rig import Rig

# Where the records of each kind are written: one that stands there but isn't known has been reported already.
_HOMES = {
    "product": ("products/{}.yaml",), "round": ("rounds/{}/round.yaml",),
    "protocol": ("protocols/{}.yaml",), "method": ("protocols/{}.yaml",), "rig": ("rigs/{}/rig.yaml",),
    "review": ("reviews/{}.md", "reviews/{}"), "guide": ("guides/{}.md", "guides/{}"),
}  # fmt: skip


def check_product_names(product: Product, publication: Publication, problems: Problems) -> tuple[Ref, ...]:
    """Report every name in a product that leads nowhere; gives the pictures that it names."""
    _check_claims(product, publication, problems)
    return _pictures([product.photo.file] if product.photo is not None else [], publication, problems)


def check_round_names(round: Round, publication: Publication, problems: Problems) -> tuple[Ref, ...]:
    """Report every name in a round that leads nowhere; gives the pictures that it names."""
    _check_round(round, publication, problems)
    return _pictures([round.photo.file] if round.photo is not None else [], publication, problems)


def check_rig_names(rig: "Rig", publication: Publication, problems: Problems) -> None:
    """Report every protocol of a rig that isn't there."""
    for ref in rig.protocols:
        _known(ref, publication.protocols, "protocol", publication, problems)
    for ref, amount in rig.highest:
        if _known(ref, publication.protocols, "protocol", publication, problems):
            check_amount(amount, publication.protocols[ref.id].unit, publication.protocols[ref.id], problems)


def check_sample_names(samples: Iterable[Sample], publication: Publication, problems: Problems) -> None:
    """Report every product and version in the ledger that isn't there."""
    for sample in samples:
        if sample.product is None:
            problems.error("missing-key", sample.place, "a sample needs `product`: which product it is")
        elif (
            _known(sample.product, publication.products, "product", publication, problems)
            and sample.version is not None
        ):
            _check_version(sample.version, sample.product.id, publication, problems)


def check_review_names(
    review: Review, publication: Publication, problems: Problems, ledger_sound: bool
) -> tuple[Ref, ...]:
    """Report every name in a review that leads nowhere; gives the pictures that its texts name.

    A ledger with faults isn't said to lack a sample.
    """
    _check_review(review, publication, problems, ledger_sound)
    return check_text_names(review, publication, problems)


def check_text_names(guide: Guide, publication: Publication, problems: Problems) -> tuple[Ref, ...]:
    """Report every picture and page that texts name and that isn't there; gives the pictures."""
    found = _pictures([ref for text in guide.texts for ref in _photos_of(text)], publication, problems)
    for text in guide.texts:
        _check_body(text, publication, problems)
    return found


def _pictures(named: list[Ref], publication: Publication, problems: Problems) -> tuple[Ref, ...]:
    for photo in named:
        _check_photo(photo, publication.photos, problems)
    return tuple(named)


def _photos_of(text: Text) -> Iterator[Ref]:
    yield from (photo.file for photo in text.head.photos)
    for piece in text.body.named:
        if isinstance(piece, ImageSlot):
            yield Ref(piece.src, piece.place)


def all_texts(publication: Publication) -> Iterator[Text]:
    """Every text of the publication, in all languages."""
    for group in (publication.reviews, publication.guides):
        for item in group.values():
            yield from item.texts
    if publication.about:
        yield from publication.about.texts


def _known(ref: Ref, among: Mapping[str, object], what: str, publication: Publication, problems: Problems) -> bool:
    if ref.id in among:
        return True
    if is_written(ref.id, what, publication):
        return False  # it is there, but can't be used; why was said at its own place
    hint = meant_or(ref.id, among, f"known: {some_of(among)}")
    problems.error(f"{what}-unknown", ref.place, f"there is no {what} {quoted(ref.id)}", hint)
    return False


def is_written(id: str, what: str, publication: Publication) -> bool:
    """Whether there is a file for the record of this id, whatever is wrong in it.

    A review that can't be used may have been meant to carry its own product and round; one that can be used does not
    stand for a product of its name.
    """
    places = {place for name in publication.files for place in (name, name.rpartition("/")[0])}
    homes = _HOMES[what]
    if what in {"product", "round"} and id not in publication.reviews:
        homes += _HOMES["review"]
    return any(form.format(id) in places for form in homes)


def _check_version(ref: Ref, product: str, publication: Publication, problems: Problems) -> None:
    versions = publication.versions[product]
    if ref.id not in versions:
        message = f"{publication.names[product]} has no version {quoted(ref.id)}"
        problems.error("version-unknown", ref.place, message, f"versions: {', '.join(versions)}")


def _check_claims(product: Product, publication: Publication, problems: Problems) -> None:
    for version in product.versions:
        for claim in version.claims:
            if _known(claim.protocol, publication.protocols, "protocol", publication, problems):
                _check_claim(claim, publication.protocols[claim.protocol.id], problems)


def _check_claim(claim: Claim, protocol: Protocol, problems: Problems) -> None:
    # A claim on a curve is a time: the run time to one of the protocol's shares.
    unit = protocol.along.unit if protocol.scale == CURVE and protocol.along else protocol.unit
    if (protocol.scale == YES_OR_NO) != (claim.value.unit == ANSWER):
        if protocol.scale == YES_OR_NO:
            message, hint = (
                f"{protocol.id} is answered by yes or no, and this is a figure",
                "write `value: yes` or `value: no`",
            )
        else:
            message, hint = (
                f"yes or no is no figure, and {protocol.id} is measured",
                "write the maker's figure, such as 412 g",
            )
        problems.error("claim-answer", claim.value.place, message, hint)
        return
    if claim.value.unit != ANSWER:
        check_amount(claim.value, unit, protocol, problems)
    if claim.tolerance and claim.tolerance.unit != "%":
        check_amount(claim.tolerance, unit, protocol, problems)


def check_amount(amount: Amount, unit: str, protocol: Protocol, problems: Problems) -> bool:
    """Whether an amount can be expressed in a protocol's unit."""
    if not amount.unit:
        return True
    if not unit:
        message = f"{protocol.id} has no unit, found {quoted(amount.unit)}"
        problems.error("unit-dimension", amount.place, message, "write the number alone")
        return False
    try:
        convert(amount.value, amount.unit, unit)
    except UnitMismatch as mismatch:
        problems.error(
            "unit-dimension", amount.place, str(mismatch), f"units for {protocol.id}: {', '.join(protocol.units())}"
        )
        return False
    return True


def _check_round(round: Round, publication: Publication, problems: Problems) -> None:
    for entrant in round.entrants:
        if _known(entrant.product, publication.products, "product", publication, problems) and entrant.version:
            _check_version(entrant.version, entrant.product.id, publication, problems)
    if round.single:
        return  # its protocols come from a short form, which has reported them already
    for entry in round.protocols:
        _known(entry.protocol, publication.protocols, "protocol", publication, problems)
    for ref, instrument in round.instruments:
        if _known(ref, publication.protocols, "protocol", publication, problems):
            protocol = publication.protocols[ref.id]
            for amount in (instrument.resolution, instrument.calibration):
                if amount is not None:
                    check_amount(amount, protocol.unit, protocol, problems)
    entrants = {entrant.product.id: None for entrant in round.entrants}
    for pair in round.photo_pairs:
        _known(pair.product, entrants, "product", publication, problems)
        for photo in (pair.dry, pair.wet):
            _check_photo(photo, publication.photos, problems)
    for ref, _ in round.wanted:
        _known(ref, {p.protocol.id: None for p in round.protocols}, "protocol", publication, problems)
    _check_anchors(round, publication, problems)
    for use in round.uses:
        for (measure, place), weight in use.weights:
            if _check_measure(measure, place, round, publication, problems) and weight > 0:
                _check_anchored(measure, place, use, round, problems)


def _check_measure(measure: Measure, place: Place, round: Round, publication: Publication, problems: Problems) -> bool:
    protocols = publication.protocols
    declared = [p.protocol.id for p in round.protocols]
    if measure.protocol not in declared:
        hint = meant_or(measure.protocol, declared, f"protocols of the round: {', '.join(declared)}")
        problems.error(
            "reading-protocol",
            place,
            f"{quoted(measure.protocol)} is no protocol of the round {quoted(round.id)}",
            hint,
        )
    if measure.protocol not in declared or measure.protocol not in protocols:
        return False
    stages = stages_of(round, protocols[measure.protocol])
    if measure.stage not in stages:
        message = f"{measure.protocol} was not measured {quoted(measure.stage.text)} in this round"
        problems.error("reading-stage", place, message, f"its stages: {', '.join(s.text for s in stages)}")
        return False
    return True


def _check_anchored(measure: Measure, place: Place, use: Use, round: Round, problems: Problems) -> None:
    """Report a measure that counts for a use and has no anchors: without them nothing is put in order for that use."""
    if anchors_of(round, measure) is None:
        message = (
            f"{measure.text} counts for {quoted(use.id.id)} but has no anchors, so the round has no order for this use"
        )
        hint = f"write what is worth 0 and what 100 under `anchors: {measure.text}:`, or delete this weight"
        problems.caution("anchors-none", place, message, hint)


def _check_anchors(round: Round, publication: Publication, problems: Problems) -> None:
    for (measure, place), anchors in round.anchors:
        if not _check_measure(measure, place, round, publication, problems):
            continue
        protocol = publication.protocols[measure.protocol]
        unit = protocol.along.unit if protocol.scale == CURVE and protocol.along else protocol.unit
        pair = (anchors.worth_0, anchors.worth_100)
        if not all(check_amount(amount, unit, protocol, problems) for amount in pair):
            continue
        low, high = (convert(a.value, a.unit or unit, unit) if unit else a.value for a in pair)
        _check_direction(measure, low, high, protocol, anchors.worth_0.place, problems)


def _check_direction(
    measure: Measure, low: Decimal, high: Decimal, protocol: Protocol, place: Place, problems: Problems
) -> None:
    if low == high:
        problems.error("anchors", place, f"the anchors of {measure.text} are the same: nothing could be told apart")
    elif (protocol.better == "higher" and low > high) or (protocol.better == "lower" and low < high):
        message = f"the anchors of {measure.text} stand the wrong way round: {protocol.better} is better"
        problems.error("anchors", place, message, "exchange worth_0 and worth_100")


def check_latest(product: str, publication: Publication, problems: Problems) -> None:
    """Report a product of which nobody knows the latest round: at its reviews, else in a round."""
    doubtful = publication.index.doubtful(product)
    if doubtful:
        reviews = [publication.cards[id].facts for id in publication.reviews_of(product)]
        unnamed = [facts.product.place for facts in reviews if facts.product is not None and facts.round is None]
        last = publication.rounds[doubtful[-1]]
        entered = [entrant.product.place for entrant in last.entrants if entrant.product.id == product]
        rounds = " and ".join(map(quoted, doubtful))
        message = f"{product} was measured in the rounds {rounds}, and their days don't say which is the latest"
        for place in unnamed or entered[:1]:
            hint = f"name the round in the review (round: {last.id}), or write the days of the rounds (from, to)"
            problems.error("round-latest", place, message, hint)


def _check_review(review: Review, publication: Publication, problems: Problems, ledger_sound: bool) -> None:
    facts = review.facts
    if facts.product is None or not _known(facts.product, publication.products, "product", publication, problems):
        return
    product = facts.product.id
    if facts.version is not None:
        _check_version(facts.version, facts.product.id, publication, problems)
    _check_key(review, product, publication, problems)
    if ledger_sound and not publication.samples_of(product):
        message = f"the ledger has no sample of {quoted(product)}, so nothing can be said of how it came and went"
        hint = "add the sample to ledger.yaml: obtained, from, received, returned, …"
        problems.error("no-sample", facts.product.place, message, hint)
    if facts.round is None or not _known(facts.round, publication.rounds, "round", publication, problems):
        return
    if not publication.rounds[facts.round.id].has(product):
        message = f"{quoted(product)} is no entrant of the round {quoted(facts.round.id)}"
        problems.error(
            "review-round", facts.round.place, message, f"add it to `entrants` in rounds/{facts.round.id}/round.yaml"
        )


def _check_key(review: Review, product: str, publication: Publication, problems: Problems) -> None:
    """Key figures must be measures of the review's round."""
    named = review.facts.round
    round = publication.rounds.get(named.id if named else publication.round_of(product))
    for measure, place in review.facts.key:
        if round is not None:
            _check_measure(measure, place, round, publication, problems)
        elif named is None:
            message = f"{quoted(measure.text)} can't be a key figure: the product is in no round"
            problems.error("key-unmeasured", place, message, "delete the line `key`, or add the product to a round")


def _check_photo(photo: Ref, photos: Iterable[str], problems: Problems) -> None:
    if photo.id not in photos:
        near = nearest(photo.id, photos)
        hint = f"did you mean {near}?" if near else "pictures lie in the folder photos/"
        problems.error("photo-unknown", photo.place, f"there is no picture {quoted(photo.id)}", hint)


def _check_body(text: Text, publication: Publication, problems: Problems) -> None:
    rooms: dict[str, Mapping[str, object]] = {
        "review": publication.reviews, "guide": publication.guides, "round": publication.rounds,
        "method": publication.protocols, "product": publication.products, "rig": publication.rigs,
    }  # fmt: skip
    for piece in text.body.named:
        if isinstance(piece, LinkSlot) and (room := piece.href.partition(":")[0]) in rooms:
            _known(
                Ref(piece.href.partition(":")[2].partition("#")[0], piece.place),
                rooms[room],
                room,
                publication,
                problems,
            )
