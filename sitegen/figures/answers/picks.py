"""Which for what, and the facts of a round, in whole sentences."""

from sitegen.editorial.picks import Pick, Tipping
from sitegen.editorial.round_facts import Fact, FailedClaim, KeptGrade, round_facts
from sitegen.figures.answers.orders import beside_sentence, hundredths
from sitegen.figures.answers.ranks import counted, end_words
from sitegen.figures.forms import numbers
from sitegen.figures.forms.edition import Edition, capital, within
from sitegen.figures.wording.cells import word_cell
from sitegen.figures.wording.claims import claimed_text
from sitegen.findings.found import Cell, Measured, RoundFindings
from sitegen.findings.statistics.ordinal import GradeSummary
from sitegen.records.fields.stage import NEW
from sitegen.records.measured.round import Measure, parse_measure

NAMED = 3  # entrants without a clear difference that are named; more are counted


def pick_sentences(edition: Edition, pick: Pick) -> tuple[str, ...]:
    """The pick with its sureness; what isn't in that; what would change it, where one weight could."""
    sentences = [_pick(edition, pick)]
    if pick.beside:
        sentences.append(beside_sentence(edition, pick.beside))
    if pick.missing:
        names = numbers.listing(edition.lang, [_short(edition, measure) for measure in pick.missing])
        sentences.append(edition.lang.text("Not measured of every entrant: {measures}.", measures=names))
    return (*sentences, _tipping(edition, pick.tipping)) if pick.tipping is not None else tuple(sentences)


def _pick(edition: Edition, pick: Pick) -> str:
    t = edition.lang
    values = {"product": edition.product(pick.product), "n": hundredths(pick.first_share)}
    if not pick.level:
        return t.text("{product}, first in {n} of 100 simulated repeats.", **values)
    if len(pick.level) <= NAMED:
        names = numbers.listing(t, [edition.product(product) for product in pick.level])
        return t.text(
            "{product}, first in {n} of 100 simulated repeats; no clear difference from {products}.",
            products=names,
            **values,
        )
    return t.text(
        "No clear pick: {product} is first most often, in {n} of 100 simulated repeats, but {others} others do not "
        "differ from it clearly.",
        others=counted(edition, len(pick.level)),
        **values,
    )


def _tipping(edition: Edition, tipping: Tipping) -> str:
    t = edition.lang
    was, tips = (numbers.percent(t, numbers.round_to(100 * share, 0)) for share in (tipping.was, tipping.tips_at))
    values = {
        "product": edition.product(tipping.product),
        "measure": _short(edition, tipping.measure),
        "was": was,
        "tips": tips,
    }
    if tipping.tips_at < tipping.was:
        return t.text(
            "{product} would come first if {measure} counted for less than {tips} instead of {was}.", **values
        )
    return t.text("{product} would come first if {measure} counted for more than {tips} instead of {was}.", **values)


def _short(edition: Edition, text: str) -> str:
    """A measure's short name as it stands within a sentence."""
    measure = parse_measure(text) or Measure(text)
    name = within(edition, edition.head(measure.protocol))
    return f"{name}, {edition.stage(measure.stage)}" if measure.stage != NEW else name


def fact_sentences(edition: Edition, findings: RoundFindings) -> tuple[str, ...]:
    """The facts of a round, each in a sentence."""
    return tuple(_fact(edition, findings, fact) for fact in round_facts(findings))


def _fact(edition: Edition, findings: RoundFindings, fact: Fact) -> str:
    """One fact of a round: the finding and how sure it is."""
    if isinstance(fact, FailedClaim):
        return _failed(edition, findings, fact)
    if isinstance(fact, KeptGrade):
        return _kept(edition, fact)
    return best_sentence(edition, fact.measured, fact.cell)


def _failed(edition: Edition, findings: RoundFindings, fact: FailedClaim) -> str:
    entry = findings.of(fact.judged.measure)
    assert entry is not None
    return edition.lang.text(
        "{product}: {measured} measured, {claimed} claimed by the maker; that does not hold.",
        product=edition.product(fact.judged.product),
        measured=word_cell(edition, entry.measured, fact.judged.cell).plain,
        claimed=claimed_text(edition, fact.judged.claim, entry.measured.protocol),
    )


def _kept(edition: Edition, fact: KeptGrade) -> str:
    t = edition.lang
    names = numbers.listing(t, [edition.product(product) for product in fact.kept])
    kept = t.text(
        "{stage} every specimen of {products} still had grade {grade} or better.",
        stage=capital(edition.stage(fact.measured.measure.stage)),
        products=names,
        grade=numbers.ordinal_grade(t, fact.grade),
    )
    return f"{kept} {_fell(edition, *fact.fell)}" if fact.fell is not None else kept


def _fell(edition: Edition, before: Cell, after: Cell) -> str:
    assert isinstance(before.summary, GradeSummary) and isinstance(after.summary, GradeSummary)
    return edition.lang.text(
        "Those of {product} fell from grade {before} to grade {after}.",
        product=edition.product(after.product),
        before=edition.grade(before.summary.median),
        after=edition.grade(after.summary.median),
    )


def best_sentence(edition: Edition, measured: Measured, cell: Cell) -> str:
    """An entrant that is clearly the best in a measure."""
    t = edition.lang
    most = end_words(edition, measured.protocol, lowest=measured.protocol.better == "lower")
    values = {"product": edition.product(cell.product), "value": word_cell(edition, measured, cell).plain}
    if most:
        return t.text("{product} is clearly {most}: {value}.", most=most, **values)
    name = edition.measure(measured.measure)
    return t.text("{name}: {product} is clearly ahead, with {value}.", name=name, **values)
