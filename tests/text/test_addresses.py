"""Only addresses that are what they seem become links: what a browser would make of each is asked of a browser's rules.

The rules are those of the URL Living Standard, 4.4 (basic URL parser): blanks and controls at both ends are cut off,
tabs and line ends anywhere are dropped, a backslash is a slash, letters of a scheme have no case. Written here once
more, from memory, as the reference.
"""

import html as entities
import re

import pytest
from hostile_payloads import PAYLOADS
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sitegen.problems import Problems
from sitegen.text.addresses import INTERNAL, address_fault, is_own_file
from sitegen.text.markdown import Body, ImageSlot, LinkSlot, parse_body

GOOD = {"http", "https", "mailto", *INTERNAL}
BAD = (
    "javascript",
    "data",
    "vbscript",
    "file",
    "blob",
    "about",
    "ftp",
    "ws",
    "view-source",
    "filesystem",
    "chrome",
    "intent",
    "tel",
    "sms",
    "jar",
)


def scheme_of(address: str) -> str:
    """The scheme that a browser reads; `//` where it goes to another host without one, empty for one of this site."""
    seen = re.sub("[\t\n\r]", "", address.strip("".join(map(chr, range(0x21)))))
    found = re.match(r"([A-Za-z][A-Za-z0-9+.\-]*):", seen)
    if found:
        return found[1].lower()
    return "//" if re.match(r"[/\\]{2}", seen) else ""


def links(text: str, html: bool = False) -> tuple[list[str], Problems, Body]:
    problems = Problems()
    body = parse_body(text, 1, "x.md", problems, html)
    return [piece.href for piece in body.html if isinstance(piece, LinkSlot)], problems, body


def mixed(word: str) -> st.SearchStrategy[str]:
    """A word in any case, with controls and blanks within, some letters as entities or escaped."""
    noise = st.sampled_from(
        [
            "",
            "",
            "",
            "\t",
            "\n",
            "\r",
            " ",
            "\x01",
            "\x00",
            "\u00ad",
            "\u200b",
            "&#9;",
            "&Tab;",
            "&NewLine;",
            "%09",
            "\\",
        ]
    )
    letter = [
        st.sampled_from([c, c.upper(), f"&#{ord(c)};", f"&#x{ord(c):x};", f"%{ord(c):02x}", f"\\{c}"]) for c in word
    ]
    return st.tuples(*(st.tuples(one, noise).map("".join) for one in letter)).map("".join)


COLON = st.sampled_from([":", "&colon;", "&#58;", "&#x3a;", "%3a", "\uff1a", ":\t", "\t:"])
REST = st.sampled_from(
    ["alert(1)", "//angriff.example/x", "text/html,x", "/x", "", "x@y.example", "%0aalert(1)", "//%0aalert(1)"]
)
START = st.sampled_from(
    [
        "",
        "",
        " ",
        "\x0b",
        "\x1f",
        "\u00a0",
        "\ufeff",
        "/",
        "//",
        "\\\\",
        "/\\",
        "\\/",
        "./",
        "?",
        "#",
        "x/",
        "https://",
        "&#x20;",
        "&#1;",
    ]
)
ADDRESS = st.one_of(
    st.tuples(START, st.sampled_from((*BAD, *sorted(GOOD))).flatmap(mixed), COLON, REST).map("".join),
    st.tuples(
        START,
        st.sampled_from(
            ["angriff.example", "xn--angrff-8va.example", "angr\u0456ff.example", "\u202eelpmaxe", "[::1]"]
        ),
        REST,
    ).map("".join),
    st.text(max_size=12),
)


@settings(max_examples=500, deadline=None)
@given(ADDRESS)
@example("java\tscript:alert(1)")
@example(" javascript:alert(1)")
@example("/\\angriff.example")
@example("\x01javascript:alert(1)")
def test_what_is_let_through_is_what_a_browser_reads(address: str) -> None:
    """An address without a fault has one of the known schemes, or none and leads nowhere else."""
    if address_fault(address) is None:
        assert scheme_of(address) in GOOD | {""}
        assert not re.search(r"[\x00-\x20\x7f\\]", address)


@settings(max_examples=300, deadline=None)
@given(
    ADDRESS,
    st.sampled_from(
        [
            "[a]({})",
            "[a](<{}>)",
            "<{}>",
            "[a]\n\n[a]: {}",
            "[a]\n\n[a]: <{}>",
            '<a href="{}">a</a>',
            "<a href='{}'>a</a>",
            "<a href={}>a</a>",
        ]
    ),
)
def test_no_link_leads_elsewhere_than_it_says(address: str, form: str) -> None:
    """Whatever way it is written in Markdown or HTML: each link that comes out has a known scheme, or a problem stands there."""
    for html in (False, True):
        found, _, body = links(form.replace("{}", address), html)
        assert all(scheme_of(href) in GOOD | {""} for href in found)
        assert not re.search("<a[ >]", "".join(piece for piece in body.html if isinstance(piece, str)))


@settings(max_examples=300, deadline=None)
@given(ADDRESS, st.sampled_from(["![a]({})", "![a](<{}>)", "![a]\n\n[a]: {}", '<img src="{}">']))
def test_no_picture_comes_from_elsewhere(address: str, form: str) -> None:
    """A picture is a file of the publication, or there is an error."""
    for html in (False, True):
        _, problems, body = links(form.replace("{}", address), html)
        for piece in body.html:
            if isinstance(piece, ImageSlot) and not problems.has_errors:
                assert (
                    is_own_file(piece.src) and scheme_of(piece.src) == "" and ".." not in re.split(r"[/\\]", piece.src)
                )


@pytest.mark.parametrize("scheme", BAD)
@pytest.mark.parametrize("form", ["{}:x", "{}:\n", "&#x{}", "\t{}:x", "{}&colon;x", "{}&#58;x", "{}:%20x"])
def test_other_schemes_are_refused(scheme: str, form: str) -> None:
    """Each scheme that runs, reads or opens something, in any case and disguise, is an error or no link."""
    for name in (scheme, scheme.upper(), scheme.title()):
        text = form.replace("{}", f"{ord(name[0]):x};{name[1:]}:x" if form.startswith("&#x") else name)
        for link in (f"[a]({text})", f"<{text}>", f"[a](<{text.strip()}>)"):
            found, problems, _ = links(link)
            assert not found or all(scheme_of(href) in {"", *GOOD} for href in found)
            assert problems.has_errors or not found or form in {"{}:\n"}
        assert address_fault(entities.unescape(text)) is not None


@pytest.mark.parametrize("address", PAYLOADS)
def test_no_attack_is_a_link(address: str) -> None:
    """The attacks of the list (OWASP, from memory), taken as addresses."""
    for form in ("[a]({})", "[a](<{}>)", '<a href="{}">a</a>'):
        for html in (False, True):
            assert all(scheme_of(href) in GOOD | {""} for href in links(form.replace("{}", address), html)[0])


@pytest.mark.parametrize(
    "address",
    [
        "https://a.example/?x=1&y=2#z",
        "HTTP://A.EXAMPLE",
        "mailto:x@a.example?subject=y",
        "review:tarn",
        "guide:care#wash",
        "../x/",
        "#part",
        "?q=1",
        "x/y.pdf",
        "/x/y.html",
        "./a:b",
        "https://b\u00fccher.example/\u00fc",
        "/de/",
        "https://[::1]/",
        "https://a.example/%5C%20",
    ],
)
def test_ordinary_addresses_stay(address: str) -> None:
    """Nothing that an author means is lost."""
    assert address_fault(address) is None
    found, problems, _ = links(f"[a]({address})")
    assert len(found) == 1 and not list(problems)


@pytest.mark.parametrize("address", ["x/y.html", "../reviews/tarn.HTM?q#z", "de.md"])
def test_a_page_is_named_by_its_id(address: str) -> None:
    """Where its file will stand depends on title and edition, so that the link would lead nowhere one day."""
    fault = address_fault(address)
    assert fault is not None and "review:" in fault[1]


def test_a_name_in_other_letters_is_shown_for_what_it_is() -> None:
    """A host in look-alike letters comes out in its ASCII form (RFC 3492), so that hovering over it shows the truth."""
    (found,) = links("[a](https://angr\u0456ff.example/)")[0]
    assert found.startswith("https://xn--") and found.isascii()
