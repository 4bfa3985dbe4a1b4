"""Facts of the trade against sources outside the project: pairings, conversions, beam vectors, dates."""

import datetime as dt
import math
import re
from typing import Any

import pint
import pytest

Protocols = dict[str, dict[str, Any]]
Stock = dict[str, Any]

# ISO 4920:2012 grade and AATCC TM22 rating as paired on a trade page.
PAIRS = {0: 0, 1: 50, 2: 70, 3: 80, 4: 90, 5: 100}
# Half grades: from memory. 0.5 has no partner; GB/T 4745-2012 has halves, their place in ISO 4920 is
# unconfirmed.
HALF_PAIRS = {1.5: 60, 2.5: 75, 3.5: 85, 4.5: 95}


@pytest.fixture(scope="module")
def units() -> Any:
    """A reference library of units; water column is the conventional one (g = 9.80665 m/s², 1000 kg/m³)."""
    registry: Any = pint.UnitRegistry()
    registry.define("mm_of_water = 9.80665 * pascal")
    return registry


def test_spray_grades_pair_with_the_older_ratings(protocols: Protocols) -> None:
    """The pairing is complete and is that of the trade page."""
    assert {grade["grade"]: grade["also"] for grade in protocols["spray"]["grades"]} == PAIRS


def test_pairing_keeps_the_order(protocols: Protocols) -> None:
    """A better grade is a better rating, half grades (from memory) among them."""
    grades = protocols["spray"]["grades"]
    assert [g["grade"] for g in grades] == sorted((g["grade"] for g in grades), reverse=True)
    together = sorted((PAIRS | HALF_PAIRS).items())
    ratings = [rating for _, rating in together]
    assert ratings == sorted(set(ratings))


def test_half_ratings_lie_midway_between_the_whole_ones(protocols: Protocols) -> None:
    """From memory: 60, 75, 85, 95, the midpoints of the stock's own whole ratings; none below grade 1."""
    also = {grade["grade"]: grade["also"] for grade in protocols["spray"]["grades"]}
    assert {half: (also[int(half)] + also[int(half) + 1]) / 2 for half in HALF_PAIRS} == HALF_PAIRS


def test_half_grades_are_off(protocols: Protocols) -> None:
    """Sources contradict each other about half grades, so the stock leaves them off."""
    assert protocols["spray"]["half_grades"] is False


def test_mean_flow_of_the_spray(protocols: Protocols) -> None:
    """ISO 4920:2012: 250 ml in 25 s to 30 s is a mean flow of 8.3 to 10.0 ml/s (recomputed)."""
    limits = {c["id"]: c for c in protocols["spray"]["conditions"]}
    middle = (limits["volume"]["low"] + limits["volume"]["high"]) / 2
    assert round(middle / limits["flow_time"]["high"], 1) == 8.3
    assert middle / limits["flow_time"]["low"] == 10.0


def test_one_centimetre_of_water(units: Any, stock: Stock) -> None:
    """1 cmH2O = 98.0665 Pa, from standard gravity 9.80665 m/s².

    The reference library and the glossary agree.
    """
    assert units.Quantity(1, "cmH2O").to("Pa").magnitude == pytest.approx(98.0665, abs=1e-9)
    means = stock["glossary"]["hydrostatic_head"]["means"]
    assert "98.0665\u00a0Pa" in means["en"]
    assert all("98,0665\u00a0Pa" in means[lang] for lang in ("de", "nl", "fr"))


@pytest.mark.parametrize(
    ("pressure", "unit", "millimetres"),
    [
        (1, "kPa", 101.972),
        (10, "kPa", 1019.72),
        (1, "mbar", 10.1972),
        (8_000, "Pa", 815.8),
        (13_000, "Pa", 1325.6),
        (20_000, "Pa", 2039.4),
        (1, "psi", 703.07),
    ],
)
def test_pressure_in_millimetres_of_water(units: Any, pressure: float, unit: str, millimetres: float) -> None:
    """Recomputed from g = 9.80665 m/s²; a trade table prints 816, 1326 and 2040 mm for 8, 13 and 20 kPa."""
    digits = len(str(millimetres).partition(".")[2])
    assert round(units.Quantity(pressure, unit).to("mm_of_water").magnitude, digits) == millimetres


def test_rate_of_the_water_column(protocols: Protocols, units: Any) -> None:
    """The faster rate of ISO 811:2018, as excerpted.

    60 ± 3 cmH2O/min, the same as the older AATCC TM127 rate of 10.0 ± 0.5 mm/s.
    """
    rate = next(c for c in protocols["hydrostatic_head"]["conditions"] if c["id"] == "rate")
    limits = [units.Quantity(value, "cm/min").to("mm/s").magnitude for value in (60 - 3, 60 + 3)]
    assert [rate["low"], rate["high"]] == pytest.approx(limits)
    assert rate["unit"] == "mm/s"
    assert units.Quantity(60, "cmH2O").to("mbar").magnitude == pytest.approx(58.8, abs=0.05)


def test_cubic_feet_a_minute(units: Any) -> None:
    """1 cfm/ft² = 5.08 mm/s = 5.08 l/m²/s (recomputed: 304.8 mm ÷ 60 s)."""
    one = units.Quantity(1, "foot**3/minute/foot**2")
    assert one.to("mm/s").magnitude == pytest.approx(5.08)
    assert one.to("liter/meter**2/second").magnitude == pytest.approx(5.08)


def test_factor_from_flow_and_area(protocols: Protocols, units: Any) -> None:
    """The factor of ISO 9237 (167 from memory).

    A flow in l/min divided by cm² is 166.67 mm/s, and the step names that factor.
    """
    factor = units.Quantity(1, "liter/minute/centimeter**2").to("mm/s").magnitude
    assert factor == pytest.approx(166.67, abs=0.005)
    step = next(s for s in protocols["air_permeability"]["steps"] if "166.67" in s["en"])
    assert all("166,67" in step[lang] for lang in ("de", "nl", "fr"))


def test_pressures_are_never_converted(protocols: Protocols) -> None:
    """100 Pa (ISO 9237) and 125 Pa (ASTM D737), both from memory, are different measurands.

    One of them lies outside the limits.
    """
    drop = next(c for c in protocols["air_permeability"]["conditions"] if c["id"] == "pressure_drop")
    assert drop["low"] <= 100 <= drop["high"] < 125
    assert any(
        "125\u00a0Pa" in limit["en"] and "pressures may not" in limit["en"]
        for limit in protocols["air_permeability"]["limits"]
    )
    assert protocols["air_permeability"]["better"] == "neither"


def test_places_of_air_permeability(protocols: Protocols) -> None:
    """At least ten places: a test laboratory's page on ISO 9237."""
    assert protocols["air_permeability"]["specimens"] >= 10


@pytest.mark.parametrize(("candela", "metres"), [(2_500, 100.0), (10_000, 200.0), (40 * 5**2, 63.2)])
def test_beam_vectors(units: Any, candela: float, metres: float) -> None:
    """FL 1 (2009 text as excerpted): the distance of 0.25 lx.

    40 lx at 5 m is 1000 cd, so 63.2 m (recomputed).
    """
    distance = (units.Quantity(candela, "cd") / units.Quantity(0.25, "cd/m**2")) ** 0.5
    assert round(distance.to("m").magnitude, 1) == metres == round(2 * math.sqrt(candela), 1)


def test_classes_of_protective_clothing_are_no_results(protocols: Protocols) -> None:
    """EN 343 classes belong to protective clothing: here they are no grades and no names of results."""
    head = protocols["hydrostatic_head"]
    assert head["scale"] == "ratio" and "grades" not in head
    assert any("EN 343" in limit["en"] for limit in head["limits"])
    classes = re.compile(r"(?:[Cc]lass|Klasse|klasse|classe) ?\d")
    assert [name for name, protocol in protocols.items() if classes.search(str(protocol))] == []


def test_submersion_borrows_depth_and_time(protocols: Protocols) -> None:
    """IEC 60529 as quoted on a lamp maker's page: 1 m for 30 min."""
    limits = {c["id"]: c for c in protocols["submersion_leak"]["conditions"]}
    assert (limits["depth"]["low"] + limits["depth"]["high"]) / 2 == pytest.approx(1)
    assert (limits["duration"]["low"] + limits["duration"]["high"]) / 2 == 30


def test_depth_under_water_is_that_of_the_lowest_point(protocols: Protocols) -> None:
    """IEC 60529 for enclosures lower than 850 mm (from memory; "1 m at the bottom" read in an equipment manual)."""
    said = str(protocols["submersion_leak"])
    assert (
        "lowest point" in said and "tiefste Stelle" in said and "laagste punt" in said and "point le plus bas" in said
    )
    assert not re.search("highest|höchste|hoogste|plus haut", said)


def test_nothing_waterproof_is_spun(protocols: Protocols, stock: Stock) -> None:
    """A makers' association's notice of 2001 and a consumer centre's report of 2013 (Japan): never in a spinning drum."""
    steps = [step["en"] for step in protocols["drying_time"]["steps"] if "spin" in step["en"].lower()]
    assert len(steps) == 1 and steps[0].startswith("Don’t spin anything that water can’t pass through")
    assert "spun" not in str(protocols["drying_time"]["measures"]) and "drum" in str(
        protocols["drying_time"]["cautions"]
    )
    assert set(stock["disclosure"]["caution"]["wash"]) >= {"en", "de", "nl", "fr"}


def test_moisture_of_cotton_over_the_room_band(protocols: Protocols) -> None:
    """Cotton holds about 6 % at 50 % and 9 % at 75 % relative humidity (from memory): 400 g change by some 11 g."""
    dry = 400 / 1.06
    assert round(dry * 0.09 - dry * 0.06) == 11
    assert any("11\u00a0g" in limit["en"] for limit in protocols["mass"]["limits"])


def test_room_of_lamp_tests(protocols: Protocols) -> None:
    """ANSI/PLATO FL 1: 22 °C ± 3 °C (from memory)."""
    for id in ("run_time", "light_output"):
        rooms = [c for c in protocols[id]["conditions"] if c["unit"] == "°C"]
        assert [(c["low"], c["high"]) for c in rooms] == [(19, 25)]


def test_solvent_letters_of_care_labels(stock: Stock) -> None:
    """ISO 3758:2012 as cited by a care glossary: P takes in all solvents of F; W is wet cleaning (from memory)."""
    care = stock["care"]
    assert "hydrocarbons" in care["prof.dryclean.p"]["words"]["en"] and "only" in care["prof.dryclean.f"]["words"]["en"]
    assert {"prof.dryclean.p.mild", "prof.dryclean.f.mild", "prof.wetclean.mild", "prof.wetclean.verymild"} <= set(care)
    assert "prof.wetclean.no" in care and "prof.dryclean" not in care


# (place in English, act, first day): read on 25 November 2026 on pages of chambers of commerce, testing
# houses,
# law firms and a legislature. Several rows of one act are told apart by their day.
RULE_DAYS = [
    ("European Union", "2019/1021", dt.date(2020, 7, 4)),
    ("European Union", "2024/2462", dt.date(2026, 10, 10)),
    ("European Union", "2024/2462", dt.date(2027, 10, 10)),
    ("France", "2025-1376", dt.date(2026, 1, 1)),
    ("France", "2025-188", dt.date(2030, 1, 1)),
    ("Denmark", "464", dt.date(2026, 7, 1)),
    ("California", "AB 1817", dt.date(2025, 1, 1)),
    ("California", "AB 1817", dt.date(2027, 1, 1)),
    ("California", "AB 1817", dt.date(2028, 1, 1)),
    ("New York", "37-0121", dt.date(2025, 1, 1)),
    ("New York", "37-0121", dt.date(2028, 1, 1)),
    ("Colorado", "HB22-1345", dt.date(2025, 1, 1)),
    ("Connecticut", "SB 292", dt.date(2026, 1, 1)),
    ("Connecticut", "SB 292", dt.date(2026, 7, 1)),
    ("Connecticut", "SB 292", dt.date(2028, 1, 1)),
    # Read on 30 November 2026: helpdesks for chemicals law, a textile institute, state agencies, test houses and law notes.
    ("European Union", "2021/1297", dt.date(2023, 2, 25)),
    ("European Union", "2023/1608", dt.date(2023, 8, 28)),
    ("Maine", "1614", dt.date(2023, 1, 1)),
    ("Maine", "1614", dt.date(2026, 1, 1)),
    ("Maine", "1614", dt.date(2029, 1, 1)),
    ("Colorado", "SB24-081", dt.date(2028, 1, 1)),
    ("Washington", "173-337", dt.date(2027, 1, 1)),
    ("Minnesota", "116.943", dt.date(2025, 1, 1)),
    ("Vermont", "Act 131", dt.date(2026, 1, 1)),
]


def test_days_of_the_rules_on_finish_chemistry(stock: Stock) -> None:
    """Each row is one of the confirmed ones, in their order, and none is missing."""
    rules = stock["finish_rules"]
    assert len(rules) == len(RULE_DAYS)
    for rule, (where, act, day) in zip(rules, RULE_DAYS, strict=True):
        assert where in rule["where"]["en"] and act in rule["act"] and rule["from"] == day


def test_each_rule_says_where_which_what_and_as_of(stock: Stock) -> None:
    """A rule without its state of knowledge can't be printed; the file says that it is no legal advice."""
    assert all(list(rule) == ["where", "act", "says", "from", "as_of"] for rule in stock["finish_rules"])
    assert {rule["as_of"] for rule in stock["finish_rules"]} == {dt.date(2026, 11, 25), dt.date(2026, 11, 30)}


def test_the_danish_order_is_dated_by_its_ban(stock: Stock) -> None:
    """In force since 1 July 2025, the ban from 1 July 2026; some notes mix up the two. The row is the ban."""
    danish = [rule["from"] for rule in stock["finish_rules"] if rule["where"]["en"] == "Denmark"]
    assert danish == [dt.date(2026, 7, 1)]


def test_limits_of_the_rules_are_the_same_in_every_language(stock: Stock) -> None:
    """Figures of a rule survive translation: the numbers before ppb, ppm, mg and % agree across languages."""
    figures = re.compile(r"(\d+(?:[.,]\d+)?)\u00a0(ppb|ppm|mg|%)")
    for rule in stock["finish_rules"]:
        found = {
            tuple((m[1].replace(",", "."), m[2]) for m in figures.finditer(text)) for text in rule["says"].values()
        }
        assert len(found) == 1


def test_finish_rules_are_marked_as_information(sources: dict[str, str]) -> None:
    """Rules on chemistry and disclosure are dated information."""
    assert "not legal advice" in sources["finish_rules.yaml"].splitlines()[0]
    assert "not legal advice" in sources["disclosure.yaml"]
