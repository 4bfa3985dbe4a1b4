"""The photos that pages show, in the sizes that they need, and what photo pairs give. One photo is in memory at a time."""

import json
from typing import NamedTuple

from sitegen.disk.images import BadPicture
from sitegen.disk.pictures import measured_picture, picture_paths, sized_picture
from sitegen.disk.wetted_files import wetted_files
from sitegen.pages.site import PictureFile, PictureSet, WettedShown
from sitegen.pipeline.checks import shown_pictures
from sitegen.pipeline.demand import derived, derived_bytes, node, report, session, unstored_bytes
from sitegen.pipeline.inputs import FILE, SourcesChanged
from sitegen.pipeline.reading import context, has_file
from sitegen.pipeline.views import Lookup, shown
from sitegen.problems import Problems
from sitegen.records.fields.fields import Ref
from sitegen.records.fields.photo_pair import PhotoPair

WEBP, JPEG = "webp", "jpeg"


class Measured(NamedTuple):
    """Width and height of every size of a picture, smallest first; or why it can't be used, to follow "the picture …"."""

    sizes: tuple[tuple[int, int], ...] = ()
    fault: str = ""


@derived
def measures_of_picture(name: str) -> Measured:
    """What pages have to know of a picture: all of it is unpacked, so that every fault is found, but nothing encoded."""
    session().note(node(FILE, name))
    try:
        return Measured(measured_picture(context().folder, name))
    except BadPicture as bad:
        return Measured(fault=str(bad))
    except OSError as fault:
        return Measured(fault=f"can't be read: {fault.strerror}")


@derived
def picture(name: str) -> PictureSet | None:
    """A picture's sizes with their paths; None where it can't be used, for which `fault_of_picture` has the reason."""
    sizes = measures_of_picture(name).sizes
    if not sizes:
        return None
    paths = [(width, *picture_paths(name, width)) for width, _ in sizes]
    return PictureSet(*sizes[-1], tuple(PictureFile(*one) for one in paths))


@derived
def fault_of_picture(name: str) -> str:
    """Why a picture can't be used, to follow "the picture …"; empty where it can."""
    return measures_of_picture(name).fault


@derived_bytes
def sizes_of_picture(name: str) -> bytes:
    """A line of JSON with the lengths of every size in both formats, smallest first, then their bytes, WebP before JPEG.

    For a picture without faults. Raises SourcesChanged where it has one all the same.
    """
    session().note(node(FILE, name))
    try:
        sizes = sized_picture(context().folder, name)
    except (BadPicture, OSError):
        raise SourcesChanged(name) from None
    table = [[len(s.webp), len(s.jpeg)] for s in sizes]
    return json.dumps(table).encode() + b"\n" + b"".join(s.webp + s.jpeg for s in sizes)


@unstored_bytes
def picture_file(name: str, number: str, form: str) -> bytes:
    """One size of a picture in one format; sizes are numbered from the smallest."""
    head, _, rest = sizes_of_picture(name).partition(b"\n")
    sizes = json.loads(head)
    start = sum(webp + jpeg for webp, jpeg in sizes[: int(number)])
    webp, jpeg = sizes[int(number)]
    return rest[start : start + webp] if form == WEBP else rest[start + webp : start + webp + jpeg]


@derived
def checked_pictures() -> tuple[str, ...]:
    """The pictures that pages show; those that can't be used are reported."""
    problems = Problems()
    named: dict[str, Ref] = {}
    for ref in shown_pictures():
        named.setdefault(ref.id, ref)
    for name, ref in named.items():
        fault = fault_of_picture(name) if has_file(name) else ""
        if fault:
            problems.error("picture", ref.place, f"the picture '{name}' {fault}")
    report(problems)
    return tuple(name for name in named if has_file(name) and not fault_of_picture(name))


def pictures() -> Lookup[str, PictureSet]:
    """Every picture that pages show."""
    return Lookup(checked_pictures, picture)


def _pair(round: str, number: str) -> PhotoPair:
    return shown().rounds[round].photo_pairs[int(number) - 1]


@derived_bytes
def found_in_pair(round: str, number: str) -> bytes:
    """What a photo pair gives: a line of JSON, then the overlay's bytes, WebP before JPEG."""
    pair = _pair(round, number)
    for ref in (pair.dry, pair.wet):
        session().note(node(FILE, ref.id))
    try:
        found = wetted_files(context().folder, pair)
    except (BadPicture, OSError) as fault:
        return json.dumps({"bad": str(fault)}).encode() + b"\n"
    head = {
        "shown": [found.fault, found.share, found.low, found.high, found.width, found.height],
        "webp": len(found.webp),
    }
    return json.dumps(head).encode() + b"\n" + found.webp + found.jpeg


@derived
def pairs_of_round(round: str) -> tuple[WettedShown, ...]:
    """What the photo pairs of a round give; those of which a picture can't be used are reported."""
    problems, shown_pairs = Problems(), []
    for number, pair in enumerate(shown().rounds[round].photo_pairs, 1):
        head = json.loads(found_in_pair(round, str(number)).partition(b"\n")[0])
        if "bad" in head:
            problems.error("picture", pair.place, f"a picture of this pair {head['bad']}")
        else:
            path = f"photos/wetted/{round}-{number}"
            fault, share, low, high, width, height = head["shown"]
            files = f"{path}.webp", f"{path}.jpg"
            shown_pairs.append(WettedShown(pair, fault, share, low, high, width, height, *files))
    report(problems)
    return tuple(shown_pairs)


@derived
def rounds_with_pairs() -> dict[str, None]:
    """The rounds that have photo pairs."""
    return {id: None for id in shown().shown_rounds if shown().rounds[id].photo_pairs}


def wetted() -> Lookup[str, tuple[WettedShown, ...]]:
    """What the photo pairs of each round give."""
    return Lookup(rounds_with_pairs, pairs_of_round)


@unstored_bytes
def overlay_file(round: str, number: str, form: str) -> bytes:
    """The overlay of a pair in one format."""
    head, _, rest = found_in_pair(round, number).partition(b"\n")
    webp = json.loads(head)["webp"]
    return rest[:webp] if form == WEBP else rest[webp:]
