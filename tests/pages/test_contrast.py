"""Colours that can be read: against worked values of WCAG contrast that others have published."""

import pytest

from sitegen.pages.theme.contrast import contrast, is_hex_colour, readable

LIGHT, DARK = "#f8f6ef", "#171a1b"

# The first three stand in public test files of contrast checkers; all five follow from WCAG 2.2.
VECTORS = [
    ("#000000", "#ffffff", 21.0),
    ("#777777", "#ffffff", 4.478),
    ("#767676", "#ffffff", 4.542),
    ("#949494", "#ffffff", 3.03),
    ("#959595", "#ffffff", 2.995),
]


@pytest.mark.parametrize(("one", "other", "ratio"), VECTORS)
def test_contrast_of_wcag(one: str, other: str, ratio: float) -> None:
    """The contrast ratio is that of WCAG 2.2, whichever colour comes first."""
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)
    assert contrast(one, other) == contrast(other, one)


def test_no_rounding_up() -> None:
    """#777 on white is 4.478 to 1 and doesn't pass for 4.5 (WCAG 2.2, note to 1.4.3: no rounding)."""
    assert contrast("#777", "#fff") < 4.5
    assert readable("#777777", "#ffffff", wanted=4.5) == "#767676"


@pytest.mark.parametrize("paper", [LIGHT, DARK, "#ffffff", "#000000", "#777777"])
@pytest.mark.parametrize("colour", ["#7a2e1d", "#125e66", "#ffff00", "#000", "#fff", "#00f", "#808080", "#F0A"])
def test_always_readable(colour: str, paper: str) -> None:
    """Whatever the colour and the paper, what comes out has the contrast of WCAG 2.2, 1.4.3 (AA)."""
    wanted = 4.5 if paper == "#777777" else 5.0
    assert contrast(readable(colour, paper, wanted), paper) >= wanted


def test_a_readable_colour_is_left_alone() -> None:
    """A colour that can be read already stays as the publication gave it."""
    assert readable("#7a2e1d", LIGHT) == "#7a2e1d"


def test_the_hue_stays() -> None:
    """A lightened blue is still a blue: the order of its channels doesn't change."""
    made = readable("#102a60", DARK)
    red, green, blue = (int(made[i : i + 2], 16) for i in (1, 3, 5))
    assert red < green < blue


def test_no_more_than_needed() -> None:
    """The contrast is barely more than asked for: the colour stays as near to the wanted one as it can."""
    assert contrast(readable("#7a2e1d", DARK), DARK) < 5.0 * 1.03


def test_what_cannot_be_reached() -> None:
    """Even black and white have no contrast of 7 to middle grey: that is said, not tried for ever."""
    with pytest.raises(ValueError, match="no colour has a contrast of 7 to #777777"):
        readable("#125e66", "#777777", wanted=7)


@pytest.mark.parametrize("text", ["", "7a2e1d", "#7a2e1", "#7a2e1d00", "red", "#ggg", "#12345６", "#123;}"])
def test_no_colour(text: str) -> None:
    """Only # and three or six hexadecimal digits are a colour here."""
    assert not is_hex_colour(text)
