"""Values in prose: `{spray after 3 washes of halde}` names a finding and comes out in the edition's form.

The grammar of a path, read from its end:

    path     := subject [" of " PRODUCT] [" in " ROUND]
    subject  := fact | measure [" " aspect]
    measure  := PROTOCOL [" " STAGE]
    aspect   := "claimed" | "interval" | "letters" | "number" | "rank" | "readings" | "spread" | "words" | "to N %"
    fact     := "name" | "maker" | "price" | "version" | date
    date     := "price date" | "received" | "returned" | "tested from" | "tested to"
"""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal

from sitegen.datatypes import dataclass
from sitegen.editorial.standing import standing_of
from sitegen.figures.answers.ranks import grade_words, rank_text
from sitegen.figures.forms import numbers
from sitegen.figures.forms.dates import date_text
from sitegen.figures.forms.edition import Edition
from sitegen.figures.wording.cells import time_text, word_cell
from sitegen.figures.wording.claims import claimed_text
from sitegen.findings.found import Cell, CurveSummary, Measured, RoundFindings
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.problems import meant_or, some_of
from sitegen.records.measured.round import Measure, tested_version
from sitegen.records.names.index import Index
from sitegen.records.product import Version
from sitegen.records.texts.value_paths import DATES, FACTS, PLACED_WITHIN, split_aspect, subjects_like
from sitegen.text.value_grammar import PLACEMENT


class UnknownValue(ValueError):
    """The path names nothing; `hint` is what could have been meant."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint


@dataclass(frozen=True, slots=True, kw_only=True)
class Values:
    """Where the values of one text come from: its product and round, and all rounds for the others.

    `index` tells the rounds and the samples of each product.
    """

    edition: Edition
    rounds: Mapping[str, RoundFindings]
    index: Index
    product: str = ""
    round: str = ""

    def word(self, path: str) -> str:
        """The value of a path as text. Raises UnknownValue."""
        if PLACEMENT.match(path):
            raise UnknownValue(*PLACED_WITHIN)
        subject, product, round = self._target(" ".join(path.split()))
        if subject in FACTS:
            return self._fact(subject, product, round)
        measured, cell, aspect = self._finding(subject, product, round)
        if aspect == "claimed":
            return self._claimed(measured, product, round)
        return _aspect(self.edition, self.rounds[round], measured, cell, aspect)

    def finding(self, path: str) -> tuple[RoundFindings, Measured, str]:
        """The round and the measure that a placement names, with its product (empty for all). Raises UnknownValue."""
        written, _, round = " ".join(path.split()).partition(" in ")
        subject, _, product = written.partition(" of ")
        product = product or self.product
        if product:
            _, product, round = self._target(f"{subject} of {product}" + (f" in {round}" if round else ""))
        elif not round:
            raise UnknownValue(f"`{path}` does not say of which round", f"write {subject} in ROUND")
        measured, aspect = self._measured(subject, round)
        if aspect:
            raise UnknownValue(f"`{subject}` is no measure", f"write {measured.measure.text}")
        return self.rounds[round], measured, product if self.rounds[round].round.has(product) else ""

    def _target(self, path: str) -> tuple[str, str, str]:
        path, _, round = path.partition(" in ")
        subject, _, product = path.partition(" of ")
        product = product or self.product
        if not product:
            raise UnknownValue(f"`{path}` does not say of which product", f"write {{{subject} of PRODUCT}}")
        if product not in self.edition.products:
            raise UnknownValue(f"there is no product `{product}`", meant_or(product, self.edition.products))
        return subject, product, round or self._round_of(product)

    def _round_of(self, product: str) -> str:
        """The text's own round where the product is in it, else the latest that measured it."""
        if self.round in self.rounds and self.rounds[self.round].round.has(product):
            return self.round
        latest = self.index.latest.get(product, "")
        return latest if latest in self.rounds else ""

    def _version(self, product: str, round: str) -> Version | None:
        found = self.rounds.get(round)
        entrant = next((e for e in found.round.entrants if e.product.id == product), None) if found else None
        if entrant is not None:
            return tested_version(entrant, self.edition.products)
        return self.edition.products[product].versions[-1]

    def _fact(self, fact: str, product: str, round: str) -> str:
        record = self.edition.products[product]
        version = self._version(product, round)
        if fact in DATES:
            return date_text(self.edition.lang, self._date(fact, product, round, version))
        if fact == "name":
            return record.name
        if fact == "maker":
            return record.maker
        if fact == "version":
            return version.id.id if version else ""
        if version is None or version.price is None:
            raise UnknownValue(f"no price is recorded for `{product}`")
        return numbers.money(self.edition.lang, version.price.amount, version.price.currency)

    def _date(self, fact: str, product: str, round: str, version: Version | None) -> dt.date:
        """A date of the price, of the product's (first) sample, or of its round."""
        sample = next(iter(self.index.samples.get(product, ())), None)
        tested = self.rounds[round].round if round in self.rounds else None
        dates = {
            "price date": version.price.date if version and version.price else None,
            "received": sample.received if sample else None,
            "returned": sample.returned if sample else None,
            "tested from": tested.start if tested else None,
            "tested to": tested.end if tested else None,
        }
        found = dates[fact]
        if not isinstance(found, dt.date):
            raise UnknownValue(f"no date is recorded for {fact} of `{product}`")
        return found

    def _finding(self, subject: str, product: str, round: str) -> tuple[Measured, Cell, str]:
        if not round:
            raise UnknownValue(f"`{product}` is in no round, so nothing was measured of it")
        measured, aspect = self._measured(subject, round)
        if not self.rounds[round].round.has(product):
            raise UnknownValue(f"`{product}` is no entrant of the round `{round}`")
        return measured, measured.cell(product), aspect

    def _measured(self, subject: str, round: str) -> tuple[Measured, str]:
        if round not in self.rounds:
            hint = meant_or(round, self.rounds, f"known: {some_of(self.rounds)}")
            raise UnknownValue(f"there is no round `{round}`", hint)
        findings = self.rounds[round]
        measure, aspect = split_aspect(subject)
        found = findings.of(measure) if measure else None
        if found is None:
            raise self._unknown(subject, measure, round)
        return found.measured, aspect

    def _unknown(self, subject: str, measure: Measure | None, round: str) -> UnknownValue:
        measured = [m.measure.text for m in self.rounds[round].measured]
        if measure and measure.protocol in self.edition.protocols:
            return UnknownValue(
                f"the round `{round}` has no readings of {measure.text}", f"it has: {some_of(measured)}"
            )
        hint = meant_or(subject, subjects_like(subject, measured), f"known: {some_of([*measured, *FACTS])}")
        return UnknownValue(f"`{subject}` names no value", hint)

    def _claimed(self, measured: Measured, product: str, round: str) -> str:
        version = self._version(product, round)
        for claim in version.claims if version else ():
            if Measure(claim.protocol.id, claim.stage) == measured.measure:
                return claimed_text(self.edition, claim, measured.protocol)
        raise UnknownValue(f"the maker of `{product}` claims no figure for {measured.measure.text}")


def _aspect(edition: Edition, findings: RoundFindings, measured: Measured, cell: Cell, aspect: str) -> str:
    if aspect in _WORDED:
        return _WORDED[aspect](edition, findings, measured, cell)
    if aspect == "letters":
        found = findings.letters().get(f"{cell.product} {measured.measure.text}")
        if not found:
            raise UnknownValue(
                f"no difference could be shown in {measured.measure.text}, so `{cell.product}` has no letter group"
            )
        return found
    if aspect == "spread":
        return word_cell(edition, measured, cell).spread
    if aspect == "readings" and not (cell.specimens or cell.beyond):
        raise UnknownValue(f"there are no single readings of {measured.measure.text} for `{cell.product}`")
    if aspect == "readings":
        known = [numbers.number(edition.lang, value) for _, value in cell.specimens]
        known += [f"{'>' if one.above else '<'}{numbers.number(edition.lang, one.limit)}" for _, one in cell.beyond]
        return numbers.listing(edition.lang, known)
    if aspect:
        return _time_to(edition, measured, cell, int(aspect))
    return word_cell(edition, measured, cell).plain


def _interval(edition: Edition, findings: RoundFindings, measured: Measured, cell: Cell) -> str:
    """The finding with its expanded uncertainty; of grades from the lowest to the highest."""
    if isinstance(cell.summary, GradeSummary):
        low, high = cell.summary.low, cell.summary.high
        return edition.grade((low, high) if low != high else (low,))
    return word_cell(edition, measured, cell).value


def _grades(measured: Measured, cell: Cell) -> tuple[Decimal, ...]:
    if not isinstance(cell.summary, GradeSummary):
        raise UnknownValue(f"{measured.measure.text} of `{cell.product}` is no grade")
    return cell.summary.median


def _number(edition: Edition, findings: RoundFindings, measured: Measured, cell: Cell) -> str:
    return edition.grade(_grades(measured, cell))


def _words(edition: Edition, findings: RoundFindings, measured: Measured, cell: Cell) -> str:
    grades = _grades(measured, cell)
    if len(grades) > 1:
        raise UnknownValue(f"{measured.measure.text} of `{cell.product}` lies between two grades, so it has no words")
    return grade_words(edition, measured.protocol, grades[0])


def _rank(edition: Edition, findings: RoundFindings, measured: Measured, cell: Cell) -> str:
    entry = findings.of(measured.measure)
    standing = standing_of(entry, cell.product) if entry else None
    found = rank_text(edition, measured.protocol, standing) if standing else ""
    if not found:
        raise UnknownValue(f"no rank in {measured.measure.text} could be shown for `{cell.product}`")
    return found


_WORDED = {"interval": _interval, "number": _number, "words": _words, "rank": _rank}


def _time_to(edition: Edition, measured: Measured, cell: Cell, share: int) -> str:
    summary = cell.summary
    if not isinstance(summary, CurveSummary):
        raise UnknownValue(f"`{measured.protocol.id}` is no curve, so it reaches no share of its start")
    found = next((entry for entry in summary.times if int(entry.share) == share), None)
    if found is None:
        known = ", ".join(f"{int(entry.share)} %" for entry in summary.times)
        raise UnknownValue(f"{share} % is no share of the protocol `{measured.protocol.id}`", f"its shares: {known}")
    unit = edition.unit_along(measured.protocol)
    run = found.runs[0]
    if run.time is None:
        return edition.lang.text("longer than {time}", time=time_text(edition, run.longer_than or 0.0, unit))
    return time_text(edition, run.time, unit)
