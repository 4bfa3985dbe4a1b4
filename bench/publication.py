"""Makes a publication of any size in the product's own format, the same for the same numbers.

A review comes with about 60 lines of data, 40 readings in three protocols (so three charts), 24 rows in its
spec table and 900 words in each language; eight reviews share a round. Photos are drawn if wanted, each another one.
All names are invented.

python -m bench.publication FOLDER --reviews N --photos N writes one to look at.
"""

import argparse
import random
from collections.abc import Iterator
from pathlib import Path

LANGUAGES = ("en", "de", "nl", "fr")
MAKERS = "Ollerbeck Trinnwald Susskop Haverlund Mirrel Quastrup Ennersby Luvkamp Dorrig Pellwerk".split()
MODELS = "Tarnik Visgel Osporn Lenvar Kadrun Fiskel Brommel Wendra Hulmar Zirpel Eskin Jolvar".split()
WORDS = {
    "en": "the a with of and in wet dry cold wind night seam pole cord door porch inner outer weighed carried lasted held "
    "leaked dried after before during without under over slowly quickly twice often never buckle strap hem stitch mesh "
    "floor ridge valley morning frost rain sleet minute sample second first better worse lighter heavier quieter".split(),
    "de": "der die das mit von und im nasser trockene kalte Wind Nacht Naht Stange Leine Eingang gewogen getragen gehalten "
    "undicht getrocknet nach vor während ohne unter über langsam schnell zweimal oft niemals Schnalle Gurt Saum Stich Netz "
    "Boden Grat Tal Morgen Frost Regen Graupel Minute Muster besser schlechter leichter schwerer leiser".split(),
    "nl": "de het een met van en in natte droge koude wind nacht naad stok koord deur gewogen gedragen gehouden lek gedroogd "
    "na voor tijdens zonder onder over langzaam snel tweemaal vaak nooit gesp riem zoom steek gaas vloer graat dal ochtend "
    "vorst regen hagel minuut monster tweede eerste beter slechter lichter zwaarder stiller".split(),
    "fr": "le la un avec de et dans mouillé sec froid vent nuit couture arceau corde porte pesé porté tenu percé séché après "
    "avant pendant sans sous sur lentement vite deux souvent jamais boucle sangle ourlet point filet sol crête vallée matin "
    "gel pluie grésil minute échantillon second premier meilleur pire léger lourd calme".split(),
}
ROUND = 8
LEDGER = 5_000  # samples of one file
DETAILS = 20  # with maker, kind, version and price: 24 rows
PHOTO = (4032, 3024)  # width and height
TIMES = (0, 1, 5, 15, 30, 60, 90, 120, 150, 180)


def write_publication(folder: Path, reviews: int, languages: int = 2, seed: int = 1, photos: int = 0) -> None:
    """A publication of so many reviews with so many photos each in `folder`, which must not exist or be empty."""
    for name, text in files(reviews, LANGUAGES[:languages], seed, photos):
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    for number in range(reviews):
        for photo in range(photos):
            _draw(folder / photo_name(number, photo), _rng(seed, "photo", number, photo))


def photo_name(number: int, photo: int) -> str:
    """Where a photo of a review lies."""
    return f"photos/{ident(number)}-{photo}.jpg"


def _draw(path: Path, rng: random.Random) -> None:
    """A JPEG as from a camera of 12 megapixels: soft shapes, and grain, which is what makes it large."""
    from PIL import Image, ImageDraw

    small = (PHOTO[0] // 8, PHOTO[1] // 8)
    picture = Image.new("RGB", small, tuple(rng.choices(range(60, 200), k=3)))
    pen = ImageDraw.Draw(picture)
    for _ in range(40):
        x, y, size = rng.randrange(small[0]), rng.randrange(small[1]), rng.randrange(10, 160)
        pen.ellipse((x - size, y - size, x + size, y + size // 2), fill=tuple(rng.choices(range(256), k=3)))
    grain = Image.frombytes("L", small, rng.randbytes(small[0] * small[1])).convert("RGB")
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.blend(picture, grain, 0.15).resize(PHOTO, Image.Resampling.BICUBIC).save(path, "JPEG", quality=90)


def files(reviews: int, tags: tuple[str, ...], seed: int, photos: int = 0) -> Iterator[tuple[str, str]]:
    """Name and text of every file but the photos."""
    yield "publication.yaml", _settings(tags)
    for tag in tags:
        rng = _rng(seed, "about", tag)
        head = f"---\ntitle: {_words(rng, tag, 3)}\nsummary: {_words(rng, tag, 12)}.\n---\n"
        yield f"about/{tag}.md", f"{head}{_paragraph(_rng(seed, 'about'), rng, tag, 4)}\n"
    samples = []
    for start in range(0, reviews, ROUND):
        members = range(start, min(start + ROUND, reviews))
        yield from _round(start // ROUND, members, tags, seed)
        for number in members:
            yield f"products/{ident(number)}.yaml", _product(number, tags, seed)
            samples.append(_sample(number, seed))
            for tag in tags:
                yield f"reviews/{ident(number)}/{tag}.md", review_text(number, tag, tag == tags[0], seed, photos)
    for start in range(0, len(samples), LEDGER):
        name = f"ledger/{start // LEDGER:03}.yaml" if len(samples) > LEDGER else "ledger.yaml"
        yield name, "samples:\n" + "".join(samples[start : start + LEDGER])


def ident(number: int) -> str:
    """The id of a product and of its review."""
    return f"{MODELS[number % len(MODELS)].lower()}-{number:05}"


def _rng(seed: int, *what: object) -> random.Random:
    return random.Random(" ".join(map(str, (seed, *what))))


def _words(rng: random.Random, tag: str, count: int) -> str:
    return " ".join(rng.choices(WORDS[tag], k=count)).capitalize()


def _said(rng: random.Random, tags: tuple[str, ...], count: int, end: str = "") -> str:
    return "{" + ", ".join(f'{tag}: "{_words(rng, tag, count)}{end}"' for tag in tags) + "}"


def _settings(tags: tuple[str, ...]) -> str:
    names = ", ".join(f"{tag}: Ollerbeck Bench" for tag in tags)
    return (
        f"name: {{{names}}}\nlead: {tags[0]}\neditions: [{', '.join(tags[1:])}]\naddress: https://bench.example/\n"
        "author: Ina Ollerbeck\ncontact: post@bench.example\npolicies: {paid: no, affiliate: no, advertising: no}\n"
    )


def _product(number: int, tags: tuple[str, ...], seed: int) -> str:
    rng = _rng(seed, "product", number)
    lines = [
        f"name: {MODELS[number % len(MODELS)]} {number}", f"maker: {MAKERS[number % len(MAKERS)]}", f"kind: {_said(rng, tags, 2)}",
        "versions:", '  - id: "2026"', "    since: 2026-02", "    care: [wash.30.mild, bleach.no, dry.line, iron.low, prof.dryclean.no, nosoftener]",
        "    care_edition: ISO 3758:2012", f"    price: {{amount: {rng.randint(40, 400)}.90, currency: EUR, date: 2026-09-01}}",
        "    claims:",
        f"      - {{protocol: mass, value: {rng.randint(280, 420)} g, tolerance: 3 %, bound: about, date: 2026-09-01,",
        f"         source: {_said(rng, tags, 3)}}}",
        "    details:",
        *(f"      - {{name: {_said(rng, tags, 2)}, value: {_said(rng, tags, 3)}}}" for _ in range(DETAILS)),
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _sample(number: int, seed: int) -> str:
    rng = _rng(seed, "sample", number)
    return (
        f'  - id: T{number:05}\n    product: {ident(number)}\n    version: "2026"\n    obtained: loaned\n    from: {rng.choice(MAKERS)}\n'
        "    role: maker\n    selected_by: supplier\n    received: 2026-08-03\n    returned: 2026-10-20\n    shipping: us\n"
        "    benefit: none\n    preview: none\n    size: M\n"
    )


def _round(index: int, members: range, tags: tuple[str, ...], seed: int) -> Iterator[tuple[str, str]]:
    rng = _rng(seed, "round", index)
    folder = f"rounds/round-{index:05}"
    yield f"{folder}/round.yaml", "\n".join([
        f"title: {_said(rng, tags, 4, f' {index}')}", f"summary: {_said(rng, tags, 14)}", f"kind: {_said(rng, tags, 1)}",
        "from: 2026-08-10", "to: 2026-10-02",
        f"place: {_said(rng, tags, 2)}", f"conditions: {_said(rng, tags, 10)}", f"entrants: [{', '.join(ident(n) for n in members)}]",
        "stages: [new, after 3 washes, after 6 washes]", "protocols: [mass, spray, run_time]",
        "instruments: {mass: {resolution: 0.5 g, calibration: 0.3 g}}",
        "anchors: {mass: {worth_0: 600 g, worth_100: 250 g}, spray: {worth_0: 1, worth_100: 5}}",
        f"uses: [{{id: wet_commute, name: {_said(rng, tags, 2)}, weights: {{spray after 3 washes: 4, spray: 2, mass: 1}}}}]",
        f"limits: [{_said(rng, tags, 12)}]", "",
    ])  # fmt: skip
    mass, spray, run = (
        ["product,specimen,value,unit,date"],
        ["product,stage,specimen,value,date,grader"],
        ["product,specimen,time,value,unit,date"],
    )
    for number in members:
        one = _rng(seed, "readings", number)
        typical, bright = one.uniform(270, 430), one.uniform(150, 420)
        mass += [f"{ident(number)},{n},{round(2 * one.gauss(typical, 1.2)) / 2:.1f},g,2026-08-10" for n in range(1, 9)]
        for stage, grades in (("new", (4, 5)), ("after 3 washes", (2, 4)), ("after 6 washes", (1, 3))):
            spray += [f"{ident(number)},{stage},{n},{one.randint(*grades)},2026-08-1{n},io" for n in range(1, 5)]
        for specimen in (1, 2):
            fade = one.uniform(30, 90)
            run += [f"{ident(number)},{specimen},{t},{bright * 0.5 ** (t / fade):.1f},lm,2026-08-20" for t in TIMES]
    for name, lines in (("mass", mass), ("spray", spray), ("run_time", run)):
        yield f"{folder}/{name}.csv", "\n".join(lines) + "\n"


def review_text(number: int, tag: str, is_lead: bool, seed: int, photos: int = 0) -> str:
    """A review in one language: front matter and about 900 words."""
    rng = _rng(seed, "review", number, tag)
    facts = [f"product: {ident(number)}", f"round: round-{number // ROUND:05}"] if is_lead else []
    day = f"{2017 + number % 10}-{number % 12 + 1:02}-{number % 28 + 1:02}"
    head = [
        f'title: "{_words(rng, tag, 6)}"', f'summary: "{_words(rng, tag, 20)}."', *facts, f"date: {day}",
        f'good: ["{_words(rng, tag, 9)}.", "{_words(rng, tag, 9)}."]', f'less_good: ["{_words(rng, tag, 9)}."]', f'suits: "{_words(rng, tag, 16)}."',
    ]  # fmt: skip
    if photos:
        said = _rng(seed, "photos", number, tag)
        head += [
            "photos:",
            *(f'  - {{file: {photo_name(number, n)}, alt: "{_words(said, tag, 6)}"}}' for n in range(photos)),
        ]
    return "\n".join(["---", *head, "---", *_body(_rng(seed, "form", number), rng, tag), ""])


def _body(form: random.Random, rng: random.Random, tag: str) -> Iterator[str]:
    """`form` is the same in all languages, as a translation has the paragraphs, links and figures of its lead; `rng` gives the words."""
    yield _paragraph(form, rng, tag, 4)
    yield "\nIt weighs {mass}; after washing, {spray after 3 washes}.\n"
    for section in range(6):
        yield f"## {_words(rng, tag, 5)}\n\n{_paragraph(form, rng, tag, 5)}\n\n{_paragraph(form, rng, tag, 3)}\n"
        if section == 1:
            yield "\n".join(f"- {_sentence(form, rng, tag)}" for _ in range(5)) + "\n"
        if section == 2:
            rows = [
                f"| {rng.choice(WORDS[tag])} | {form.uniform(1, 99):.1f} | {rng.choice(WORDS[tag])} |" for _ in range(5)
            ]
            yield "\n".join([f"| {' | '.join(rng.choices(WORDS[tag], k=3))} |", "|:--|--:|:--|", *rows]) + "\n"
        if section == 3:
            yield f"> {_paragraph(form, rng, tag, 2)}\n"
        if section == 4:
            yield (
                f"### {_words(rng, tag, 4)}\n\n"
                + "\n".join(f"{n}. {_sentence(form, rng, tag)}" for n in range(1, 5))
                + "\n"
            )


def _paragraph(form: random.Random, rng: random.Random, tag: str, sentences: int) -> str:
    return " ".join(_sentence(form, rng, tag) for _ in range(sentences))


def _sentence(form: random.Random, rng: random.Random, tag: str) -> str:
    words = rng.choices(WORDS[tag], k=form.randint(8, 19))
    at, kind, method = form.randrange(len(words)), form.random(), form.choice(("mass", "spray", "run_time"))
    if kind < 0.12:
        words[at] = f"**{words[at]}**"
    elif kind < 0.24:
        words[at] = f"*{words[at]}*"
    elif kind < 0.32:
        words[at] = f"[{words[at]}](method:{method})"
    elif kind < 0.36:
        words[at] = f"`{words[at]}`"
    text = " ".join(words) + form.choice("....!?")
    return text[:1].upper() + text[1:]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m bench.publication", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--reviews", type=int, default=44, metavar="N")
    parser.add_argument("--languages", type=int, default=2, choices=range(1, len(LANGUAGES) + 1))
    parser.add_argument("--photos", type=int, default=0, metavar="N", help="so many for each review")
    parser.add_argument("--seed", type=int, default=1, metavar="N")
    asked = parser.parse_args()
    write_publication(asked.folder, asked.reviews, asked.languages, asked.seed, asked.photos)


if __name__ == "__main__":
    main()
