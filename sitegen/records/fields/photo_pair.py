"""A pair of photos of one specimen, dry and after the spray, from which a wetted share can be read."""

from decimal import Decimal

from sitegen.datatypes import dataclass
from sitegen.place import Place
from sitegen.records.fields.fields import RecordOf, Ref, placed, written
from sitegen.records.fields.kinds import LINE, STAGE, Ident, Number
from sitegen.records.fields.stage import NEW, Stage
from sitegen.records.product import PhotoPath

_SHARE = Number(Decimal("0.01"), Decimal("0.99"))


@dataclass(frozen=True, slots=True, kw_only=True)
class HoopAt:
    """Where the hoop stands in the picture of the wet specimen, as shares of the picture's size."""

    x: Decimal = written(_SHARE, "its centre from the left, as a share of the width")
    y: Decimal = written(_SHARE, "its centre from the top, as a share of the height")
    radius: Decimal = written(_SHARE, "its inner radius, as a share of the shorter side")
    place: Place = placed()


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoPair:
    """Two photos in the same framing; what they give supports a grade and never replaces it."""

    product: Ref = written(Ident("a product"), "whose specimen it is")
    dry: Ref = written(PhotoPath(), "the picture before the spray")
    wet: Ref = written(PhotoPath(), "the picture after it, in the same framing")
    hoop: HoopAt = written(RecordOf(HoopAt, "the hoop"), "where the hoop stands in the wet picture")
    stage: Stage = written(STAGE, "the stage", default=NEW)
    specimen: str = written(LINE, "which specimen", default="")
    place: Place = placed()
