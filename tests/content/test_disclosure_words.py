"""Disclosure sentences and glossary: complete for what a ledger can hold, and fit to stand in a row."""

import string
from typing import Any

Stock = dict[str, Any]

LANGUAGES = ("en", "de", "nl", "fr")
ALLOWED = {"maker", "from", "date", "due", "product", "what"}


def names(text: str) -> set[str]:
    """The placeholders of a sentence."""
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def test_every_way_of_getting_a_sample_has_its_sentence(stock: Stock) -> None:
    """The ways of the ledger by the roles that make sense with them (after the Dutch code's cases)."""
    obtained = stock["disclosure"]["obtained"]
    assert {way: sorted(roles) for way, roles in obtained.items()} == {
        "bought": ["importer", "maker", "reader", "self", "shop"],
        "loaned": ["importer", "maker", "reader", "shop"],
        "received_keep": ["importer", "maker", "reader", "shop"],
        "borrowed_private": ["reader", "self"],
    }


def test_private_lenders_are_never_named(stock: Stock) -> None:
    """A trader is named, a reader or a private person is not."""
    for roles in stock["disclosure"]["obtained"].values():
        for role, sentence in roles.items():
            expected = {"product"} if role in {"reader", "self"} else {"product", "from"}
            assert all(names(text) == expected for text in sentence.values())


def test_situations_of_the_ledger(stock: Stock) -> None:
    """Whatever the ledger's choices are, a sentence stands ready."""
    words = stock["disclosure"]
    assert {
        key: sorted(words[key]) for key in ("selected_by", "shipping", "benefit", "preview", "not_yet_returned")
    } == {
        "selected_by": ["supplier", "us"],
        "shipping": ["supplier", "us"],
        "benefit": ["none", "some"],
        "preview": ["facts_only", "facts_only_several", "full_text", "full_text_several", "none"],
        "not_yet_returned": ["due", "plain"],
    }
    assert sorted(words["independence"]) == [
        "advertising", "affiliate", "combined", "paid", "paid_else", "takes_advertising", "takes_commission", "takes_pay",
    ]  # fmt: skip
    assert names(words["returned"]["plain"]["en"]) == names(words["returned"]["gift"]["en"]) == {"date"}
    assert names(words["not_yet_returned"]["due"]["en"]) == {"due"}
    assert names(words["used_up"]["lent"]["en"]) == names(words["used_up"]["here"]["en"]) == {"what"}
    assert names(words["receipt"]["en"]) == {"what"}
    assert names(words["benefit"]["some"]["en"]) == {"product", "what"}
    assert names(words["fee"]["en"]) == {"from"}


def test_placeholders_are_known_ones(words: list[tuple[str, str, dict[str, str]]]) -> None:
    """No sentence asks for a fact that nobody can fill in, and no other stock text has a placeholder."""
    for file, _, found in words:
        for text in found.values():
            assert names(text) <= (ALLOWED if file == "disclosure" else set())


def test_each_language_fills_in_the_same_facts(words: list[tuple[str, str, dict[str, str]]]) -> None:
    """A sentence tells every reader the same facts, whatever the language."""
    for file, path, found in words:
        if file == "disclosure":
            assert {lang for lang, text in found.items() if names(text) != names(found["en"])} == set(), path


def test_sentences_are_whole(words: list[tuple[str, str, dict[str, str]]]) -> None:
    """Each begins with a capital or a placeholder and ends in a full stop, so that a block reads as prose."""
    for file, _, found in words:
        if file == "disclosure":
            assert all(text.endswith(".") and (text[0].isupper() or text[0] == "{") for text in found.values())


def test_a_loan_is_called_a_loan(stock: Stock) -> None:
    """The Dutch advertising code names the loan ("in bruikleen") as a case of its own.

    Each language here says plainly that the sample was lent.
    """
    word = {
        "en": "lent us", "de": "geliehen", "nl": "in bruikleen", "fr": "prêté", "es": "prestó", "it": "prestato",
        "da": "lånt os", "sv": "lånat ut", "nb": "lånt oss", "pl": "wypożyczył",
    }  # fmt: skip
    for sentence in stock["disclosure"]["obtained"]["loaned"].values():
        assert all(said in sentence[lang] for lang, said in word.items())


def test_no_sentence_names_a_kind_of_product(stock: Stock) -> None:
    """The sentences fit a jacket and a lamp alike."""
    kinds = (
        "jacket",
        "trousers",
        "lamp",
        "Jacke",
        "Hose",
        "Lampe",
        "jas",
        "broek",
        "veste",
        "pantalon",
        "lampe",
    )
    said = str(stock["disclosure"]["obtained"])
    assert [kind for kind in kinds if f" {kind} " in said] == []


def test_glossary_entries_are_whole(stock: Stock) -> None:
    """Each term has a name and a meaning, each meaning is prose, and variants differ from the term itself."""
    glossary = stock["glossary"]
    assert len(glossary) >= 25
    for entry in glossary.values():
        assert [key for key in entry if key != "everyday"] in (["term", "also", "means"], ["term", "means"])
        assert all(text.endswith(".") for text in entry["means"].values())
        for lang, variants in entry.get("also", {}).items():
            assert lang in LANGUAGES and variants and entry["term"][lang] not in variants


def test_a_written_form_belongs_to_one_term(stock: Stock) -> None:
    """In one language no form stands for two terms, or a link would not know where to lead."""
    for lang in LANGUAGES:
        forms = [entry["term"][lang] for entry in stock["glossary"].values()]
        forms += [form for entry in stock["glossary"].values() for form in entry.get("also", {}).get(lang, [])]
        assert sorted(forms) == sorted(set(forms))
