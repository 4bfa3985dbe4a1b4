"""Findings as a build looks them up: what earlier rounds and rigs lend a round, and what they leave alone."""

from pathlib import Path

import pytest
from builders import SMALL, write

from sitegen.pipeline import views
from sitegen.pipeline.build import opened
from sitegen.pipeline.findings import round_findings
from sitegen.records.fields.stage import NEW
from sitegen.records.measured.round import Measure

ROUND, LOG, RIG = "rounds/trousers/round.yaml", "rigs/scale/log.csv", "rigs/scale/rig.yaml"
NAMED = SMALL[ROUND].replace("mass: {resolution", "mass: {name: bench scale, resolution")
EARLIER = {
    ROUND: NAMED,
    "rounds/old/round.yaml": """\
title: {de: Alt, en: Old}
from: 2025-03-01
entrants: [tarn, fenn]
protocols: [mass]
instruments: {mass: {name: bench scale, resolution: 0.5 g}}
""",
    "rounds/old/mass.csv": "product,specimen,value\ntarn,1,410\ntarn,2,412\nfenn,1,389\nfenn,2,389\nfenn,3,392\n",
}


def _mass_scatter(folder: Path, store: Path | None = None) -> tuple[float, int]:
    """The standard deviation of the scale, and how many of its degrees of freedom are earlier rounds'."""
    with opened(folder, store) as session:
        found = round_findings("trousers")
        session.save(only_current=False)
    entry = found.of(Measure("mass", NEW)) if found is not None else None
    assert entry is not None and entry.measured.pooling is not None and entry.measured.pooling.pooled is not None
    return entry.measured.pooling.pooled.s, entry.measured.pooling.pooled.earlier


def test_a_build_takes_the_scatter_of_earlier_rounds(tmp_path: Path) -> None:
    """Three degrees of freedom of last year's round; a reading changed there changes this year's scatter at once."""
    folder, store = write(tmp_path / "pub", dict(EARLIER)), tmp_path / "store"
    before = _mass_scatter(folder, store)
    table = folder / "rounds/old/mass.csv"
    table.write_text(table.read_text("utf-8").replace("fenn,3,392", "fenn,3,395"), "utf-8")
    after = _mass_scatter(folder, store)
    assert before[1] == after[1] == 3 and after[0] > before[0]
    assert after == _mass_scatter(folder)


@pytest.mark.parametrize(("file", "old", "new", "again"), [
    (LOG, "2026-08-10,reference,500.1,g,", "2026-08-10,reference,500.2,g,", False),
    (RIG, "highest: {mass: 5 kg}", "highest: {mass: 6 kg}", True),
])  # fmt: skip
def test_a_day_in_a_rigs_log_makes_no_reading_be_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, file: str, old: str, new: str, again: bool
) -> None:
    """Of a rig, readings depend on where it ends and on nothing else: most edits of rigs are a new day in the log."""
    folder = write(tmp_path / "pub", {RIG: SMALL[RIG] + "highest: {mass: 5 kg}\n"})
    taken: list[str] = []
    take = views.take_tables

    def counted(*args: object, **named: object) -> object:
        taken.append("taken")
        return take(*args, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(views, "take_tables", counted)
    for round in range(2):
        with opened(folder, tmp_path / "store") as session:
            views.readings("trousers")
            session.save(only_current=False)
        assert len(taken) == 1 + (round and again)
        text = (folder / file).read_text("utf-8")
        assert round or old in text
        (folder / file).write_text(text.replace(old, new), "utf-8")
