"""The ledger: what came, from whom, on what terms, and what went back when. One file, or several in a folder."""

import datetime as dt
from typing import Any

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.problems import Problems, quoted
from sitegen.records.fields.fields import RecordOf, Ref, fail, placed, written
from sitegen.records.fields.kinds import DAY, LINE, WORDS, Choice, Ident, ListOf
from sitegen.records.fields.words import LEAD, Words
from sitegen.records.names.file_names import fits
from sitegen.text.yaml_nodes import Node, Scalar

LEDGER_FILE = "ledger.yaml"
BOUGHT, LOANED, KEPT, BORROWED = OBTAINED = ("bought", "loaned", "received_keep", "borrowed_private")
ROLES = ("maker", "importer", "shop", "reader", "self")
NOT_YET = "not yet"
SELF = "self"
_NAMED = ("maker", "importer", "shop")
# The pairs of which the disclosure has a sentence; any other contradicts itself.
_ROLES_OF = {BOUGHT: ("self", "shop", "maker", "importer", "reader"), LOANED: (*_NAMED, "reader"), KEPT: (*_NAMED, "reader"),
             BORROWED: ("reader", "self")}  # fmt: skip


def is_ledger(name: str) -> bool:
    """Whether a file of a publication holds samples: ledger.yaml, ledger/2026.yaml."""
    return name == LEDGER_FILE or fits(name, ("ledger", "*.yaml"))


@dataclass(frozen=True, slots=True)
class ReturnDay:
    """A date, or `not yet`."""

    def take(self, node: Node, name: str, problems: Problems) -> Any:
        """A date or the words."""
        if isinstance(node, Scalar) and " ".join(node.text.split()) == NOT_YET:
            return NOT_YET
        if isinstance(node, Scalar) and node.text[:1].isdigit():
            return DAY.take(node, name, problems)
        return fail(node, name, "a date such as 2026-10-20, or not yet", problems, code="date")

    def schema(self) -> dict[str, Any]:
        """A date string or the words."""
        return {"anyOf": [DAY.schema(), {"const": NOT_YET}], "examples": ["2026-10-20"]}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """A physical unit of a product: how it came and what became of it."""

    id: str = written(LINE, "the sample's mark on the bench", default="")
    product: Ref | None = written(Ident("a product"), "which product it is", default=None)
    version: Ref | None = written(Ident("a version"), "which version it is", default=None)
    obtained: str = written(Choice(OBTAINED), "how it was obtained")
    source: str = written(LINE, "from whom", key="from", default="")
    role: str = written(Choice(ROLES), "what the supplier is", default="")
    selected_by: str = written(Choice(("us", "supplier")), "who picked the very piece", default="")
    received: dt.date | None = written(DAY, "when it came", default=None)
    due: dt.date | None = written(DAY, "when it is due back", default=None)
    returned: dt.date | str | None = written(ReturnDay(), "when it went back, or not yet", default=None)
    shipping: str = written(Choice(("us", "supplier")), "who paid the shipping", default="")
    benefit: Words | None = written(WORDS, "any money or benefit; none where there was none", default=None)
    preview: str = written(
        Choice(("none", "facts_only", "full_text")), "what the supplier saw before publication", default=""
    )
    receipt: str = written(LINE, "the number of the receipt", default="")
    used_up: Words | None = written(WORDS, "what happened where it can't go back", default=None)
    size: str = written(LINE, "its size", default="")
    colour: Words | None = written(WORDS, "its colour", default=None)
    serial: str = written(LINE, "its serial number", default="")
    private: str = written(LINE, "a note that is never published", default="")
    place: Place = placed()

    @property
    def lent(self) -> bool:
        """Whether it must go back."""
        return self.obtained in {LOANED, BORROWED} and not self.own

    @property
    def own(self) -> bool:
        """Whether it is the author's own gear, which nobody supplied."""
        return self.obtained == BORROWED and self.role == SELF

    @property
    def no_benefit(self) -> bool:
        """Whether the ledger says that there was no money or benefit."""
        return self.benefit is not None and self.benefit.exact(LEAD) == "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """All samples."""

    samples: tuple[Sample, ...] = written(ListOf(RecordOf(Sample, "a sample"), most=100_000), "the samples", default=())
    place: Place = placed()


def check_sample(sample: Sample, problems: Problems) -> None:
    """A sentence needs its facts: what a disclosure of this kind of sample must be able to say."""
    needed: dict[str, object] = {"received": sample.received}
    if sample.obtained == BOUGHT:
        needed |= {"receipt": sample.receipt}
    elif not sample.own:
        needed |= {"benefit": sample.benefit, "preview": sample.preview}
        needed |= {"role": sample.role, "selected_by": sample.selected_by}
    if sample.role in _NAMED:  # readers and private lenders are never named
        needed["from"] = sample.source
    if sample.lent and not sample.used_up:
        needed["returned"] = sample.returned
    if sample.role and sample.role not in _ROLES_OF[sample.obtained]:
        message = (
            f"a sample that was {sample.obtained.replace('_', ' ')} can't come from the role {quoted(sample.role)}"
        )
        problems.error("sample-role", sample.place, message, f"role: one of {', '.join(_ROLES_OF[sample.obtained])}")
    for key, value in needed.items():
        if not value:
            _missing_fact(sample, key, problems)
    _check_end(sample, problems)


def _check_end(sample: Sample, problems: Problems) -> None:
    """What became of a sample must fit how it came, or its sentences would contradict each other."""
    how = "our own" if sample.own else {KEPT: "given to keep"}.get(sample.obtained, sample.obtained.replace("_", " "))
    back, came = sample.returned, sample.received
    if isinstance(back, dt.date) and came and back < came:
        message = f"the sample went back ({back}) before it came ({came})"
        problems.error("ledger-dates", sample.place, message, "look at `received` and `returned` of this sample")
    if sample.due and came and sample.due < came:
        message = f"the sample is due back ({sample.due}) before it came ({came})"
        problems.error("ledger-dates", sample.place, message, "look at `received` and `due` of this sample")
    if back and sample.used_up is not None:
        message = "the sample can't both go back (`returned`) and be used up (`used_up`)"
        problems.error("ledger-end", sample.place, message, "keep the one that is true")
    if not sample.lent and (back == NOT_YET or sample.due):
        key = "due" if sample.due else "returned"
        message = f"a sample that was {how} needn't go back, so it has no `{key}`"
        hint = f"remove `{key}`; if it must go back, it was loaned or borrowed_private"
        problems.error("ledger-end", sample.place, message, hint)
    if sample.own and (given := _of_a_supplier(sample)):
        message = f"the sample is our own, so `{given}` can't speak of a supplier"
        problems.error("ledger-end", sample.place, message, f"remove `{given}`, or correct the `role`")


def _of_a_supplier(sample: Sample) -> str:
    """The first key that says something of a supplier; empty for none."""
    said = {"selected_by": sample.selected_by == "supplier", "shipping": sample.shipping == "supplier",
            "preview": sample.preview in {"facts_only", "full_text"}, "returned": isinstance(sample.returned, dt.date)}  # fmt: skip
    return next((key for key, is_said in said.items() if is_said), "")


def _missing_fact(sample: Sample, key: str, problems: Problems) -> None:
    examples = {"returned": "2026-10-20 (or: not yet)", "benefit": "none", "preview": "none", "selected_by": "supplier",
                "receipt": "R-2026-014", "received": "2026-08-03", "from": "…", "role": "maker"}  # fmt: skip
    name = f"sample {quoted(sample.id)}" if sample.id else "this sample"
    message = f"{name} was {sample.obtained.replace('_', ' ')}: the disclosure needs `{key}`"
    problems.error("disclosure-fact", sample.place, message, f"add a line such as  {key}: {examples[key]}")
