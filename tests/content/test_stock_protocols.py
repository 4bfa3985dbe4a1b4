"""The stock protocols: complete, consistent, and true to what they are drawn from."""

import re
from typing import Any

import pytest

Protocols = dict[str, dict[str, Any]]

STOCK = (
    "spray breath_feel wind_share air_permeability hydrostatic_head mass water_uptake drying_time "
    "packed_volume light_output run_time submersion_leak "
    "vapour_cup garment_shower seam_leak pitching_time rain_on_tent condensation loft air_loss pack_capacity boil_time "
    "fuel_per_litre beam_distance beam_intensity splash charge_time standby_drain lock_slip walk_in_leak"
).split()
ORDER = (
    "name short measures basis standard method related departs scale unit better lowest highest scatter specimens after_washing grades "
    "also_called half_grades possible plausible resolution along conditions steps cautions limits"
).split()
ALWAYS = set(
    "name short measures basis departs scale better specimens after_washing conditions steps cautions limits".split()
)


def test_the_stock_holds_these(protocols: Protocols) -> None:
    """No protocol is missing and none came along unannounced."""
    assert sorted(protocols) == sorted(STOCK)


@pytest.mark.parametrize("name", STOCK)
def test_keys_are_known_complete_and_in_reading_order(protocols: Protocols, name: str) -> None:
    """Whoever has read one protocol finds their way in all the others."""
    keys = list(protocols[name])
    assert keys == [key for key in ORDER if key in keys]
    assert ALWAYS <= set(keys)


@pytest.mark.parametrize("name", STOCK)
def test_scale_and_its_companions_agree(protocols: Protocols, name: str) -> None:
    """Ratio and curve have a unit and ranges; ordinal has grades and no unit; yes/no has neither."""
    protocol = protocols[name]
    needs = {
        "ratio": {"unit", "possible", "plausible", "resolution"},
        "curve": {"unit", "possible", "plausible", "resolution", "along"},
        "ordinal": {"grades", "half_grades", "possible", "plausible", "resolution"},
        "yes_no": set(),
    }[protocol["scale"]]
    companions = {"unit", "possible", "plausible", "resolution", "along", "grades", "half_grades"}
    assert companions & set(protocol) == needs
    assert protocol["better"] in {"higher", "lower", "neither"}
    assert ("scatter" in protocol) == (protocol["scale"] in {"ratio", "curve"})
    assert isinstance(protocol["after_washing"], bool)
    assert isinstance(protocol["specimens"], int) and protocol["specimens"] >= 3


@pytest.mark.parametrize("name", STOCK)
def test_a_standard_is_named_where_one_is_claimed(protocols: Protocols, name: str) -> None:
    """`basis: standard` names it and says, in each language, that a home bench measured after its method."""
    protocol = protocols[name]
    assert (protocol["basis"] == "standard") == ("standard" in protocol)
    assert protocol["basis"] in {"standard", "common practice"}
    if "standard" in protocol:
        opening = {
            "en": "Measured after the method of",
            "de": "Nach dem Verfahren der",
            "nl": "Gemeten naar de methode van",
        }
        opening["fr"] = "Mesuré d’après la méthode de"
        assert all(protocol["departs"][lang].startswith(words) for lang, words in opening.items())
        assert "home bench" in protocol["departs"]["en"]


@pytest.mark.parametrize("name", STOCK)
def test_plausible_lies_inside_possible(protocols: Protocols, name: str) -> None:
    """What is merely unusual must not be wider than what can't be."""
    protocol = protocols[name]
    if "possible" in protocol:
        (least, most), (low, high) = protocol["possible"], protocol["plausible"]
        assert least <= low < high <= most
        assert 0 < protocol["resolution"] <= high - low


def test_possible_ranges_catch_typing_errors_only(protocols: Protocols) -> None:
    """Values outside can only be slips of the pen (common practice, no source)."""
    limits = {
        "hydrostatic_head": 50000,
        "air_permeability": 5000,
        "mass": 100000,
        "drying_time": 4320,
        "light_output": 20000,
    }
    assert {name: protocols[name]["possible"] for name in limits} == {name: [0, most] for name, most in limits.items()}
    assert protocols["wind_share"]["possible"] == [0, 100]
    assert protocols["packed_volume"]["possible"][1] == 150


@pytest.mark.parametrize("name", STOCK)
def test_conditions_have_limits_in_order(protocols: Protocols, name: str) -> None:
    """Each condition has an id of its own, a unit, and a lower limit below its upper one; those of room air are ambient."""
    conditions = protocols[name]["conditions"]
    assert all(list(c)[:5] == ["id", "name", "unit", "low", "high"] for c in conditions)
    assert all(list(c)[5:] == (["ambient"] if c["id"].startswith("room_") else []) for c in conditions)
    assert all(re.fullmatch(r"[a-z][a-z_]*", c["id"]) and c["low"] < c["high"] for c in conditions)
    assert len({c["id"] for c in conditions}) == len(conditions) >= 1


@pytest.mark.parametrize("name", STOCK)
def test_column_heads_fit(protocols: Protocols, name: str) -> None:
    """A head of a table column has 16 characters at most, in every language."""
    assert {lang: text for lang, text in protocols[name]["short"].items() if len(text) > 16} == {}


def test_column_heads_can_be_told_apart(protocols: Protocols) -> None:
    """Two protocols in one table must not carry the same head."""
    for lang in ("en", "de", "nl", "fr", "es", "it", "da", "sv", "nb", "pl"):
        heads = [p["short"][lang] for p in protocols.values() if lang in p["short"]]
        assert len(set(heads)) == len(heads)


@pytest.mark.parametrize("name", STOCK)
def test_each_says_how_and_what_it_cannot_tell(protocols: Protocols, name: str) -> None:
    """Steps to follow, at least one caution, and at least one plain limit."""
    protocol = protocols[name]
    assert len(protocol["steps"]) >= 4
    assert len(protocol["cautions"]) >= 1
    assert len(protocol["limits"]) >= 2


def test_spray_conditions_are_those_of_the_standard(protocols: Protocols) -> None:
    """ISO 4920:2012 as excerpted: 250 ± 2 ml (clause 5.2), 25–30 s, 45°, 150 ± 2 mm, 20 ± 2 °C.

    At least three specimens. One degree either way for the angle is common practice, no source.
    """
    limits = {c["id"]: (c["unit"], c["low"], c["high"]) for c in protocols["spray"]["conditions"]}
    assert limits == {
        "volume": ("ml", 250 - 2, 250 + 2),
        "flow_time": ("s", 25, 30),
        "angle": ("°", 45 - 1, 45 + 1),
        "nozzle_distance": ("mm", 150 - 2, 150 + 2),
        "water_temperature": ("°C", 20 - 2, 20 + 2),
    }
    assert protocols["spray"]["specimens"] == 3


def test_water_conditions_never_pool_the_two_temperatures(protocols: Protocols) -> None:
    """20 °C and 27 °C are both legal in ISO 4920; the limits admit the first, the text names the second."""
    spray = protocols["spray"]
    temperature = next(c for c in spray["conditions"] if c["id"] == "water_temperature")
    assert not temperature["low"] <= 27 <= temperature["high"]
    assert all("27\u00a0°C" in text for text in spray["departs"].values())


def test_breath_feel_says_that_it_is_a_feel(protocols: Protocols) -> None:
    """A feel for moving air must not be read as a figure of vapour transport."""
    feel = protocols["breath_feel"]
    assert "not a measurement of vapour transport" in feel["measures"]["en"]
    assert [grade["grade"] for grade in feel["grades"]] == [5, 4, 3, 2, 1, 0]
    assert any("Ret" in limit["en"] for limit in feel["limits"])


def test_a_dry_inside_is_a_yes_and_never_an_ip_code(protocols: Protocols) -> None:
    """`yes` means that it stayed dry, so higher is better; no digit of an IP code is printed."""
    leak = protocols["submersion_leak"]
    assert (leak["scale"], leak["better"]) == ("yes_no", "higher")
    assert not re.search(r"IP ?X?\d", str([leak[k] for k in leak]))


def test_run_time_marks_half_and_a_tenth(protocols: Protocols) -> None:
    """FL 1 (2009 text as excerpted): to 10 % of the value at 30 s; 50 % is a house addition."""
    run = protocols["run_time"]
    assert (run["along"]["unit"], run["along"]["shares"], run["unit"]) == ("min", [50, 10], "lm")
    first = next(c for c in run["conditions"] if c["id"] == "first_reading")
    assert first["low"] < 30 < first["high"]


@pytest.mark.parametrize("name", ["light_output", "run_time", "submersion_leak"])
def test_lamps_and_batteries_carry_a_caution(protocols: Protocols, name: str) -> None:
    """Where gear can burn or blind, the page defers to the maker's instructions and local rules."""
    cautions = " ".join(c["en"] for c in protocols[name]["cautions"])
    assert "instructions" in cautions and "local" in cautions


def test_stoves_carry_the_cautions_on_carbon_monoxide_and_fire(protocols: Protocols) -> None:
    """A consumer safety commission and fire services: never indoors, never in a tent, get out and call for help."""
    for name in ("boil_time", "fuel_per_litre"):
        cautions = " ".join(c["en"] for c in protocols[name]["cautions"])
        assert all(
            said in cautions for said in ("never indoors", "never in a tent", "Carbon monoxide", "call for help")
        )
        assert "maker’s instructions" in cautions and "local rules" in cautions
    assert "No flame" in str(protocols["condensation"]["cautions"])


def test_pressure_of_the_plate_on_a_sleeping_bag(protocols: Protocols) -> None:
    """50 g on 1000 cm² press with 4.9 Pa at 9.80665 m/s² (recomputed): within the 5 Pa of the step."""
    assert round(0.050 * 9.80665 / 0.1, 1) == 4.9
    step = protocols["loft"]["steps"][1]["en"]
    assert "50\u00a0g on 1000\u00a0cm²" in step and "5\u00a0Pa" in step


def test_cooling_takes_pressure_from_a_mat(protocols: Protocols) -> None:
    """Law of ideal gases: 1 K less at 101.325 kPa + 1.5 kPa and 293.15 K is 0.35 kPa less."""
    assert round((101.325 + 1.5) / 293.15, 2) == 0.35
    assert any("0.35\u00a0kPa" in limit["en"] for limit in protocols["air_loss"]["limits"])


def test_fuel_range_allows_what_physics_asks(protocols: Protocols) -> None:
    """1 kg of water by 75 K takes 314 kJ (4.186 kJ/(kg·K)); at about 46 kJ/g of gas (both from memory) 6.8 g at least."""
    least = 4.186 * 75 / 46
    assert protocols["fuel_per_litre"]["plausible"][0] < least < protocols["fuel_per_litre"]["plausible"][1]


def test_rain_on_a_tent_is_that_of_the_standard_at_least(protocols: Protocols) -> None:
    """ISO 5912:2020, 8.3 (text copy read): at least 60 l/(h·m²), which is 60 mm in an hour; the step asks for it."""
    assert "60\u00a0mm to 70\u00a0mm in an hour" in protocols["rain_on_tent"]["steps"][1]["en"]


def test_beam_distance_is_twice_the_root_of_the_intensity(protocols: Protocols) -> None:
    """ANSI/PLATO FL 1 (text copy read): d = 2√I for 0.25 lx; 100 lx at 2 m are 400 cd and 40 m (recomputed)."""
    assert 2 * (100 * 2**2) ** 0.5 == (100 * 2**2 / 0.25) ** 0.5 == 40
    assert "Twice the square root" in protocols["beam_distance"]["steps"][-1]["en"]
    assert "0.25\u00a0lx" in protocols["beam_distance"]["limits"][0]["en"]
