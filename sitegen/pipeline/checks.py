"""Whether all that records and texts name is there; each record is looked at by itself."""

from collections.abc import Iterator

from sitegen.pipeline import reading, views
from sitegen.pipeline.demand import derived, report
from sitegen.pipeline.views import everything, shown
from sitegen.problems import Problems
from sitegen.records.fields.fields import Ref
from sitegen.records.ledger import is_ledger
from sitegen.records.names import references
from sitegen.records.names.file_names import check_file_names, check_picture_names
from sitegen.records.names.unused import check_unused
from sitegen.records.publication import Publication


@derived
def names_of_product(id: str) -> tuple[Ref, ...]:
    """The pictures that a product names, once every name in it was looked up."""
    problems = Problems()
    found = references.check_product_names(everything().products[id], everything(), problems)
    report(problems)
    return found


@derived
def names_of_round(id: str) -> tuple[Ref, ...]:
    """The pictures that a round names, once every name in it was looked up."""
    problems = Problems()
    found = references.check_round_names(everything().rounds[id], everything(), problems)
    report(problems)
    return found


@derived
def latest_round(product: str) -> None:
    """Whether it is known which round is the latest of a product."""
    problems = Problems()
    references.check_latest(product, everything(), problems)
    report(problems)


@derived
def names_of_rig(id: str) -> None:
    """Look up every name in a rig."""
    problems = Problems()
    references.check_rig_names(everything().rigs[id], everything(), problems)
    report(problems)


@derived
def names_of_ledger() -> bool:
    """Look up every name in the ledger; gives whether all of it can be used as it is."""
    problems = Problems()
    references.check_sample_names(everything().samples, everything(), problems)
    report(problems)
    return reading.ledger().sound and not any(is_ledger(problem.place.file) for problem in problems.errors)


@derived
def names_of_review(id: str) -> tuple[Ref, ...]:
    """The pictures that a review's texts name, once every name in it was looked up."""
    problems = Problems()
    found = references.check_review_names(everything().reviews[id], everything(), problems, names_of_ledger())
    report(problems)
    return found


@derived
def names_of_guide(id: str) -> tuple[Ref, ...]:
    """The pictures that a guide's texts name, once every name in it was looked up."""
    problems = Problems()
    found = references.check_text_names(everything().guides[id], everything(), problems)
    report(problems)
    return found


@derived
def names_of_about() -> tuple[Ref, ...]:
    """The same for the page about the publication."""
    problems = Problems()
    about = everything().about
    found = references.check_text_names(about, everything(), problems) if about is not None else ()
    report(problems)
    return found


@derived
def names_of_files() -> None:
    """What is wrong with the names of files, whatever they hold."""
    problems = Problems()
    names = reading.names_below("")
    check_unused(names, problems)
    check_file_names(names, problems)
    report(problems)


def pictures_of(publication: Publication) -> Iterator[Ref]:
    """Every picture that a record or a text names."""
    for id in publication.products:
        yield from names_of_product(id)
    for id in publication.shown_rounds:
        yield from names_of_round(id)
    for id in publication.reviews:
        yield from names_of_review(id)
    for id in publication.guides:
        yield from names_of_guide(id)
    if publication.about is not None:
        yield from names_of_about()


@derived
def shown_pictures() -> tuple[Ref, ...]:
    """Every picture that what may be shown names."""
    return tuple(pictures_of(shown()))


@derived
def names_of_pictures() -> None:
    """Pictures that would come out as the same file of the site."""
    problems = Problems()
    check_picture_names(pictures_of(everything()), problems)
    report(problems)


@derived
def all_read() -> None:
    """Read every file and look up every name: what is wrong is reported by the values that this looks up."""
    publication = everything()
    reading.unreadable_folders()
    reading.settings()
    reading.own_protocols()
    for id in publication.rounds:
        views.readings(id)
        names_of_round(id)
    reading.loose_tables()
    reading.loose_logs()
    reading.empty_files()
    for id in publication.rigs:
        names_of_rig(id)
    reading.own_terms()
    reading.follows()
    reading.addresses()
    names_of_ledger()
    for id in publication.products:
        latest_round(id)
    names_of_pictures()
    names_of_files()
