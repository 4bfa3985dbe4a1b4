"""The order of a whole round, from records to one finding."""

import pickle
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

import pytest

from sitegen.findings.found import RoundFindings
from sitegen.findings.ranking.ordered import Beside, OrderReason, Placed, RoundOrder, Unordered, UseOrder
from sitegen.findings.ranking.round_order import order_round
from sitegen.findings.ranking.worth import WorthReason
from sitegen.findings.ranking.worth_draws import share_error
from sitegen.findings.rounds import find_round
from sitegen.place import Place
from sitegen.records.fields.fields import Ref
from sitegen.records.fields.kinds import Amount
from sitegen.records.fields.stage import NEW, Stage
from sitegen.records.fields.words import plain_words
from sitegen.records.measured.protocol import Along, Grade, Protocol
from sitegen.records.measured.readings import Reading
from sitegen.records.measured.round import Anchors, Entrant, Measure, Round, RoundProtocol, Use, anchors_of

HERE = Place("round.yaml", 1, 1)
WORDS = plain_words("x")
WASHED = Stage(washes=3)
PRICES = {"fjell": Decimal("149.90"), "tarn": Decimal("89.00"), "vidde": Decimal("120.00")}
PROTOCOLS = {
    "mass": Protocol(
        id="mass", stock=True, name=WORDS, measures=WORDS, basis="common practice", scale="ratio", scatter="instrument", unit="g",
        better="lower", resolution=Decimal("0.5"),
    ),
    "spray": Protocol(
        id="spray", stock=True, name=WORDS, measures=WORDS, basis="common practice", scale="ordinal",
        better="higher", after_washing=True, grades=tuple(Grade(grade=Decimal(g), name=WORDS) for g in range(1, 6)),
    ),
    "run_time": Protocol(
        id="run_time", stock=True, name=WORDS, measures=WORDS, basis="common practice", scale="curve", unit="%",
        better="higher", along=Along(unit="min", name=WORDS, shares=(Decimal(10),)),
    ),
    "leak": Protocol(
        id="leak", stock=True, name=WORDS, measures=WORDS, basis="common practice", scale="yes_no", better="higher",
    ),
}  # fmt: skip
VALUES = {
    ("mass", NEW): {"fjell": ("412.0", "411.5", "412.5"), "tarn": ("388.0", "388.5", "388.0"), "vidde": ("300.0",)},
    ("spray", NEW): {"fjell": "555", "tarn": "444", "vidde": "543"},
    ("spray", WASHED): {"fjell": "444", "tarn": "222"},
    ("leak", NEW): {"fjell": "111", "tarn": "110", "vidde": "000"},
}


def amount(text: str) -> Amount:
    """`600 g` or `5`."""
    value, _, unit = text.partition(" ")
    return Amount(Decimal(value), unit, HERE)


def anchors(zero: str, hundred: str, protocol: str, stage: Stage = NEW):  # type: ignore[no-untyped-def]
    """Anchors as a round holds them."""
    return (Measure(protocol, stage), HERE), Anchors(worth_0=amount(zero), worth_100=amount(hundred))


def use(id: str, weights: dict[tuple[str, Stage], int]) -> Use:
    """A use."""
    pairs = tuple(((Measure(*measure), HERE), Decimal(weight)) for measure, weight in weights.items())
    return Use(id=Ref(id, HERE), name=WORDS, weights=pairs)


WET = use("wet", {("spray", WASHED): 4, ("spray", NEW): 2, ("mass", NEW): 1})
LIGHT = use("light", {("mass", NEW): 1})
ANCHORS = (anchors("0.6 kg", "250 g", "mass"), anchors("1", "5", "spray"), anchors("0", "1", "leak"))


def round_of(**more) -> Round:  # type: ignore[no-untyped-def]
    """A round of three entrants."""
    fields = {
        "entrants": tuple(Entrant(product=Ref(p, HERE)) for p in ("vidde", "fjell", "tarn")),
        "protocols": tuple(RoundProtocol(protocol=Ref(p, HERE)) for p in ("spray", "mass", "leak")),
        "stages": (NEW, WASHED),
        "anchors": ANCHORS,
        "uses": (WET, LIGHT),
    }
    return Round(id="trousers", title=WORDS, **{**fields, **more})


def all_readings() -> list[Reading]:
    """The readings of the round."""
    return [
        Reading(
            product=product, protocol=protocol, stage=stage, specimen=str(i), value=Decimal(value), place=HERE
        )
        for (protocol, stage), by_product in VALUES.items()
        for product, values in by_product.items()
        for i, value in enumerate(values, 1)
    ]  # fmt: skip


def findings(round: Round | None = None, protocols: Mapping[str, Protocol] = PROTOCOLS) -> RoundFindings:
    """All findings of the round."""
    return find_round(round or round_of(), all_readings(), protocols, {})


@pytest.fixture(scope="module")
def order() -> RoundOrder:
    """The round's order with 2 000 draws."""
    found = order_round(findings(), PRICES, draws=2_000)
    assert found is not None
    return found


def placed(order: UseOrder, product: str) -> Placed:
    """The place of an entrant that has one."""
    found = order.of(product)
    assert found is not None
    return found


def test_one_reading_of_unknown_scatter_has_no_place() -> None:
    """Where each specimen has its own scatter, one weighing of 300 g, the lightest by far, is first of nothing: it stands
    beside the order with the measure to blame, and no trade-off or bargain names it.
    """
    own = {**PROTOCOLS, "mass": replace(PROTOCOLS["mass"], scatter="specimen")}
    found = order_round(findings(protocols=own), PRICES, draws=200)
    assert found is not None
    assert {one.use for one in found.uses} == {"wet", "light"}
    for one in found.uses:
        assert {place.product for place in one.places} == {"fjell", "tarn"}
        assert one.of("vidde") is None and one.beside == (Beside(product="vidde", measures=("mass",)),)
        assert sum(place.first_share for place in one.places) == pytest.approx(1)
    assert found.any_weights is not None and {one.product for one in found.any_weights.entrants} == {"fjell", "tarn"}
    assert found.pareto is not None and "vidde" not in {one.product for one in found.pareto.entrants}
    assert all("vidde" not in {one.product for one in value.entrants} for value in found.value)


def test_single_readings_alone_make_no_order() -> None:
    """Everybody weighed once: nobody is first "in 100 of 100"; the use says why it has no order."""
    once = [reading for reading in all_readings() if reading.specimen == "1"]
    found = order_round(find_round(round_of(), once, PROTOCOLS, {}), PRICES, draws=200)
    assert found is not None and found.use("light") is None
    assert Unordered(use="light", reason=OrderReason.READ_ONCE, measures=("mass",)) in found.unordered


def test_scores_by_hand(order: RoundOrder) -> None:
    """fjell: spray 4 (75) and 5 (100), 412 g (53.71): (4·75 + 2·100 + 53.714)/7 = 79.10. vidde lacks the washed
    grade: (4·50 + 2·75 + 85.714)/7 = 62.24."""
    wet = order.use("wet")
    assert wet is not None
    assert [p.product for p in wet.places] == ["fjell", "vidde", "tarn"]
    assert placed(wet, "fjell").score == pytest.approx((4 * 75 + 2 * 100 + 100 * 188 / 350) / 7)
    assert placed(wet, "vidde").score == pytest.approx((4 * 50 + 2 * 75 + 100 * 300 / 350) / 7)
    assert placed(wet, "vidde").missing == ("spray after 3 washes",)
    assert wet.beside == ()  # one weighing, but the scale's scatter is known from the others
    assert order.use("light").first.product == "vidde"  # type: ignore[union-attr]


def test_what_is_missing_is_told(order: RoundOrder) -> None:
    """The unknown worth, with its reason."""
    assert [(m.product, m.measure, m.reason) for m in order.missing] == [
        ("vidde", "spray after 3 washes", WorthReason.NOT_MEASURED)
    ]


def test_anchors_of_a_protocol_hold_for_its_stages(order: RoundOrder) -> None:
    """`spray` anchors serve `spray after 3 washes`, unless that has its own; kilograms count as grams."""
    by_measure = {entry.measure: entry for entry in order.worths}
    assert by_measure["mass"].line.worth_0 == 600
    assert by_measure["spray after 3 washes"].of("fjell").value == 75
    own = round_of(anchors=(*ANCHORS, anchors("1", "4", "spray", WASHED)))
    assert anchors_of(own, Measure("spray", WASHED)).worth_100.value == 4  # type: ignore[union-attr]
    assert anchors_of(own, Measure("spray", NEW)).worth_100.value == 5  # type: ignore[union-attr]


def test_only_weighed_measures_are_weighed_by_all(order: RoundOrder) -> None:
    """`leak` has anchors, but no use weighs it; a round without uses weighs all."""
    assert order.any_weights is not None and order.pareto is not None
    assert set(order.any_weights.measures) == {"spray", "spray after 3 washes", "mass"}
    bare = order_round(findings(round_of(uses=())), {}, draws=200)
    assert bare is not None and bare.any_weights is not None
    assert set(bare.any_weights.measures) == {"spray", "spray after 3 washes", "mass", "leak"}
    assert (bare.uses, bare.value, bare.topplings) == ((), (), ())


def test_prices_and_topplings_go_use_by_use(order: RoundOrder) -> None:
    """One record for each use, in the round's order; the lightest is toppled by no single weight."""
    assert [v.use for v in order.value] == [t.use for t in order.topplings] == ["wet", "light"]
    assert order.value[1].members == ("tarn", "vidde")
    assert order.topplings[1].smallest is None
    assert order.topplings[0].first == "fjell"
    assert order.topplings[0].smallest is not None
    with pytest.raises(ValueError, match="price of tarn"):
        order_round(findings(), {**PRICES, "tarn": Decimal(0)}, draws=20)


@pytest.mark.parametrize(
    ("change", "reason", "measures"),
    [
        ({"anchors": ANCHORS[:1]}, OrderReason.NO_ANCHORS, ("spray after 3 washes", "spray")),
        ({"anchors": (ANCHORS[0], anchors("5", "1", "spray"))}, OrderReason.BAD_ANCHORS, ("spray after 3 washes", "spray")),
        ({"anchors": (anchors("250 mm", "1 mm", "mass"), ANCHORS[1])}, OrderReason.BAD_ANCHORS, ("mass",)),
        ({"uses": (use("wet", {("warmth", NEW): 1}),)}, OrderReason.NOT_IN_THE_ROUND, ("warmth",)),
        ({"uses": (use("wet", {("mass", NEW): 0}),)}, OrderReason.NO_WEIGHTS, ()),
        ({"uses": (use("wet", {}),)}, OrderReason.NO_WEIGHTS, ()),
        ({"stages": (NEW, Stage(washes=9)), "uses": (use("wet", {("spray", Stage(washes=9)): 1}),)},
         OrderReason.NOTHING_MEASURED, ("spray after 9 washes",)),
    ],
    ids=["no anchors", "wrong way round", "wrong unit", "unknown measure", "zero weights", "no weights", "no readings"],
)  # fmt: skip
def test_a_use_without_an_order_says_why(change, reason, measures) -> None:  # type: ignore[no-untyped-def]
    """A reason and the measures to blame, no crash; other uses still get their order."""
    found = order_round(findings(round_of(**change)), PRICES, draws=200)
    assert found is not None
    blamed = {refused.use: refused for refused in found.unordered}["wet"]
    assert (blamed.reason, blamed.measures) == (reason, measures)
    assert found.use("wet") is None
    assert all(placed.use in {"light"} for placed in found.uses)


def test_rounds_without_an_order() -> None:
    """One entrant, or neither anchors nor uses: none. Without anchors: the uses with their reasons, no figures."""
    alone = round_of(entrants=(Entrant(product=Ref("fjell", HERE)),))
    assert order_round(findings(alone), PRICES) is None
    assert order_round(findings(round_of(anchors=(), uses=())), PRICES) is None
    found = order_round(findings(round_of(anchors=())), PRICES)
    assert found is not None
    assert [refused.use for refused in found.unordered] == ["wet", "light"]
    assert (found.uses, found.any_weights, found.pareto, found.worths) == ((), None, None, ())


def test_one_measure_has_no_trade_off() -> None:
    """With a single measure there is nothing to weigh against anything."""
    found = order_round(findings(round_of(uses=(LIGHT,))), PRICES, draws=200)
    assert found is not None
    assert (found.any_weights, found.pareto) == (None, None)


def test_a_measure_named_in_two_ways_is_one() -> None:
    """`spray` and `spray new` are the same measure: their weights add; one of nothing needs no anchors."""
    doubled = use("wet", {("spray", NEW): 1, ("mass", NEW): 1, ("leak", NEW): 0})
    doubled = replace(doubled, weights=(*doubled.weights, ((Measure("spray", NEW), HERE), Decimal(2))))
    found = order_round(findings(round_of(uses=(doubled,), anchors=ANCHORS[:2])), PRICES, draws=200)
    assert found is not None
    assert found.uses[0].weights == (("spray", 0.75), ("mass", 0.25))


def test_a_further_entrant_changes_no_score(order: RoundOrder) -> None:
    """An entrant without any reading leaves all scores exactly as they were."""
    more = round_of(entrants=tuple(Entrant(product=Ref(p, HERE)) for p in ("aa", "fjell", "tarn", "vidde")))
    found = order_round(findings(more), PRICES, draws=2_000)
    assert found is not None
    for before, after in zip(order.uses, found.uses, strict=True):
        for place in before.places:
            now = after.of(place.product)
            assert (now.score, now.low, now.high) == (place.score, place.low, place.high)
    assert found.use("wet").of("aa").score == 50  # type: ignore[union-attr]


def test_the_record_is_plain_and_repeatable(order: RoundOrder) -> None:
    """Picklable, the same on every run, with seed, draws and error stated."""
    assert pickle.loads(pickle.dumps(order)) == order == order_round(findings(), PRICES, draws=2_000)
    assert (order.draws, order.share_error) == (2_000, share_error(2_000))
    assert order_round(findings(), PRICES, draws=2_000, seed=5) != order
