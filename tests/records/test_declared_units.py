"""Units that a publication declares: read everywhere, self-contained in records, gone with the publication."""

import pickle
from decimal import Decimal
from pathlib import Path

import pytest
from builders import SMALL, write
from small_records import small_publication

from sitegen.pipeline.build import build, check, read
from sitegen.problems import Problems
from sitegen.records.fields.units import NO_UNITS, UnitMismatch, convert, declare, defined, kind_of, known_unit, symbol
from sitegen.records.measured.rig import highest_values

# 1 stone is 14 pounds of 0.45359237 kg (Weights and Measures Act 1985, schedule 1; from memory).
STONE = defined("stone", Decimal("6.35029318"), "kg")
DECLARED = SMALL["publication.yaml"] + "units: {stone: 6.35029318 kg, flexes: count}\n"


def test_a_declared_unit_carries_its_definition() -> None:
    """Whoever converts or prints it needs to know nothing else, also in another process."""
    unit = pickle.loads(pickle.dumps(STONE))
    assert convert(Decimal("1.00"), unit, "g") == Decimal("6350")
    assert (symbol(unit), kind_of(unit)) == ("stone", "mass")
    flexes = defined("flexes")
    assert (symbol(flexes), convert(Decimal(3), flexes, flexes)) == ("flexes", 3)
    with pytest.raises(UnitMismatch, match="stone measures mass, flexes measures flexes"):
        convert(Decimal(1), STONE, flexes)


def test_a_name_is_a_unit_as_long_as_it_is_declared() -> None:
    """What one publication declares is unknown to the next."""
    declare({"stone": STONE})
    try:
        assert known_unit("stone") == STONE and known_unit("kg") == "kg"
    finally:
        declare(NO_UNITS)
    assert known_unit("stone") is None


def test_readings_and_claims_may_be_in_declared_units(tmp_path: Path) -> None:
    """A reading of 0.0649 stone is one of 412 g; without the declaration it is reported."""
    table = SMALL["rounds/trousers/mass.csv"].replace("412.0,g", "0.0649,stone", 1)
    files: dict[str, str | bytes | None] = {"publication.yaml": DECLARED, "rounds/trousers/mass.csv": table}
    problems = Problems()
    found = read(write(tmp_path / "pub", files), problems)
    assert found is not None and not problems.has_errors
    assert Decimal("412.1") in {r.value and round(r.value, 1) for r in found.readings["trousers"]}
    undeclared = check(write(tmp_path / "other", {"rounds/trousers/mass.csv": table}))
    assert [problem.code for problem in undeclared.errors] == ["unit-unknown"]


def test_another_size_is_read_again(tmp_path: Path) -> None:
    """Records kept from the last build aren't used when the declaration changed."""
    table = SMALL["rounds/trousers/mass.csv"].replace("412.0,g", "0.0649,stone", 1)
    pages = []
    for size in ("6.35029318", "6.34"):
        files: dict[str, str | bytes | None] = {
            "publication.yaml": DECLARED.replace("6.35029318", size),
            "rounds/trousers/mass.csv": table,
        }
        folder = write(tmp_path / "pub", files)
        built = build(folder, tmp_path / "site", tmp_path / "cache" / "store")
        assert not built.problems.has_errors
        pages.append((tmp_path / "site/data/trousers/mass.csv").read_text("utf-8"))
    assert "412.1" in pages[0] and "411.4" in pages[1]


def test_a_rig_may_end_at_a_value_in_a_declared_unit() -> None:
    """A scale that ends at 1.00 stone ends at 6350 g, also for whoever asks whether a reading stands there."""
    rig = SMALL["rigs/scale/rig.yaml"] + "highest: {mass: 1.00 stone}\n"
    publication = small_publication({"publication.yaml": DECLARED, "rigs/scale/rig.yaml": rig})
    assert highest_values(publication.rigs.values(), publication.protocols) == {"mass": Decimal("6350")}
