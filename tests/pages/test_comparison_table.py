"""The table of a comparison: every entrant stands in it, also one that has no place in the order."""

import re
from pathlib import Path

from builders import SMALL, write

from sitegen.pipeline.build import build

ROUND = "rounds/trousers/round.yaml"
USES = "uses:\n  - {id: dry, name: {de: Trocknen, en: drying}, weights: {drying_time: 1}}\n"
DRYING = """\
product,specimen,value,unit
tarn,1,50,min
tarn,2,52,min
fenn,1,70,min
fenn,2,71,min
moss,1,60,min
"""


def test_an_entrant_without_a_place_in_the_order_stays_in_the_table(tmp_path: Path) -> None:
    """Moss dried once, so how much that scatters isn't known: it comes last, after those that the order places."""
    round = (
        SMALL[ROUND]
        .replace('{product: fenn, version: "2026"}]', '{product: fenn, version: "2026"}, moss]')
        .replace("protocols: [", "protocols: [drying_time, ")
        .replace("anchors: {", "anchors: {drying_time: {worth_0: 120 min, worth_100: 30 min}, ")
    )
    before, _, after = round.partition("uses:\n")
    round = before + USES + after.partition("\n")[2]
    files: dict[str, str | bytes | None] = {
        ROUND: round,
        "rounds/trousers/drying_time.csv": DRYING,
        "products/moss.yaml": SMALL["products/tarn.yaml"].replace("name: Tarn 3", "name: Moss"),
    }
    result = build(write(tmp_path / "pub", files), tmp_path / "site")
    assert result.published, list(result.problems)
    (page,) = [p for p in (tmp_path / "site" / "en" / "rounds").glob("*.html") if p.name != "index.html"]
    table = page.read_text("utf-8").partition("All entrants of the round")[2].partition("</table>")[0]
    found = [re.sub("<[^>]+>", "", head) for head in re.findall(r'<th scope="row"[^>]*>(.*?)</th>', table)]
    assert len(found) == 3 and found[-1] == "Moss"
