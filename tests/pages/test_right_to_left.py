"""An edition written from right to left, whose interface words are borrowed from English: `ar`, without a catalogue."""

import re
from pathlib import Path

import pytest
from builders import SMALL, write
from lxml import html

from sitegen.build import build
from sitegen.disk.memory import Memory

ARABIC: dict[str, str | bytes | None] = {
    "publication.yaml": SMALL["publication.yaml"]
    .replace("{de: Prüfstelle Moorkamp, en: Moorkamp Bench}", "{en: Moorkamp Bench, ar: منصة موركامب}")
    .replace("lead: de", "lead: en")
    .replace("editions: [en]", "editions: [ar]"),
    "reviews/tarn/de.md": None,
    "reviews/tarn/en.md": SMALL["reviews/tarn/de.md"].replace("Eine leichte Hose.", "A light pair.").replace("guide:care", "round:trousers"),
    "reviews/tarn/ar.md": """\
---
title: "تارن 3: سروال خفيف للمشي"
summary: سروال خفيف يزن {mass} ويجف بسرعة.
good: ["يبقى جافاً حتى {spray after 3 washes}"]
translator: ليلى
---
## على الجبل

يزن السروال {mass}، ويقول الصانع إن وزنه {mass claimed}. السعر {price}.
""",
    "guides/care/de.md": None,
    "guides/care/en.md": SMALL["guides/care/de.md"].replace("Pflege", "Care"),
    "about/de.md": None,
    "about/en.md": "---\ntitle: About us\n---\nA bench.\n",
}
