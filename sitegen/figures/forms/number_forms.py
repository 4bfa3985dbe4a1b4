"""How a locale writes numbers: its signs, its grouping, its quotation marks, its list and its money patterns.

Read once from CLDR (through Babel) for each language. Digits are always the western ones: they stand beside
unit symbols and in data files to download. Two facts of CLDR that Babel doesn't carry are tabled here.
"""

from typing import TypeVar

from babel import Locale

from sitegen.datatypes import dataclass

__all__ = ["ListForms", "NumberForms", "read_number_forms"]

MINUS = "\u2212"

_Form = TypeVar("_Form", int, str)

# CLDR 48.2, `minimumGroupingDigits`, where it isn't 1: a number needs so many digits before its first group.
# A tag takes the value of the nearest tag that it starts with, so the Spanish of the Americas is listed too.
_MINIMUM_GROUPING: dict[int, str] = {
    2: "be bg es et hu hy ia ie it ka lv pl pt-CH pt-CV pt-GQ pt-GW pt-LU pt-MO pt-MZ pt-PT pt-ST pt-TL ru-UA sl sq",
    3: "ee",
    1: "es-419 es-AR es-BO es-BR es-BZ es-CL es-CO es-CR es-CU es-DO es-EC es-GT es-HN es-MX es-NI es-PA "
    "es-PE es-PR es-PY es-SV es-US es-UY es-VE",
}

# CLDR 48.2, `delimiters`: outer start and end, inner start and end; what isn't listed has the marks of the
# root.
_ROOT_QUOTES = "“”‘’"
_QUOTES: dict[str, str] = {
    "„”‚’": "agq ff",
    "«»‹›": "am az-Arab az-Cyrl fa fr-CH gsw jgo kkj mzn rm sdh wae",
    "”“’‘": "ar lld ms-Arab syr ur",
    "«»“”": "ast blo bm br ca cv dyo el es-US eu ewo ie it kab kk lij mg mua nnh pms pt-AO pt-CH pt-CV "
    "pt-GQ pt-GW pt-LU pt-MO pt-MZ pt-PT pt-ST pt-TL sc sg ti",
    "«»„“": "bas be bua ky os ru sah tyv uk",
    "„“„“": "bg lt prg sgs",
    "“”‘’": "bm-Nkoo ff-Adlm uz-Arab uz-Cyrl",
    "„“‚‘": "bs-Cyrl cs de dsb et hr hsb is ksh lb luy mk nds sk sl",
    "„”‘’": "bs",
    "«»‘’": "dua el-polyton ksf nb nn no rw",
    "“”«»": "eo",
    "””’’": "fi he lag rn se sn sv yi",
    "«»”“": "fr-CA",
    "«»«»": "fr ht hy oc yav",
    "‘’“”": "fur ia ti-ER tn",
    "„”»«": "hu szl",
    "「」『』": "ja yue zh-Hant",
    "„“«»": "ka",
    "»«›‹": "kk-Arab ug",
    "‘’‘’": "nl",
    "„”«»": "nmg pl ro",
    "«»„”": "shi zgh",
    "„”’’": "sr",
    "“’“”": "st",
    "“”“”": "tk",
    "“”’‘": "uz",
}

# The French set a no-break space inside their marks, the Swiss don't (common practice, no source; CLDR is
# silent).
_QUOTE_SPACE: dict[str, str] = {"fr": "\u202f", "fr-CH": ""}


@dataclass(frozen=True, slots=True, kw_only=True)
class ListForms:
    """CLDR list patterns with `{0}` and `{1}`: of two; the first, a middle and the last pair of more."""

    two: str
    start: str
    middle: str
    end: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberForms:
    """A locale's number signs and the patterns built on them.

    `grouping` holds the size of the last group and of those before it. `minimum_grouping` is the least number
    of digits before the first group sign. `swap` turns the signs of Python's own `,` format into the
    locale's.
    """

    decimal: str
    group: str
    minus: str
    percent: str
    grouping: tuple[int, int]
    minimum_grouping: int
    swap: dict[int, str]
    money_swap: dict[int, str]
    quotes: tuple[str, str]
    inner_quotes: tuple[str, str]
    listing: ListForms


def read_number_forms(locale: Locale, tag: str) -> NumberForms:
    """The forms of a locale; `tag` is looked up in the tables that Babel's data lacks."""
    signs = locale.number_symbols["latn"]
    quotes, space = _by_tag(_QUOTES, tag, _ROOT_QUOTES), _of_tag(_QUOTE_SPACE, tag, "")
    money_group = signs.get("currencyGroup", signs["group"])
    money_decimal = signs.get("currencyDecimal", signs["decimal"])
    return NumberForms(
        decimal=signs["decimal"],
        group=signs["group"],
        minus=signs["minusSign"].replace("-", MINUS),
        percent=signs["percentSign"],
        grouping=locale.decimal_formats[None].grouping,
        minimum_grouping=_by_tag(_MINIMUM_GROUPING, tag, 1),
        swap=str.maketrans({",": signs["group"], ".": signs["decimal"]}),
        money_swap=str.maketrans({",": money_group, ".": money_decimal}),
        quotes=(quotes[0] + space, space + quotes[1]),
        inner_quotes=(quotes[2] + space, space + quotes[3]),
        listing=_list_forms(locale),
    )


def _list_forms(locale: Locale) -> ListForms:
    found = locale.list_patterns["standard"]
    return ListForms(two=found["2"], start=found["start"], middle=found["middle"], end=found["end"])


def _by_tag(table: dict[_Form, str], tag: str, otherwise: _Form) -> _Form:
    return _of_tag({tag: value for value, tags in table.items() for tag in tags.split()}, tag, otherwise)


def _of_tag(table: dict[str, _Form], tag: str, otherwise: _Form) -> _Form:
    parts = tag.split("-")
    for length in range(len(parts), 0, -1):
        if (key := "-".join(parts[:length])) in table:
            return table[key]
    return otherwise
