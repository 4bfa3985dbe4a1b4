"""The records of a publication, each derived from its own files: what may be looked up, and what is wrong with it."""

from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import NamedTuple

from sitegen import stock as stock_files
from sitegen.pipeline.demand import derived, node, report, session, unstored
from sitegen.pipeline.inputs import EXISTS, NAMES, Sources
from sitegen.problems import Problems
from sitegen.records import publication as records
from sitegen.records.fields.units import declare
from sitegen.records.ledger import Sample, is_ledger
from sitegen.records.measured.protocol import Protocol
from sitegen.records.measured.rig import Rig, highest_values
from sitegen.records.measured.round import Round
from sitegen.records.names.addresses import Addresses, is_addresses
from sitegen.records.names.file_names import stem_of
from sitegen.records.product import Product
from sitegen.records.settings import SETTINGS_FILE, Settings
from sitegen.records.stock_records import Stock, Term, read_protocols, read_stock, read_terms
from sitegen.records.texts.follows import ENDING, Follows, read_follows
from sitegen.records.texts.short_form import Short
from sitegen.records.texts.text_files import (
    Guide,
    Review,
    take_about,
    take_guide,
    take_review,
    text_folders,
    without_bodies,
)
from sitegen.text.markdown_pieces import Parts
from sitegen.text.source import LINK_OUT, report_link_out

GLOSSARY_FILE = "glossary.yaml"
_OF_LANGUAGES = frozenset({"no-lead-text", "edition-undeclared"})


@dataclass(frozen=True, slots=True)
class Context:
    """Where the values of a session come from."""

    sources: Sources

    @property
    def folder(self) -> Path:
        """The publication's folder."""
        return self.sources.folder


_contexts: list[Context] = []


def open_context(sources: Sources) -> None:
    """Have values made from these sources until `close_context`."""
    _contexts.append(Context(sources))


def close_context() -> None:
    """Back to the sources of before."""
    _contexts.pop()


def context() -> Context:
    """Where the values of the open session come from."""
    return _contexts[-1]


def names_below(folder: str) -> tuple[str, ...]:
    """The names of the files in a folder of the publication; of all its files for an empty name."""
    session().note(node(NAMES, folder))
    return context().sources.below(folder)


def has_file(name: str) -> bool:
    """Whether the publication has a file of this name."""
    session().note(node(EXISTS, name))
    return context().sources.has(name)


def folder_of(names: tuple[str, ...], problems: Problems) -> records.Folder:
    return records.Folder(context().folder, names, problems)


def _files_of(kind: str, id: str) -> tuple[str, ...]:
    """The files of a review or guide: its folder's, and the one beside it."""
    own = names_below(f"{kind}/{id}")
    beside = f"{kind}/{id}.md"
    within = names_below(beside)  # of all things, a folder of that name
    return tuple(sorted((*own, *within, *([beside] if has_file(beside) else []))))


@derived
def stock() -> Stock:
    """The stock content. It belongs to the tool: a store of another release is thrown away."""
    problems = Problems()
    found = read_stock(stock_files.content_folder(), problems)
    report(problems)
    return found


@derived
def unreadable_folders() -> None:
    """Folders that the system refuses to list."""
    from sitegen.place import Place

    problems = Problems()
    for refused in (name for name in names_below("") if name.endswith("/")):
        if refused.endswith(LINK_OUT):
            report_link_out(refused.removesuffix(LINK_OUT), problems)
            continue
        message = "can't list what is in this folder: the system refused it"
        problems.error("folder-unreadable", Place(refused, 1, 1), message, "check its access rights")
    report(problems)


@derived
def settings() -> Settings | None:
    """publication.yaml; None where it can't be used."""
    problems = Problems()
    names = (SETTINGS_FILE,) if has_file(SETTINGS_FILE) else names_below("")
    found = records.read_settings(folder_of(names, problems))
    report(problems)
    return found


@derived
def usable_settings() -> Settings:
    """The settings, or stand-ins by which the texts can be checked although there are none."""
    return settings() or records.stand_in_settings(folder_of(names_below(""), Problems()))


@derived
def own_units() -> dict[str, str]:
    """The units that the publication declares."""
    return dict(usable_settings().units)


def with_own_units() -> None:
    """Have quantities read by the publication's own units too; whatever reads one depends on these."""
    declare(own_units())


@derived
def own_protocols() -> dict[str, Protocol]:
    """The publication's own protocols."""
    with_own_units()
    problems = Problems()
    found = read_protocols(context().folder, names_below("protocols"), problems, stock=False)
    report(problems)
    return found


@derived
def protocols() -> dict[str, Protocol]:
    """All protocols, by id."""
    return dict(stock().protocols) | own_protocols()


@derived
def product_files() -> tuple[str, ...]:
    """The ids of the products that have a file."""
    return tuple(stem_of(name) for name in names_below("products") if name.endswith(".yaml") and name.count("/") == 1)


@derived
def product_file(id: str) -> Product | None:
    """The product in a file; None where it can't be used."""
    with_own_units()
    problems = Problems()
    found = records.take_product(context().folder, frozenset(stock().care), id, problems)
    report(problems)
    return found


@derived
def round_files() -> tuple[str, ...]:
    """The ids of the rounds that have a file."""
    return tuple(
        name.split("/")[1] for name in names_below("rounds") if name.endswith("/round.yaml") and name.count("/") == 2
    )


@derived
def round_file(id: str) -> Round | None:
    """The round in a file; None where it can't be used."""
    with_own_units()
    problems = Problems()
    found = records.take_round(context().folder, id, problems)
    report(problems)
    return found


@derived
def loose_tables() -> None:
    """The tables below rounds/ of which no round can be used."""
    problems = Problems()
    folders = dict.fromkeys(name.split("/")[1] for name in names_below("rounds") if name.count("/") == 2)
    known = round_files()
    for id in folders:
        if id not in known or round_file(id) is None:
            records.check_loose_tables(folder_of(names_below(f"rounds/{id}"), problems), id)
    report(problems)


@derived
def loose_logs() -> None:
    """The logs below rigs/ without a rig."""
    problems = Problems()
    records.check_loose_logs(folder_of(names_below("rigs"), problems))
    report(problems)


@derived
def empty_files() -> None:
    """Empty files of kinds that may say nothing."""
    problems = Problems()
    looks = [name for name in names_below("theme") if name.endswith((".html", ".css"))]
    own = [name for name in (GLOSSARY_FILE, "addresses.yaml") if has_file(name)]
    names = (*own, *names_below("addresses"), *looks)
    records.check_empty(folder_of(names, problems), names)
    report(problems)


@derived
def rig_ids() -> tuple[str, ...]:
    """The rigs that can be used."""
    named = [name.split("/")[1] for name in names_below("rigs") if name.endswith("/rig.yaml") and name.count("/") == 2]
    return tuple(id for id in named if rig(id) is not None)


@derived
def rig(id: str) -> Rig | None:
    """A rig with its log; None where it can't be used."""
    with_own_units()
    problems = Problems()
    found = records.take_rig(folder_of(names_below(f"rigs/{id}"), problems), id, protocols())
    report(problems)
    return found


@derived
def highest() -> dict[str, Decimal]:
    """By protocol, the highest value that the rigs can show; a day in a rig's log doesn't change it."""
    with_own_units()
    return highest_values((found for id in rig_ids() if (found := rig(id)) is not None), protocols())


class LedgerFile(NamedTuple):
    """The samples of one file, or of all; `sound` is False where something in it can't be used as it is."""

    samples: tuple[Sample, ...]
    sound: bool


@derived
def ledger_file(name: str) -> LedgerFile:
    """The samples in one file of the ledger."""
    problems = Problems()
    found = records.take_samples(context().folder, name, problems)
    report(problems)
    return LedgerFile(found, not problems.has_errors)


@derived
def ledger() -> LedgerFile:
    """The samples in all files of the ledger."""
    problems = Problems()
    own = ("ledger.yaml",) if has_file("ledger.yaml") else ()
    files = [ledger_file(name) for name in filter(is_ledger, sorted((*own, *names_below("ledger"))))]
    found = tuple(sample for file in files for sample in file.samples)
    records.check_single(found, problems)
    report(problems)
    return LedgerFile(found, not problems.has_errors and all(file.sound for file in files))


@unstored
def review_files(id: str) -> tuple[Review | None, Short | None]:
    """All that the files of a review hold."""
    with_own_units()
    problems = Problems()
    found = take_review(context().folder, _files_of("reviews", id), usable_settings(), protocols(), id, problems)
    _report_texts(problems)
    return found


def _report_texts(problems: Problems) -> None:
    # Without settings it is not known which languages there should be, so nothing is said of them.
    known = settings() is not None
    report(problem for problem in problems if known or problem.code not in _OF_LANGUAGES)


@derived
def review_folders() -> dict[str, None]:
    """The ids of everything that may be a review."""
    return dict.fromkeys(text_folders("reviews", names_below("reviews")))


@derived
def read_review(id: str) -> None:
    """Have all that comes from a review's files stored while these are at hand."""
    card = review_card(id)
    review_short(id)
    for text in card.texts if card is not None else ():
        body("review", id, text.file)


@derived
def review_ids() -> tuple[str, ...]:
    """The reviews that can be used."""
    return tuple(id for id in review_folders() if review_card(id) is not None)


@derived
def review_card(id: str) -> Review | None:
    """A review without the bodies of its texts; None where it can't be used."""
    review, _ = review_files(id)
    return without_bodies(review) if review is not None else None


@derived
def review_short(id: str) -> Short | None:
    """What a review implies that carries its own readings."""
    if id not in review_folders():
        return None
    review, short = review_files(id)
    if review is not None and short is not None:
        problems = Problems()
        homes = (f"products/{id}.yaml", f"rounds/{id}/round.yaml")
        records.check_implied(review, short, [home for home in homes if has_file(home)], problems)
        report(problems)
    return short


@derived
def shorts() -> tuple[str, ...]:
    """The reviews that carry their own readings."""
    return tuple(id for id in review_ids() if review_short(id) is not None)


@unstored
def guide_files(id: str) -> Guide | None:
    """All that the files of a guide hold."""
    problems = Problems()
    found = take_guide(context().folder, _files_of("guides", id), usable_settings(), id, problems)
    _report_texts(problems)
    return found


@derived
def guide_card(id: str) -> Guide | None:
    """A guide without the bodies of its texts; None where it can't be used."""
    found = guide_files(id)
    return without_bodies(found) if found is not None else None


@derived
def guide_ids() -> tuple[str, ...]:
    """The guides that can be used."""
    return tuple(id for id in text_folders("guides", names_below("guides")) if guide_card(id) is not None)


@unstored
def about_files() -> Guide | None:
    """All that the files of the page about the publication hold."""
    problems = Problems()
    found = take_about(context().folder, names_below("about"), usable_settings(), problems)
    _report_texts(problems)
    return found


@derived
def about_card() -> Guide | None:
    """The page about the publication, without its bodies."""
    found = about_files()
    return without_bodies(found) if found is not None else None


@derived
def body(kind: str, id: str, file: str) -> Parts:
    """The body of one text: `kind` is that of its page."""
    found: Guide | None
    if kind == "review":
        found, _ = review_files(id)
    else:
        found = guide_files(id) if kind == "guide" else about_files()
    assert found is not None
    return next(text for text in found.texts if text.file == file).body.parts()


@derived
def own_terms() -> dict[str, Term]:
    """The publication's own glossary."""
    problems = Problems()
    found = read_terms(context().folder, GLOSSARY_FILE, problems) if has_file(GLOSSARY_FILE) else {}
    report(problems)
    return found


@derived
def terms() -> dict[str, Term]:
    """The terms of the glossary, by id."""
    return dict(stock().terms) | own_terms()


@derived
def follows_of(translation: str) -> Follows | None:
    """What a translation follows, where that is recorded."""
    problems = Problems()
    name = translation.removesuffix(".md") + ENDING
    if not has_file(name):
        return None
    found = read_follows(context().folder, (name, translation), problems)
    report(problems)
    return found.get(translation)


@derived
def follows() -> tuple[str, ...]:
    """The translations of which it is recorded what they follow."""
    problems = Problems()
    names = [name for top in ("about", "guides", "reviews") for name in names_below(top)]
    alone = [name for name in names if name.endswith(ENDING) and name.removesuffix(ENDING) + ".md" not in names]
    read_follows(context().folder, alone, problems)  # each without its translation: reported, and not read
    report(problems)
    found = (name.removesuffix(ENDING) + ".md" for name in names if name.endswith(ENDING) and name not in alone)
    return tuple(name for name in found if follows_of(name) is not None)


@derived
def addresses() -> Addresses:
    """The record of addresses."""
    problems = Problems()
    own = [name for name in ("addresses.yaml",) if has_file(name)]
    names = tuple(filter(is_addresses, sorted((*own, *names_below("addresses")))))
    found = records.take_all_addresses(folder_of(names, problems))
    report(problems)
    return found
