"""The pictures that pages show, in the sizes that they need, and what photo pairs give."""

from collections.abc import Callable
from pathlib import Path

from sitegen.disk.memory import Memory
from sitegen.pages.site import PictureFile, PictureSet, WettedShown
from sitegen.place import Place
from sitegen.problems import Problems
from sitegen.records.publication import Publication
from sitegen.records.references import used_photos

Progress = Callable[[str, int, int], None]
Files = dict[str, bytes]
PICTURE_WORKERS = 2  # threads: the image library works outside Python's lock


def make_pictures(
    folder: Path, publication: Publication, memory: Memory, problems: Problems, progress: Progress
) -> tuple[dict[str, PictureSet], Files]:
    """The photos that any page shows, in the sizes that pages need."""
    wanted = {ref.id: ref for ref in publication.pictures}
    if not wanted:
        return {}, {}
    from concurrent.futures import ThreadPoolExecutor  # two milliseconds to load

    from sitegen.disk.pictures import picture_files

    places: dict[str, Place] = {}
    sets: dict[str, PictureSet] = {}
    files: Files = {}
    with ThreadPoolExecutor(PICTURE_WORKERS) as workers:
        made = workers.map(lambda name: picture_files(folder, name, memory), wanted)
        for number, (name, result) in enumerate(zip(wanted, made, strict=True), 1):
            if isinstance(result, str):
                # Looked up now: the line may be another since the name was noted.
                places = places or {ref.id: ref.place for ref in used_photos(publication)}
                problems.error("picture", places[name], f"the picture '{name}' {result}")
            else:
                sizes = tuple(PictureFile(s.width, s.webp_path, s.jpeg_path) for s in result)
                sets[name] = PictureSet(result[-1].width, result[-1].height, sizes)
                files |= {s.webp_path: s.webp for s in result} | {s.jpeg_path: s.jpeg for s in result}
            progress("pictures", number, len(wanted))
    return sets, files


def make_wetted(
    folder: Path, publication: Publication, memory: Memory, problems: Problems
) -> tuple[dict[str, tuple[WettedShown, ...]], Files]:
    """What the photo pairs of every round give, with the overlay pictures."""
    pairs = [
        (id, number, pair)
        for id, round in publication.rounds.items()
        for number, pair in enumerate(round.photo_pairs, 1)
    ]
    if not pairs:
        return {}, {}
    from sitegen.disk.images import BadPicture
    from sitegen.disk.wetted_files import wetted_files

    shown: dict[str, tuple[WettedShown, ...]] = {}
    files: Files = {}
    for id, number, pair in pairs:
        try:
            found = wetted_files(folder, pair, memory)
        except (BadPicture, OSError) as fault:
            said = fault.strerror if isinstance(fault, OSError) and fault.strerror else str(fault)
            problems.error("picture", pair.place, f"a picture of this pair {said}")
            continue
        path = f"photos/wetted/{id}-{number}"
        one = WettedShown(
            pair,
            found.fault,
            found.share,
            found.low,
            found.high,
            found.width,
            found.height,
            f"{path}.webp",
            f"{path}.jpg",
        )
        shown[id] = (*shown.get(id, ()), one)
        files |= {} if found.fault else {one.webp: found.webp, one.jpeg: found.jpeg}
    return shown, files
