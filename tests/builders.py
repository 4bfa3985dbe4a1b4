"""A sound small publication, written into a folder; each of its files can be replaced or left out."""

from collections.abc import Mapping
from pathlib import Path

PUBLICATION = """\
name: {de: Prüfstelle Moorkamp, en: Moorkamp Bench}
lead: de
editions: [en]
address: https://moorkamp.example/
author: Ilse Brankamp
policies: {paid: no, affiliate: no, advertising: no}
data_licence: CC BY 4.0
"""

TARN = """\
name: Tarn 3
maker: Wollgras
kind: {de: Wanderhose, en: walking trousers}
versions:
  - id: "2025"
    care: [wash.40]
  - id: "2026"
    care: [wash.30.mild, bleach.no]
    care_edition: ISO 3758:2012
    finish: {says: {de: ohne Fluor, en: no fluorine}, source: {de: Etikett, en: label}, date: 2026-08-03}
    price: {amount: 149.90, currency: EUR, date: 2026-09-01}
    claims:
      - {protocol: mass, value: 412 g, tolerance: 3 %, source: {de: Etikett, en: label}, date: 2026-09-01}
    details:
      - {name: {de: Farbe, en: colour}, value: {de: grau, en: grey}}
"""

FENN = """\
name: Fenn
maker: Otterbach
versions:
  - id: "2026"
"""

ROUND = """\
title: {de: Wanderhosen 2026, en: Walking trousers 2026}
summary: {de: Zwei Hosen im Vergleich., en: Two pairs compared.}
from: 2026-08-10
to: 2026-10-02
entrants: [tarn, {product: fenn, version: "2026"}]
stages: [new, after 3 washes]
protocols: [spray, mass, {protocol: run_time, stages: [new]}]
instruments: {mass: {resolution: 0.5 g, calibration: 0.3 g}}
anchors: {mass: {worth_0: 600 g, worth_100: 250 g}, spray: {worth_0: 1, worth_100: 5}}
uses:
  - {id: commute, name: {de: Arbeitsweg, en: the way to work}, weights: {spray after 3 washes: 4, mass: 1}}
limits: [{de: Nur zwei., en: Only two.}]
"""

MASS = """\
product,specimen,value,unit,date,note
tarn,1,412.0,g,2026-08-11,
tarn,2,411.5,g,2026-08-11,
tarn,3,412.5,g,2026-08-11,
fenn,1,388.0,g,2026-08-11,
fenn,2,389.5,g,2026-08-11,
fenn,3,,,2026-08-11,the seam tore
"""

SPRAY = """\
product;stage;specimen;value;date;grader
tarn;new;1;5;2026-08-12;ib
tarn;new;2;5;2026-08-12;ib
tarn;new;3;4;2026-08-12;ib
fenn;new;1;4;2026-08-12;ib
fenn;new;2;4;2026-08-12;ib
fenn;new;3;3;2026-08-12;ib
tarn;after 3 washes;1;4;2026-08-20;ib
tarn;after 3 washes;2;3;2026-08-20;ib
tarn;after 3 washes;3;3;2026-08-20;ib
fenn;after 3 washes;1;2;2026-08-20;ib
fenn;after 3 washes;2;1;2026-08-20;ib
fenn;after 3 washes;3;2;2026-08-20;ib
"""

RUN_TIME = """\
product,time,value
tarn,0,300
tarn,60,290
tarn,120,140
tarn,180,20
"""

LEDGER = """\
samples:
  - id: T01
    product: tarn
    version: "2026"
    obtained: loaned
    from: Wollgras
    role: maker
    selected_by: supplier
    received: 2026-08-03
    due: 2026-11-30
    returned: not yet
    shipping: supplier
    benefit: none
    preview: none
  - id: T02
    product: fenn
    obtained: bought
    from: Feldhaus
    role: shop
    received: 2026-08-04
    receipt: R-2026-014
"""

REVIEW_DE = """\
---
title: Tarn 3
summary: Eine leichte Hose.
product: tarn
version: "2026"
round: trousers
date: 2026-10-04
good: ["dicht: {spray after 3 washes}"]
less_good: [schwer]
suits: Wer viel im Regen geht.
corrections: [{date: 2026-10-20, text: Ein Wert war falsch.}]
slug: tarn
---
## Am Berg

Sie wiegt {mass}, die Fenn {mass of fenn}. Siehe [die Pflege](guide:care).
"""

REVIEW_EN = """\
---
title: Tarn 3
summary: A light pair.
good: ["dry up to {spray after 3 washes}"]
slug: tarn
---
## On the hill

It weighs {mass}; the maker says {mass claimed}.
"""

GUIDE_DE = """\
---
title: Pflege
summary: So bleibt die Hose dicht.
date: 2026-10-01
slug: care
---
Waschen, dann wärmen.
"""

ABOUT_DE = """\
---
title: Über uns
---
Eine Werkbank.
"""

RIG = """\
name: {de: Waage, en: scale}
protocols: [mass]
checks: [{id: reference, name: {de: Prüfgewicht, en: reference mass}, unit: g, low: 499, high: 501}]
"""

RIG_LOG = """\
date,check,value,unit,note
2026-08-10,reference,500.1,g,
2026-08-11,room_humidity,61,%,
"""

SMALL: dict[str, str] = {
    "publication.yaml": PUBLICATION,
    "products/tarn.yaml": TARN,
    "products/fenn.yaml": FENN,
    "rounds/trousers/round.yaml": ROUND,
    "rounds/trousers/mass.csv": MASS,
    "rounds/trousers/spray.csv": SPRAY,
    "rounds/trousers/run_time.csv": RUN_TIME,
    "ledger.yaml": LEDGER,
    "reviews/tarn/de.md": REVIEW_DE,
    "reviews/tarn/en.md": REVIEW_EN,
    "guides/care/de.md": GUIDE_DE,
    "about/de.md": ABOUT_DE,
    "rigs/scale/rig.yaml": RIG,
    "rigs/scale/log.csv": RIG_LOG,
}

MINIMAL: dict[str, str] = {
    "publication.yaml": "name: Moorkamp\nlead: de\naddress: https://moorkamp.example/\nauthor: Ilse Brankamp\n",
    "reviews/tarn.md": """\
---
title: Tarn 3
date: 2026-10-04
name: Tarn 3
maker: Wollgras
measured: {mass: 412.0 g}
sample: {obtained: bought, role: self, received: 2026-08-03, receipt: R-1}
slug: tarn
---
Sie wiegt {mass}.
""",
}


def write(folder: Path, files: Mapping[str, str | bytes | None] = {}, base: Mapping[str, str] = SMALL) -> Path:
    """Write `base` with `files` laid over it into `folder`: a text or bytes replace a file, None leaves it out."""
    for name, content in {**base, **files}.items():
        if content is None:
            continue
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return folder
