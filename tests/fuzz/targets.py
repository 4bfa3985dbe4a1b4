"""What is fuzzed: one function for each reading of guest bytes, and the laws that every reading keeps.

A target reads bytes to the end and raises `Broken` where a law is broken; any other exception is a fault as well.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal
from functools import cache
from xml.parsers import expat

from sitegen import stock
from sitegen.editions.following.freshness import pairs
from sitegen.editions.following.parts import Part, parts_of_file
from sitegen.editions.following.placeholders import pieces
from sitegen.editions.typed.figure_reader import read_figures, stray_marks
from sitegen.editions.typed.notation import notation_of
from sitegen.editions.worksheets.apply import take_sheet
from sitegen.editions.worksheets.memory import Remembered
from sitegen.editions.worksheets.po import po_text, read_po
from sitegen.editions.worksheets.tmx import tmx_text
from sitegen.editions.worksheets.worksheet import ReturnedSheet, make_worksheet
from sitegen.editions.worksheets.xliff import NOT_XML, xliff_text
from sitegen.editions.worksheets.xliff_read import read_xliff
from sitegen.findings.rounds import find_round
from sitegen.place import Place
from sitegen.problems import Problems, render
from sitegen.records.fields.codes import resolve_codes, take_codes
from sitegen.records.fields.fields import FAILED, author_fields, take_record, take_values
from sitegen.records.fields.kinds import DAY, STAGE, parse_number
from sitegen.records.fields.units import UNITS, UnitMismatch, convert, known_unit
from sitegen.records.ledger import Ledger, check_sample
from sitegen.records.measured.protocol import Protocol, check_protocol
from sitegen.records.measured.readings import Reading, take_readings
from sitegen.records.measured.rig import Rig, take_runs
from sitegen.records.measured.round import Round, check_round
from sitegen.records.names.addresses import addresses_text, take_addresses
from sitegen.records.product import Product, check_product
from sitegen.records.settings import Settings, check_settings
from sitegen.records.stock_records import Stock, Term, read_stock
from sitegen.records.texts.first_published import check_first_published
from sitegen.records.texts.follows import take_follows
from sitegen.records.texts.short_form import take_short
from sitegen.records.texts.texts import ReviewFacts, ReviewHead, ShortFacts
from sitegen.text.addresses import address_fault, is_own_file
from sitegen.text.csv_rows import CsvTable, parse_csv
from sitegen.text.front_matter import FrontMatter, split_front_matter
from sitegen.text.markdown import parse_body
from sitegen.text.source import Source, decode
from sitegen.text.yaml_nodes import Listing, Node, Scalar, parse_yaml
from sitegen.text.yaml_nodes import Mapping as MappingNode
from tests.builders import MINIMAL, PUBLICATION, ROUND, SMALL
from tests.fuzz.laws import Target, need

LANGUAGES = ("de", "en", "fr", "it", "sv", "pl")
_CONTROLS = frozenset(map(chr, (*range(9), *range(11, 32), 0x7F, *range(0x80, 0xA0)))) | {"\u202e", "\u2028"}


def check_place(place: Place, lines: list[str], law: str) -> None:
    """A place can be pointed at: its line is in the file, its column on that line or just behind it."""
    need(1 <= place.line <= len(lines), f"{law} lies on a line of the file", place, len(lines))
    length = len(lines[place.line - 1])
    need(1 <= place.column <= length + 1, f"{law} lies within its line", place, length)
    need(place.width >= 1, f"{law} is as wide as something", place)


def check_told(problems: Problems, lines: list[str], file: str) -> None:
    """Every problem lies in its file, says something, and can be printed without steering a terminal."""
    for problem in problems:
        need(problem.place.file == file, "a problem lies in the file that is read", problem)
        check_place(problem.place, lines, f"the problem {problem.code}")
        need(len(problem.message.split()) >= 2, "a message is a sentence", problem)
        printed = render(problem, lines[problem.place.line - 1])
        need(not _CONTROLS & set(printed), "what is printed steers no terminal", problem, printed)


def lines_of(data: bytes) -> list[str]:
    """The lines of a file as an editor counts them, whatever its bytes."""
    text = data.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "replace")
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def of_text(name: str, read: Callable[[Source, Problems], object]) -> Callable[[bytes], Problems]:
    """A target that reads the text of a file."""

    def look(data: bytes) -> Problems:
        problems = Problems()
        text = decode(data, name, problems)
        if text is None:
            need(len(problems) == 1, "what is no text is told once")
            check_told(problems, lines_of(data), name)
        else:
            read(Source(name, text, "0" * 64), problems)
            check_told(problems, text.split("\n"), name)
        return problems

    return look


@cache
def content() -> Stock:
    """The stock content, read once."""
    return read_stock(stock.content_folder(), Problems())


@cache
def small_round() -> Round:
    """A round of the small publication with every stock protocol that needs no more than a name."""
    named = ", ".join(name for name in content().protocols if name != "run_time")
    text = ROUND.replace("protocols: [spray, mass,", f"protocols: [{named},")
    problems = Problems()
    node = parse_yaml(Source("round.yaml", text, ""), problems)
    taken = take_record(Round, node, problems, "a round", id="trousers") if node else None
    assert taken is not None and not problems.has_errors, list(problems)
    return taken


@cache
def small_products() -> Mapping[str, Product]:
    """The products of the small publication."""
    found = {}
    for id in ("tarn", "fenn"):
        node = parse_yaml(Source("p", SMALL[f"products/{id}.yaml"], ""), Problems())
        found[id] = take_record(Product, node, Problems(), "a product", id=id) if node else None
    return {id: product for id, product in found.items() if product is not None}


# YAML and records


def node_places(node: Node) -> Iterator[Place]:
    """Where each node of a tree was written."""
    waiting = [node]
    for _ in range(20_000):  # aliases can make a small file a large tree
        if not waiting:
            return
        here = waiting.pop()
        yield here.place
        if isinstance(here, Listing):
            waiting += here.items
        elif isinstance(here, MappingNode):
            waiting += [part for entry in here.entries for part in (entry.key, entry.value)]


def _yaml(source: Source, problems: Problems) -> None:
    node = parse_yaml(source, problems)
    need(node is not None or problems.has_errors, "a file that isn't read has an error")
    lines = source.text.split("\n")
    for place in node_places(node) if node is not None else ():
        check_place(place, lines, "a value")


def record(
    cls: type, what: str, check: Callable[..., object] = lambda *_: None, **given: object
) -> Callable[..., None]:
    """The reading of one kind of record."""

    def read(source: Source, problems: Problems) -> None:
        node = parse_yaml(source, problems)
        taken = take_record(cls, node, problems, what, **given) if node is not None else None
        need(taken is not None or problems.has_errors, "a record that isn't made has an error")
        if taken is not None:
            check(taken, node, problems)
            need(hash(taken.place) == hash(taken.place), "a place is a value")

    return read


def _check_ledger(ledger: Ledger, node: Node, problems: Problems) -> None:
    for sample in ledger.samples:
        check_sample(sample, problems)


def _addresses(source: Source, problems: Problems) -> None:
    node = parse_yaml(source, problems)
    if node is None:
        return
    taken = take_addresses(node, problems)
    again = Problems()
    written = parse_yaml(Source("addresses.yaml", addresses_text(taken), ""), again)
    need(written is not None and not again.has_errors, "what is written can be read")
    if written is not None and not problems.has_errors:
        back = {(e.kind, e.id, e.lang, e.path, e.former) for e in take_addresses(written, again).entries}
        need(
            back == {(e.kind, e.id, e.lang, e.path, e.former) for e in taken.entries}, "addresses survive being written"
        )


def _follows(source: Source, problems: Problems) -> None:
    node = parse_yaml(source, problems)
    if node is not None:
        take_follows(node, problems)


def _terms(source: Source, problems: Problems) -> None:
    node = parse_yaml(source, problems)
    for entry in node.entries if isinstance(node, MappingNode) else ():
        take_record(Term, entry.value, problems, "a term")


# Texts


def _front_matter(source: Source, problems: Problems) -> None:
    front = split_front_matter(source, problems)
    need(front is not None or problems.has_errors, "a text that isn't read has an error")
    if front is None:
        return
    lines = source.text.split("\n")
    need(source.text.endswith(front.body), "the body is the end of the file")
    need("\n".join(lines[front.body_line - 1 :]) == front.body, "the body begins on its line")
    for place in node_places(front.data):
        check_place(place, lines, "a value")


def _markdown(source: Source, problems: Problems) -> None:
    lines = source.text.split("\n")
    for html in (False, True):
        told = Problems()
        body = parse_body(source.text, 1, source.name, told, html)
        check_told(told, lines, source.name)
        for piece in body.html:
            if not isinstance(piece, str):
                check_place(piece.place, lines, "a slot")
        for thing in (*body.headings, *body.paragraphs):
            check_place(thing.place, lines, "a block")
        written = "".join(piece for piece in body.html if isinstance(piece, str)).lower()
        need("<script" not in written and "javascript:" not in written.replace("&", ""), "no script comes out")
        need("\ufdd0" not in written, "no mark of ours comes out")
        need(len({heading.id for heading in body.headings}) == len(body.headings), "anchors are unique")
        problems.extend(told)


_FACTS = tuple(key for cls in (ReviewFacts, ShortFacts) for key, _ in author_fields(cls))
_OF_REVIEW = tuple(key for key, _ in author_fields(ReviewFacts))


def _review(source: Source, problems: Problems) -> None:
    front = split_front_matter(source, problems)
    if front is None:
        return
    parse_body(front.body, front.body_line, source.name, problems)
    head = take_values(ReviewHead, front.data, problems, "a review", _FACTS)
    heads = [ReviewHead(**head, place=front.data.place)] if head else []
    if front.data.get("measured") is not None or front.data.get("sample") is not None:
        short = take_short("tarn", [front.data], list(heads), content().protocols, problems)
        if short is not None and not problems.has_errors:
            find_round(short.round, short.readings, content().protocols, {short.product.id: short.product})
    else:
        entries = tuple(e for e in front.data.entries if e.key.text in _OF_REVIEW)
        facts = take_values(ReviewFacts, MappingNode(entries, front.data.place), problems, "a review")
        if facts and facts.get("first_published") is not None:
            check_first_published(facts["first_published"], ("de", "en"), problems)
    _parts(front, source)


def _parts(front: FrontMatter, source: Source) -> tuple[Part, ...]:
    parts = parts_of_file(front, source.name)
    lines = source.text.split("\n")
    for part in parts:
        check_place(part.place, lines, "a part")
        need("".join(p.text for p in pieces(part.text)) == part.text, "the pieces of a text are the text")
    return parts


# Tables


def _table(source: Source, problems: Problems) -> CsvTable | None:
    table = parse_csv(source, problems)
    need(table is not None or problems.has_errors, "a table that isn't read has an error")
    if table is not None:
        need({len(row.cells) for row in table.rows} <= {len(table.header)}, "every row has the header's cells")
        lines = source.text.split("\n")
        for cell in (cell for row in table.rows for cell in row.cells):
            check_place(cell.place, lines, "a cell")
    return table


def _readings(source: Source, problems: Problems) -> tuple[Reading, ...]:
    """The table of a round; a first line `protocol NAME` says after which protocol the file is named."""
    named, rest = "", source
    if source.text.startswith("#"):
        line, _, text = source.text.partition("\n")
        named, rest = line[1:].strip(), Source(source.name, "\n" + text, "")
    table = parse_csv(rest, problems)
    if table is None:
        return ()
    codes = take_codes(table, Problems())
    table = resolve_codes(table, codes, problems)
    protocols = content().protocols
    taken = take_readings(table, small_round(), protocols, named if named in protocols else "", problems)
    lines = source.text.split("\n")
    for reading in taken:
        check_place(reading.place, lines, "a reading")
        need(reading.value is None or reading.value.is_finite(), "a reading is a number")
    return taken


def _findings(source: Source, problems: Problems) -> None:
    taken = _readings(source, problems)
    if len(taken) <= 60:
        find_round(small_round(), taken, content().protocols, small_products())


def _rig_log(source: Source, problems: Problems) -> None:
    table = parse_csv(source, problems)
    if table is not None:
        take_runs(table, _rig().all_checks(content().protocols), problems)


@cache
def _rig() -> Rig:
    node = parse_yaml(
        Source("rig.yaml", SMALL["rigs/scale/rig.yaml"].replace("[mass]", "[mass, spray, run_time]"), ""), Problems()
    )
    rig = take_record(Rig, node, Problems(), "a rig", id="scale") if node else None
    assert rig is not None
    return rig


def _codes(source: Source, problems: Problems) -> None:
    table = parse_csv(source, problems)
    if table is not None:
        take_codes(table, problems)


# Small values


def _values(source: Source, problems: Problems) -> None:
    """Each line as number, unit, day, stage and address; the whole as a paragraph in which figures are typed."""
    lines = source.text.split("\n")
    for number, line in enumerate(lines[:20], 1):
        scalar = Scalar(line, Place(source.name, number, 1, max(1, len(line))))
        _quantity(line)
        day = DAY.take(scalar, "date", problems)
        need(day is FAILED or isinstance(day, dt.date), "a day is a day")
        STAGE.take(scalar, "stage", problems)
        address_fault(line)
        need(not (is_own_file(line) and ".." in line.split("/")), "a picture lies in the publication", line)
    part = Part("text.1", source.text, Place(source.name, 1, 1))
    for language in LANGUAGES:
        figures = read_figures(part, notation_of(language))
        for figure in figures:
            check_place(figure.place, lines, "a figure")
            need(0 <= figure.start < figure.end <= len(source.text), "a figure stands in its text", figure)
            need(all(value.is_finite() for value in figure.values), "a figure is a number", figure)
        for place in stray_marks(part, figures):
            check_place(place, lines, "a mark")


def _quantity(line: str) -> None:
    written, _, unit = line.partition(" ")
    value, known = parse_number(written), known_unit(unit)
    need(value is None or isinstance(value, Decimal), "a number is a number")
    for to in UNITS if value is not None and known else ():
        try:
            need(convert(value, known, to).is_finite(), "a converted value is a number", value, known, to)
        except UnitMismatch:
            continue


# Worksheets


def _worksheet(read: Callable[[bytes, str, Problems], ReturnedSheet | None], name: str) -> Callable[[bytes], Problems]:
    def look(data: bytes) -> Problems:
        problems = Problems()
        sheet = read(data, name, problems)
        need(sheet is not None or problems.has_errors, "a worksheet that isn't read has an error")
        if sheet is not None:
            lead, own = _translated()
            taken = take_sheet(sheet, lead, own, None, problems)
            need(set(taken.new) <= {part.key for part in lead}, "only parts of the text are taken")
        check_told(
            problems, data.decode("utf-8", "replace").replace("\r\n", "\n").replace("\r", "\n").split("\n"), name
        )
        return problems

    return look


@cache
def _translated() -> tuple[tuple[Part, ...], tuple[Part, ...]]:
    def read(name: str) -> tuple[Part, ...]:
        front = split_front_matter(Source(name, SMALL[name], ""), Problems())
        assert front is not None
        return parts_of_file(front, name)

    return read("reviews/tarn/de.md"), read("reviews/tarn/en.md")


def _sheet_seed(write: Callable[..., str]) -> str:
    from sitegen.editions.worksheets.memory import Memory

    lead, own = _translated()
    assert list(pairs(lead, own, None))
    return write(
        make_worksheet(
            text="reviews/tarn", lead="de", lang="en", lead_file="reviews/tarn/de.md", file="reviews/tarn/en.md",
            lead_parts=lead, own_parts=own, follows=None, memory=Memory(()),
        )
    )  # fmt: skip


def _memory(source: Source, problems: Problems) -> None:
    """Whatever paragraphs say, the memory of them is well-formed XML that holds each."""
    texts = source.text.split("\n\n")[:20]
    remembered = [
        Remembered(text, "en", other, "reviews/x text.1") for text, other in zip(texts, texts[::-1], strict=True)
    ]
    found: list[str] = []
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.CharacterDataHandler = found.append
    parser.Parse(tmx_text(remembered, "de").encode(), True)
    whole = "".join(found)
    need(all(text in whole for text in texts if not NOT_XML.search(text)), "a remembered text is kept as it is")


def _columns(*rows: str) -> str:
    return "\n".join(rows) + "\n"


def _reading_seeds() -> Iterable[str]:
    for name in ("mass", "spray", "run_time"):
        yield f"# {name}\n{SMALL[f'rounds/trousers/{name}.csv']}"
    for name, protocol in content().protocols.items():
        value = {"ratio": "12.5", "ordinal": "4", "yes_no": "yes", "curve": "100"}.get(protocol.scale, "3")
        along = ",time" if protocol.along else ""
        at = ("", ",0", ",30", ",60") if protocol.along else ("", "", "", "")
        yield _columns(
            f"product,protocol,specimen,value,date,grader,note{along}",
            *(
                f"{p},{name},{s if not along else 1},{value},2026-08-11,ib,{at[s]}"
                for p in ("tarn", "fenn")
                for s in (1, 2, 3)
            ),
        )


@cache
def targets() -> dict[str, Target]:
    """All targets by name."""
    from tests.fuzz import guest_html  # these need what stands above
    from tests.fuzz.picture_bytes import LOOKS

    yaml_seeds = tuple(text for name, text in SMALL.items() if name.endswith(".yaml"))
    tables = tuple(text for name, text in SMALL.items() if name.endswith(".csv"))
    texts = (*(text for name, text in SMALL.items() if name.endswith(".md")), MINIMAL["reviews/tarn.md"])
    review = record
    care = frozenset(content().care)
    protocols = tuple(
        (stock.content_folder() / f"protocols/{name}.yaml").read_text("utf-8") for name in ("spray", "run_time")
    )
    return {
        "yaml": Target(of_text("x.yaml", _yaml), (*yaml_seeds, "&a [1, *a, {b: c}]\n", "- |\n  x\n- >-\n  y\n- 'z'\n")),
        "front_matter": Target(of_text("x.md", _front_matter), texts),
        "markdown": Target(of_text("x.md", _markdown), (*texts, _MARKDOWN)),
        "csv": Target(of_text("x.csv", lambda s, p: _table(s, p)), (*tables, 'sep=;\n"a";b\n"x\ny";1.234,5\n')),
        "readings": Target(of_text("x.csv", _readings), tuple(_reading_seeds())),
        "findings": Target(of_text("x.csv", _findings), tuple(_reading_seeds())),
        "codes": Target(of_text("key.csv", _codes), ("code,product,specimen,seed\nK7,tarn,1,9\nM2,fenn,2,\n",)),
        "rig_log": Target(of_text("log.csv", _rig_log), (SMALL["rigs/scale/log.csv"],)),
        "settings": Target(of_text("x.yaml", record(Settings, "the publication", check_settings)), (PUBLICATION, MINIMAL["publication.yaml"])),
        "product": Target(of_text("x.yaml", record(Product, "a product", lambda r, n, p: check_product(r, care, p), id="tarn")), (SMALL["products/tarn.yaml"],)),
        "round": Target(of_text("x.yaml", record(Round, "a round", check_round, id="trousers")), (ROUND,)),
        "ledger": Target(of_text("x.yaml", review(Ledger, "the ledger", _check_ledger)), (SMALL["ledger.yaml"],)),
        "rig": Target(of_text("x.yaml", record(Rig, "a rig", id="scale")), (SMALL["rigs/scale/rig.yaml"],)),
        "protocol": Target(of_text("x.yaml", record(Protocol, "a protocol", lambda r, n, p: check_protocol(r, p), id="spray", stock=False)), protocols),
        "review": Target(of_text("x.md", _review), texts),
        "terms": Target(of_text("x.yaml", _terms), ("wet_out: {term: {de: Durchnässen, en: wetting out}, means: {en: x}, also: {de: [a, b]}}\n",)),
        "addresses": Target(of_text("addresses.yaml", _addresses), ("review:\n  tarn:\n    de: de/reviews/tarn.html\n    former:\n      - de/reviews/old.html\n",)),
        "follows": Target(of_text("x.follows.yaml", _follows), ("lead: de\nfiles: x\nparts:\n  title: 0123456789ab 0123456789ab Tarn\n",)),
        "values": Target(of_text("x.txt", _values), ("412.0 g\n-5 °F\n2026-08-11\nafter 3 washes\nhttps://a.example/\n", _FIGURES)),
        "po": Target(_worksheet(read_po, "x.po"), (_sheet_seed(po_text),)),
        "xliff": Target(_worksheet(read_xliff, "x.xlf"), (_sheet_seed(xliff_text),)),
        "tmx": Target(of_text("x.md", _memory), ("Sie wiegt {mass}.\n\n[a](review:tarn) `x` <b>\n\n&amp; ![p](photos/x.jpg \"t\")\n",)),
        "html": Target(guest_html.look, guest_html.seeds()),
        **{name: Target(look, seeds()) for name, (look, seeds) in LOOKS.items()},
    }  # fmt: skip


_MARKDOWN = """\
## A {mass of tarn}

> - 1. *a* **b** `c` [d](review:tarn "e {mass}") ![f](photos/x.jpg)

| a | b |
|:--|--:|
| 1 | \\{ |

[x]: https://a.example/
```
code
```
<kbd>k</kbd> <script>x</script> 412 g{meant}
"""
_FIGURES = "Sie wiegt 412,5 g, am 3. Oktober 2026 3 h 20 min lang, ½ l, 1 234,5 m, 5–7 °C, 3 ± 0,2 mm, Note 4 und 12 €{meant}.\n"

# ruff: noqa: E501 - tables of inputs read best with one a line
