"""The short form: one text whose front matter carries its own product, readings and sample.

What it implies (a product of one version, a round with one entrant, readings, a sample) becomes
the same records as the long form's, so that everything after this room knows one form only.
"""

import itertools
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from sitegen.datatypes import dataclass
from sitegen.problems import Problems, meant_or, quoted
from sitegen.records.fields.fields import Ref, author_fields, take_values
from sitegen.records.fields.stage import Stage
from sitegen.records.fields.words import Words, plain_words
from sitegen.records.ledger import Sample, check_sample
from sitegen.records.measured.protocol import CURVE, RATIO, Protocol
from sitegen.records.measured.readings import Reading, read_into, take_value
from sitegen.records.measured.round import Entrant, Round, RoundProtocol
from sitegen.records.product import Product, Version
from sitegen.records.texts.texts import ShortFacts, StagedValues, TextHead
from sitegen.text.yaml_nodes import Entry
from sitegen.text.yaml_nodes import Mapping as MappingNode

if TYPE_CHECKING:
    from sitegen.text.csv_rows import Cell

_KEYS = frozenset(key for key, _ in author_fields(ShortFacts))


@dataclass(frozen=True, slots=True)
class Short:
    """What a short form implies."""

    product: Product
    round: Round
    readings: tuple[Reading, ...]
    sample: Sample


def take_short(
    id: str, sheets: list[MappingNode], heads: list[TextHead], protocols: Mapping[str, Protocol], problems: Problems
) -> Short | None:
    """The records that a short form implies; None once its faults are reported."""
    entries = _merge(sheets, problems)
    values = take_values(ShortFacts, MappingNode(entries, sheets[0].place), problems, "a review with its own readings")
    if values is None:
        return None
    facts = ShortFacts(**values, place=sheets[0].place)
    check_sample(facts.sample, problems)
    sample = replace(facts.sample, product=Ref(id, facts.place), id=facts.sample.id or "1")
    readings = tuple(_readings(id, facts, protocols, problems))
    return Short(_product(id, facts), _round(id, facts, heads), readings, sample)


def _merge(sheets: list[MappingNode], problems: Problems) -> tuple[Entry, ...]:
    """The entries of the short form; a translation may leave them out, but not contradict them."""
    found: dict[str, Entry] = {}
    for sheet in sheets:
        for entry in sheet.entries:
            key = entry.key.text
            if key in _KEYS and found.setdefault(key, entry).value != entry.value:
                first = found[key].key.place
                message = f"`{key}` differs from what stands in {first}"
                problems.error("fact-twice", entry.key.place, message, "a fact stands in one place: keep one of them")
    return tuple(found.values())


def _words(text: str) -> Words | None:
    return plain_words(text) if text else None


def _product(id: str, facts: ShortFacts) -> Product:
    version = Version(
        id=Ref("tested", facts.place), care=facts.care, care_edition=facts.care_edition, finish=facts.finish,
        price=facts.price, claims=facts.claims, details=facts.details, place=facts.place,
    )  # fmt: skip
    return Product(
        id=id, name=facts.name, maker=facts.maker, kind=_words(facts.kind), versions=(version,), place=facts.place
    )


def _round(id: str, facts: ShortFacts, heads: list[TextHead]) -> Round:
    stages: tuple[Stage, ...] = tuple(sorted({s.stage for _, staged in facts.measured for s in staged}))
    protocols = tuple(
        RoundProtocol(protocol=ref, stages=tuple(sorted(s.stage for s in staged)), place=ref.place)
        for ref, staged in facts.measured
    )
    title = plain_words(heads[0].title.text if heads else id)
    entrant = Entrant(product=Ref(id, facts.place), place=facts.place)
    return Round(
        id=id, title=title, entrants=(entrant,), protocols=protocols, stages=stages, single=True, place=facts.place
    )


def _readings(id: str, facts: ShortFacts, protocols: Mapping[str, Protocol], problems: Problems) -> list[Reading]:
    found: list[Reading] = []
    for ref, staged in facts.measured:
        protocol = protocols.get(ref.id)
        if protocol is None:
            hint = meant_or(ref.id, protocols, f"known protocols: {', '.join(protocols)}")
            problems.error("protocol-unknown", ref.place, f"there is no protocol {quoted(ref.id)}", hint)
        elif protocol.scale == CURVE:
            problems.error(
                "short-curve", ref.place, f"{ref.id} is a curve: its points need a CSV", "make a round of one entrant"
            )
        else:
            for values in staged:
                found += _values(id, protocol, values, problems)
    return found


def _question_commas(cells: "tuple[Cell, ...]", problems: Problems) -> None:
    """Two numbers with a comma and no blank between them look like one number with a decimal comma."""
    for one, next_one in itertools.pairwise(cells):
        here, there = one.place, next_one.place
        is_close = there.line == here.line and there.column == here.column + len(one.text) + 1
        if is_close and one.text.isdigit() and next_one.text.split(" ")[0].isdigit():
            message = f"{one.text},{next_one.text} is read as two readings: inside [ ] a comma parts two values"
            hint = f"write {one.text}.{next_one.text} for one reading, or a blank after the comma for two"
            place = replace(here, width=len(one.text) + 1 + len(next_one.text))
            problems.caution("reading-comma", place, message, hint)


def _values(id: str, protocol: Protocol, staged: StagedValues, problems: Problems) -> list[Reading]:
    found = []
    if protocol.scale == RATIO:
        _question_commas(staged.values, problems)
    for number, cell in enumerate(staged.values, 1):
        base = Reading(
            product=id,
            protocol=protocol.id,
            stage=staged.stage,
            specimen=str(number),
            value=None,
            place=cell.place,
        )
        reading = read_into(base, take_value(cell, None, protocol, problems))
        if reading is not None:
            found.append(reading)
    return found
