"""Built sites that the tests of this folder look at; each is built once."""

from pathlib import Path

import pytest
from builders import SMALL, write
from hostile_words import EVIL, EVIL_PROSE, EVIL_YAML

from sitegen.pipeline.build import build


def built(folder: Path, files: dict[str, str | bytes | None]) -> Path:
    """The finished folder of the small publication with some files replaced."""
    result = build(write(folder / "pub", files), folder / "site", None)
    assert result.published, list(result.problems)
    return folder / "site"


@pytest.fixture(scope="session")
def small_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sound small publication, built."""
    return built(tmp_path_factory.mktemp("small"), {})


@pytest.fixture(scope="session")
def hostile_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same with hostile words wherever an author, a maker or a shop may put words of their own."""
    files: dict[str, str | bytes | None] = {
        "publication.yaml": SMALL["publication.yaml"]
        .replace("{de: Prüfstelle Moorkamp, en: Moorkamp Bench}", EVIL_YAML)
        .replace(
            "author: Ilse Brankamp",
            f"author: {EVIL_YAML}\ntagline: {EVIL_YAML}\ncontact: {EVIL_YAML}\nplace: {EVIL_YAML}",
        ),
        "products/tarn.yaml": SMALL["products/tarn.yaml"]
        .replace("name: Tarn 3", f"name: {EVIL_YAML}")
        .replace("maker: Wollgras", f"maker: {EVIL_YAML}")
        .replace("{de: Wanderhose, en: walking trousers}", EVIL_YAML)
        .replace("{de: ohne Fluor, en: no fluorine}", EVIL_YAML)
        .replace("{de: Etikett, en: label}", EVIL_YAML)
        .replace("{de: grau, en: grey}", EVIL_YAML)
        .replace("{de: Farbe, en: colour}", EVIL_YAML),
        "rounds/trousers/round.yaml": SMALL["rounds/trousers/round.yaml"]
        .replace("{de: Wanderhosen 2026, en: Walking trousers 2026}", EVIL_YAML)
        .replace("{de: Zwei Hosen im Vergleich., en: Two pairs compared.}", EVIL_YAML)
        .replace("{de: Arbeitsweg, en: the way to work}", EVIL_YAML)
        .replace("{de: Nur zwei., en: Only two.}", EVIL_YAML)
        .replace("from: 2026", f"place: {EVIL_YAML}\nconditions: {EVIL_YAML}\nfrom: 2026"),
        "rounds/trousers/mass.csv": SMALL["rounds/trousers/mass.csv"].replace(
            "the seam tore", '"' + EVIL.replace('"', '""') + '"'
        ),
        "ledger.yaml": SMALL["ledger.yaml"]
        .replace("from: Wollgras", f"from: {EVIL_YAML}\n    used_up: {EVIL_YAML}")
        .replace("    returned: not yet\n", "")
        .replace("receipt: R-2026-014", f"receipt: {EVIL_YAML}\n    colour: {EVIL_YAML}"),
        "reviews/tarn/de.md": f"""---
title: {EVIL_PROSE}
summary: {EVIL_PROSE}
product: tarn
round: trousers
date: 2026-10-04
good: [{EVIL_PROSE}]
less_good: [{EVIL_PROSE}]
suits: {EVIL_PROSE}
corrections: [{{date: 2026-10-20, text: {EVIL_PROSE}}}]
translator: {EVIL_YAML}
slug: tarn
---
## Ü <b>ber</b> </script>

`</script><script>alert(1)</script>` & "so" 'fort' \\{{{{ 7*7 }}}} [x](https://moorkamp.example/?a=1&b="2")

    <script>alert(1)</script>
""".replace("\\{{{{ 7*7 }}}}", "\\{\\{ 7*7 \\}\\}")
        .replace("{{", "{")
        .replace("}}", "}"),
        "guides/care/de.md": f"---\ntitle: {EVIL_PROSE}\nsummary: {EVIL_PROSE}\ndate: 2026-10-01\nslug: care\n---\nText.\n",
        "rigs/scale/rig.yaml": SMALL["rigs/scale/rig.yaml"]
        .replace("{de: Waage, en: scale}", EVIL_YAML)
        .replace("{de: Prüfgewicht, en: reference mass}", EVIL_YAML),
    }
    return built(tmp_path_factory.mktemp("hostile"), files)
