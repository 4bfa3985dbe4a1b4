"""The places for texts: one for each, in order, with room enough."""

import re

import pytest
from chart_samples import (
    NAMES,
    SAMPLES,
    SVG,
    drawn,
    shares_chart,
    stages_chart,
    values_chart,
    worded,
    wording,
)

from sitegen.figures.charts.chart_spec import ChartSpec
from sitegen.figures.charts.chart_text import Role, fitted, slots
from sitegen.figures.drawing.draw import Style, draw

# Widths in em of a wide sans-serif face, rounded up (common practice, no source): most faces are narrower.
WIDE, NARROW, USUAL = "MWmw@%±—", "iljtfrI.,:;'|()[]-! ", 0.57


def width(text: str, size: float) -> float:
    """A generous estimate of how wide a text is drawn."""
    return size * sum(0.86 if c in WIDE else 0.34 if c in NARROW else 0.68 if c.isupper() else USUAL for c in text)


def extent(x: float, anchor: str, direction: str, wide: float) -> tuple[float, float]:
    """Left and right end of a text by its anchor; in right-to-left text the start is the right end."""
    if anchor == "middle":
        return x - wide / 2, x + wide / 2
    return (x, x + wide) if (anchor == "start") == (direction == "ltr") else (x - wide, x)


@pytest.mark.parametrize("direction", ["ltr", "rtl"])
@pytest.mark.parametrize("spec", SAMPLES.values(), ids=SAMPLES)
def test_every_slot_has_one_place(spec: ChartSpec, direction: str) -> None:
    """The template has exactly the slots that are listed, each once (title and description included)."""
    template = draw(spec, Style(direction="rtl" if direction == "rtl" else "ltr"))
    found = sorted(int(number) for number in re.findall(r"@t(\d+)@", template))
    assert found == list(range(len(slots(spec))))


@pytest.mark.parametrize("direction", ["ltr", "rtl"])
@pytest.mark.parametrize("spec", SAMPLES.values(), ids=SAMPLES)
def test_no_text_leaves_the_picture(spec: ChartSpec, direction: str) -> None:
    """With names of 34 characters and German words every text stays inside the viewBox."""
    root = drawn(spec, direction)
    height = float((root.get("viewBox") or "").split()[3])
    for group in root.iter(SVG + "g"):
        for text in group.findall(SVG + "text"):
            size, x, y = (
                float(group.get("font-size") or 0),
                float(text.get("x") or 0),
                float(text.get("y") or 0),
            )
            left, right = extent(x, text.get("text-anchor", "start"), direction, width(text.text or "", size))
            assert 0 <= left <= right <= 400, text.text
            assert size * 0.8 <= y <= height - size * 0.25, text.text


@pytest.mark.parametrize("direction", ["ltr", "rtl"])
@pytest.mark.parametrize("spec", SAMPLES.values(), ids=SAMPLES)
def test_no_two_texts_stand_on_each_other(spec: ChartSpec, direction: str) -> None:
    """Texts on one line don't touch: name and value, tick and tick, number and name."""
    boxes = []
    for group in drawn(spec, direction).iter(SVG + "g"):
        for text in group.findall(SVG + "text"):
            size, x, y = (
                float(group.get("font-size") or 0),
                float(text.get("x") or 0),
                float(text.get("y") or 0),
            )
            ends = extent(x, text.get("text-anchor", "start"), direction, width(text.text or "", size))
            boxes.append((*ends, y - 0.72 * size, y, text.text))
    for index, (left, right, top, foot, words) in enumerate(boxes):
        for other_left, other_right, other_top, other_foot, other in boxes[index + 1 :]:
            apart = right <= other_left or other_right <= left or foot <= other_top or other_foot <= top
            assert apart, (words, other)


def test_slots_say_what_they_stand_for() -> None:
    """Places come in a fixed order of roles: head, ticks with decimals, each entrant with its value, key."""
    spec = values_chart(2)
    listed = slots(spec)
    roles = [slot.role for slot in listed]
    ticks = [slot for slot in listed if slot.role is Role.TICK]
    assert roles[:3] == [Role.TITLE, Role.DESCRIPTION, Role.X_TITLE]
    assert [tick.value for tick in ticks] == list(spec.x_axis.ticks) and {tick.decimals for tick in ticks} == {0}
    assert [slot.name for slot in listed if slot.role is Role.ENTRANT] == list(NAMES[:2])
    assert roles[3 + len(ticks) :] == [Role.ENTRANT, Role.VALUE] * 2 + [Role.KEY] * 4
    assert [slot.name for slot in listed[-4:]] == ["mean", "uncertainty", "reading", "reference"]


def test_stages_are_explained_by_their_own_names() -> None:
    """The key of a chart of stages lists the stages as given, then the specimens."""
    key = [slot for slot in slots(stages_chart(stages=2)) if slot.role in (Role.STAGE, Role.KEY)]
    assert [(slot.role, slot.name) for slot in key] == [
        (Role.STAGE, "new"),
        (Role.STAGE, "after 3 washes"),
        (Role.KEY, "specimen"),
    ]


def test_only_shares_with_room_have_a_number() -> None:
    """A number stands in each segment of at least 8.5 % of the bar and in no narrower one."""
    spec = shares_chart()
    wide = [share for row in spec.rows for share in row.shares if share >= 0.085]
    shown = [float(slot.value or 0) for slot in slots(spec) if slot.role is Role.SHARE]
    assert shown == pytest.approx([100 * share for share in wide])


def test_long_texts_are_shortened_and_short_ones_kept() -> None:
    """A name gives way to its value, with an ellipsis; what fits stays as it is."""
    spec = values_chart(2)
    texts = [wording(slot) for slot in slots(spec)]
    name = next(n for n, slot in enumerate(slots(spec)) if slot.role is Role.ENTRANT)
    texts[name] = "Bergwanderregenüberhose mit seitlichem Durchgriff und Gamaschenband"
    result = fitted(spec, tuple(texts))
    assert result[name].endswith("…") and len(result[name]) + len(result[name + 1]) <= 52
    assert result[:name] == tuple(texts[:name]) and result[name + 1 :] == tuple(texts[name + 1 :])
    assert fitted(spec, worded(spec)) == worded(spec)
    with pytest.raises(ValueError, match="places for texts"):
        fitted(spec, ("one",))


def test_wide_letters_take_two_columns() -> None:
    """East Asian wide letters (Unicode Standard Annex 11) count twice when room is measured."""
    spec = values_chart(1)
    texts = [wording(slot) for slot in slots(spec)]
    name = next(n for n, slot in enumerate(slots(spec)) if slot.role is Role.ENTRANT)
    texts[name] = "山" * 34
    assert len(fitted(spec, tuple(texts))[name]) <= 18
