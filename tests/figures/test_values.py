"""Values named in running text: what each path means, in the edition's form, or a sentence about what is wrong."""

import pytest
from small_records import edition, small_findings, small_publication

from sitegen.figures.answers.prose import UNRESOLVED, fill_all, fill_prose
from sitegen.figures.answers.values import UnknownValue, Values
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.fields.kinds import Prose
from sitegen.records.publication import Publication

NBSP = "\u00a0"


@pytest.fixture(scope="module")
def small() -> Publication:
    return small_publication()


def values(publication: Publication, tag: str = "en", product: str = "tarn", round: str = "trousers") -> Values:
    return Values(
        edition=edition(publication, tag),
        rounds={"trousers": small_findings(publication)},
        product=product,
        round=round,
        index=publication.index,
    )


PATHS = {
    "mass": f"412{NBSP}g",
    "  mass   of  fenn ": f"389{NBSP}g",
    "mass of fenn in trousers": f"389{NBSP}g",
    "mass interval": f"(412.0{NBSP}±{NBSP}1.4){NBSP}g",
    "mass rank": "the heaviest of two",
    "mass rank of fenn": "the lightest of two",
    "spray number": "5",
    "spray words": "nothing sticks, nothing is wet",
    "spray after 3 washes interval of fenn": "1 or 2",
    "mass letters": "b",
    "mass letters of fenn": "a",
    "mass spread": "mean of 3 readings",
    "mass readings": "412.0, 411.5, and 412.5",
    "spray": "grade 5",
    "spray after 3 washes": "grade 3",
    "spray after 3 washes readings of fenn": "2, 1, and 2",
    "run_time": f"116{NBSP}min",
    "run_time to 50 %": f"116{NBSP}min",
    "run_time to 10%": f"2{NBSP}h{NBSP}55{NBSP}min",
    "run_time of fenn": "missing",
    "name": "Tarn 3",
    "name of fenn": "Fenn",
    "maker": "Wollgras",
    "version": "2026",
    "price": "€149.90",
    "price date": "September 1, 2026",
    "received": "August 3, 2026",
    "tested from": "August 10, 2026",
    "tested to of fenn": "October 2, 2026",
}


@pytest.mark.parametrize(("path", "expected"), PATHS.items())
def test_every_form_of_a_path(path: str, expected: str, small: Publication) -> None:
    """The whole grammar, by example."""
    assert values(small).word(path) == expected


def test_values_take_the_form_of_the_language(small: Publication) -> None:
    """The same path in German: comma, order of money, words (CLDR)."""
    german = values(small, "de")
    assert german.word("mass") == f"412{NBSP}g"
    assert german.word("mass interval") == f"(412,0{NBSP}±{NBSP}1,4){NBSP}g"
    assert german.word("price") == f"149,90{NBSP}€"
    assert german.word("spray after 3 washes") == "Grad 3"
    assert german.word("mass readings") == "412,0, 411,5 und 412,5"


def test_a_claim_is_told_as_its_maker_wrote_it(small: Publication) -> None:
    """With its tolerance, without what was measured."""
    assert values(small).word("mass claimed").replace(NBSP, " ") == "412 g ± 3 %"


def test_a_text_without_a_product_names_it(small: Publication) -> None:
    """A guide speaks of no product of its own: `of` is needed, and the round is found by the product."""
    guide = values(small, product="", round="")
    assert guide.word("mass of tarn") == PATHS["mass"]
    with pytest.raises(UnknownValue, match="does not say of which product"):
        guide.word("mass")


WRONG = {
    "masse": "names no value",
    "mass of tran": "there is no product `tran`",
    "mass in summer": "there is no round `summer`",
    "drying_time": "has no readings of drying_time",
    "spray after 9 washes": "has no readings of spray after 9 washes",
    "spray claimed": "claims no figure for spray",
    "mass to 50 %": "is no curve",
    "run_time to 33 %": "is no share",
    "spray letters": "no difference could be shown",
    "run_time readings": "no single readings",
    "price of fenn": "no price is recorded",
    "": "names no value",
    "of": "names no value",
    " of ": "names no value",
}


@pytest.mark.parametrize(("path", "said"), WRONG.items())
def test_what_names_nothing_is_told_in_words(path: str, said: str, small: Publication) -> None:
    """Never an empty text in a sentence, never a guess."""
    with pytest.raises(UnknownValue, match=said):
        values(small).word(path)


MEANT = {
    "spay readings": "did you mean `spray readings`?",
    "spray after 3 washes redings": "did you mean `spray after 3 washes readings`?",
    "mass claimd of fenn": "did you mean `mass claimed`?",
    "runtime to 10 %": "did you mean `run_time to 10 %`?",
    "Price-Date": "did you mean `price date`?",
    "weight": "known: spray, spray after 3 washes, mass, run_time, name, maker, price, version, price date, received, "
    "returned, tested from, and 1 more",
}


@pytest.mark.parametrize(("path", "hint"), MEANT.items())
def test_a_misspelt_value_is_told_with_a_guess(path: str, hint: str, small: Publication) -> None:
    """Whichever of its words is misspelt, the whole subject comes back; where none is near, some of those there are."""
    with pytest.raises(UnknownValue) as told:
        values(small).word(path)
    assert told.value.hint == hint


def prose(text: str) -> Prose:
    return Prose(text, Place("reviews/tarn/de.md", 7, 10))


def test_prose_is_filled_and_braces_stay(small: Publication) -> None:
    """`{…}` becomes its value, a backslash keeps a brace, all else is untouched."""
    problems = Problems()
    assert fill_prose(prose("It weighs {mass of fenn}, \\{really\\}."), values(small), problems) == (
        f"It weighs 389{NBSP}g, {{really}}."
    )
    assert fill_prose(prose("{{mass}} is no value"), values(small), problems) == "{{mass}} is no value"
    assert fill_all([prose("a"), prose("{name}")], values(small), problems) == ("a", "Tarn 3")
    assert not len(problems)


def test_an_unknown_value_is_told_at_its_place(small: Publication) -> None:
    """The caret stands under the braces, wherever in the text they are; a mark stands in for the value."""
    problems = Problems()
    assert fill_prose(prose("It weighs {masse}."), values(small), problems) == f"It weighs {UNRESOLVED}."
    (problem,) = problems
    assert (problem.code, problem.place.line, problem.place.column, problem.place.width) == ("value-unknown", 7, 20, 7)
    assert problem.hint == "did you mean `mass`?"
