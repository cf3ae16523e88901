"""Text is folded to its place without losing a word, and lengths are written as SVG reads them."""

import pytest

from agency.charts.pen import folded, px, text_width


@pytest.mark.parametrize("room", [60, 75, 90, 140, 1000])
def test_folded_lines_fit_and_keep_every_word(room):
    text = "not determined by these readings"
    lines = folded(text, room, size=12)
    assert all(text_width(line, size=12) <= room for line in lines)
    joined = " ".join(lines)
    for cut in [line for line in lines if line.endswith("-")]:
        joined = joined.replace(f"{cut} ", cut.removesuffix("-"))
    assert joined == text


def test_lines_are_filled_evenly():
    """Unevenly it would be "2,540 cfm at 50" over a lone "Pa"."""
    assert folded("2,540 cfm at 50 Pa", 110, size=12) == ["2,540 cfm", "at 50 Pa"]


def test_text_that_fits_stays_in_one_line():
    assert folded("292 cfm at 50 Pa", 400, size=12) == ["292 cfm at 50 Pa"]


def test_bold_and_broad_letters_take_more_room():
    assert text_width("mmm", size=12) > text_width("nnn", size=12) > text_width("iii", size=12)
    assert text_width("nnn", size=12, weight=700) > text_width("nnn", size=12)


def test_lengths_have_one_decimal_and_no_negative_zero():
    assert [px(12.0), px(12.34), px(-0.01), px(100)] == ["12", "12.3", "0", "100"]
