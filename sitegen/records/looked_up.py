"""Names looked up: whether all that records and texts name is there. Found again while nothing that matters changed.

The claims of products are looked at apart from the rest, and of texts only what they name: so after an edit within a
text, or of readings, no product and no body is loaded.
"""

from dataclasses import replace
from functools import partial
from hashlib import blake2b

from sitegen.problems import Problem, Problems
from sitegen.records.fields import Ref
from sitegen.records.file_names import check_file_names, check_picture_names
from sitegen.records.keeping import Keep, Shelf
from sitegen.records.ledger import is_ledger
from sitegen.records.product import Product
from sitegen.records.publication import Publication
from sitegen.records.references import check_products, check_references
from sitegen.records.text_files import Review


def referenced(
    publication: Publication,
    reviews: Shelf[Review],
    products: Shelf[Product],
    keep: Keep,
    problems: Problems,
) -> Publication:
    """The publication with the pictures that it names, once every name in it has been looked up."""
    sums = [shelf.sum() for shelf in (reviews, products)]
    others = [
        name
        for name in publication.files
        if name.endswith((".yaml", ".md")) and not name.startswith(("reviews/", "products/"))
    ]
    sound = not any(is_ledger(problem.place.file) for problem in problems.errors)
    sums.append(keep.sum(others))
    measured = repr(sorted(publication.measured.items()))
    seen = "\0".join([*sums, str(sound), measured, *publication.files]) if all(sums) else ""
    about_products = [name for name in others if name.startswith("protocols/")]
    claimed = "\0".join([sums[1], keep.sum(about_products), *publication.files]) if all(sums) else ""
    pictures: tuple[Ref, ...] = ()
    for what, key, look in (
        ("products", claimed, partial(_look_at_products, publication)),
        ("references", seen, partial(_look_up, publication, sound)),
    ):
        told, found = keep(f"{what} {_digest(key)}", look) if key else look()
        if told:  # their lines may be others by now
            told, found = look()
        problems.extend(told)
        pictures += found
    check_picture_names(pictures, problems)
    return replace(publication, pictures=pictures, outline=_digest(seen) if seen else "")


def _digest(text: str) -> str:
    return blake2b(text.encode("utf-8", "surrogateescape"), digest_size=20).hexdigest()


def _look_at_products(publication: Publication) -> tuple[tuple[Problem, ...], tuple[Ref, ...]]:
    problems = Problems()
    pictures = check_products(publication, problems)
    return tuple(problems), pictures


def faults_of_names(names: tuple[str, ...], keep: Keep) -> tuple[Problem, ...]:
    """What is wrong with the names of files, whatever they hold."""
    return keep(f"names {_digest(chr(0).join(names))}", partial(_look_at_names, names))


def _look_at_names(names: tuple[str, ...]) -> tuple[Problem, ...]:
    from sitegen.records.unused import check_unused

    problems = Problems()
    check_unused(names, problems)
    check_file_names(names, problems)
    return tuple(problems)


def _look_up(publication: Publication, sound: bool) -> tuple[tuple[Problem, ...], tuple[Ref, ...]]:
    problems = Problems()
    pictures = check_references(publication, problems, sound)
    return tuple(problems), pictures
