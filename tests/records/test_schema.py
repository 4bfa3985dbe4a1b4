"""JSON Schemas for editors: valid in themselves, and of one mind with the readers they are declared with."""

from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from builders import SMALL

from sitegen.problems import Problems
from sitegen.records.fields.fields import author_fields, schema_of, take_values
from sitegen.records.ledger import Ledger, Sample
from sitegen.records.measured.protocol import Protocol
from sitegen.records.measured.rig import Rig
from sitegen.records.measured.round import Round
from sitegen.records.product import Claim, Product, Version
from sitegen.records.settings import Settings
from sitegen.records.stock_records import CareWord, FinishRule, Term
from sitegen.records.texts.texts import ReviewFacts, ReviewHead, ShortFacts, TextHead
from sitegen.text.source import Source
from sitegen.text.yaml_nodes import Mapping, parse_yaml

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_site"
RECORDS = (
    Settings, Product, Version, Claim, Protocol, Round, Rig, Ledger, Sample, TextHead, ReviewHead, ReviewFacts, ShortFacts,
    CareWord, Term, FinishRule,
)  # fmt: skip


class AsWritten(yaml.SafeLoader):
    """YAML in which dates stay text, as an editor's schema check sees them, and words stay words (YAML 1.2)."""


AsWritten.yaml_implicit_resolvers = {
    first: [(tag, form) for tag, form in forms if not tag.endswith(("timestamp", "bool", "merge", "value"))]
    for first, forms in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.__name__)
def test_every_record_has_a_valid_schema(record: type) -> None:
    """The schema keeps to the meta-schema of JSON Schema draft 2020-12, and every key says what it is for."""
    schema = schema_of(record)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["properties"]
    assert all(part["description"] for part in schema["properties"].values())


def faults(record: type, data: Any) -> list[str]:
    validator = jsonschema.Draft202012Validator(schema_of(record))
    return [f"{error.json_path}: {error.message}" for error in validator.iter_errors(data)]


FILES = [
    *((Settings, path) for path in [DEMO / "publication.yaml"]),
    *((Ledger, path) for path in [DEMO / "ledger.yaml"]),
    *((Product, path) for path in sorted(DEMO.glob("products/*.yaml"))),
    *((Round, path) for path in sorted(DEMO.glob("rounds/*/round.yaml"))),
    *((Rig, path) for path in sorted(DEMO.glob("rigs/*/rig.yaml"))),
    *((Protocol, path) for path in sorted((ROOT / "content" / "protocols").glob("*.yaml"))),
]


@pytest.mark.parametrize(("record", "path"), FILES, ids=lambda value: value.name if isinstance(value, Path) else "")
def test_the_files_that_are_read_are_valid(record: type, path: Path) -> None:
    """What the readers take, the schema takes: the demo's files and the stock protocols."""
    assert faults(record, yaml.load(path.read_text(), AsWritten)) == []


SMALL_FILES = [
    (Settings, "publication.yaml"), (Product, "products/tarn.yaml"), (Product, "products/fenn.yaml"),
    (Round, "rounds/trousers/round.yaml"), (Ledger, "ledger.yaml"), (Rig, "rigs/scale/rig.yaml"),
]  # fmt: skip


@pytest.mark.parametrize(("record", "name"), SMALL_FILES, ids=lambda value: value if isinstance(value, str) else "")
def test_unknown_keys_are_refused_by_both(record: type, name: str) -> None:
    """A key that nobody reads is a slip, in an editor as in a check."""
    good = yaml.load(SMALL[name], AsWritten)
    assert faults(record, good) == []
    assert faults(record, {**good, "nobody_reads_this": 1})
    problems = Problems()
    node = parse_yaml(Source(name, SMALL[name] + "nobody_reads_this: 1\n", ""), problems)
    assert isinstance(node, Mapping)
    assert take_values(record, node, problems, "it") is None
    assert [problem.code for problem in problems] == ["unknown-key"]


@pytest.mark.parametrize(("record", "name"), SMALL_FILES, ids=lambda value: value if isinstance(value, str) else "")
def test_required_keys_are_the_same_in_both(record: type, name: str) -> None:
    """Leaving out a required key is told by the schema exactly where the reader tells it."""
    good = yaml.load(SMALL[name], AsWritten)
    for key in good:
        less = {other: value for other, value in good.items() if other != key}
        required = key in schema_of(record)["required"]
        assert bool(faults(record, less)) is required, key


def test_a_text_head_takes_front_matter() -> None:
    """The front matter of a review is a head and its facts; each schema knows its own keys alone."""
    front = yaml.load(SMALL["reviews/tarn/de.md"].split("---")[1], AsWritten)
    facts = {key for key, _ in author_fields(ReviewFacts)}
    assert faults(ReviewHead, {key: value for key, value in front.items() if key not in facts}) == []
    assert faults(ReviewFacts, {key: value for key, value in front.items() if key in facts}) == []


@pytest.mark.parametrize(
    ("record", "data"),
    [
        (Settings, {"name": "x", "lead": "deutsch", "address": "https://x.example/", "author": "x"}),
        (Product, {"name": "x", "maker": "x", "versions": []}),
        (Sample, {"obtained": "stolen"}),
        (Protocol, {"name": "x", "measures": "x", "basis": "rumour", "scale": "ratio"}),
        (Round, {"title": "x", "entrants": "tarn", "protocols": ["mass"]}),
    ],
)
def test_values_that_no_reader_takes_are_refused(record: type, data: dict[str, Any]) -> None:
    """A wrong word, an empty list, a text for a list: refused by the schema as by the reader."""
    assert faults(record, data)
