"""Bill files in CSV: read for certain, or refused by row with what to do."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.estimates import bill_files
from agency.estimates.bill_files import (
    BillFileError,
    DateOrder,
    Ending,
    Layout,
    read_bill_csv,
)

LAYOUT = Layout(
    start="From",
    end="To",
    energy="kWh used",
    estimated="Reading",
    joules_per_unit=3.6e6,
    ending=Ending.READING_DAY,
)
HEADINGS = "From,To,kWh used,Reading"


def csv_of(*rows, headings=HEADINGS):
    return "\r\n".join([headings, *rows]).encode()


def read(*rows, layout=LAYOUT, headings=HEADINGS):
    return read_bill_csv(csv_of(*rows, headings=headings), layout)


def test_bills_are_read_with_units_and_places():
    """By hand: 100 kWh are 360 MJ."""
    first, second = read("2025-01-02,2025-02-01,100,A", "2025-02-01,2025-03-03,0.5,E")
    assert (first.start, first.end) == (date(2025, 1, 2), date(2025, 2, 1))
    assert first.energy == pytest.approx(3.6e8)
    assert (first.estimated, second.estimated) == (False, True)
    assert second.energy == pytest.approx(1.8e6)
    assert (first.place, second.place) == ("row 2", "row 3")


def test_headings_may_differ_in_case_spaces_and_order_and_the_file_may_have_a_mark():
    content = b"\xef\xbb\xbf" + csv_of(
        "7,2025-02-01,x,2025-01-02,act", headings=" KWH USED ,to,Cost, from ,READING"
    )
    (bill,) = read_bill_csv(content, LAYOUT)
    assert bill.start == date(2025, 1, 2)
    assert bill.energy == pytest.approx(7 * 3.6e6)


def test_blank_lines_are_passed_over_and_rows_keep_their_number():
    assert read("", "2025-01-02,2025-02-01,1,A", ",,,")[0].place == "row 3"


def test_a_file_that_says_nothing_of_readings_has_none_estimated():
    layout = replace(LAYOUT, estimated=None)
    assert not read("2025-01-02,2025-02-01,1", layout=layout, headings="From,To,kWh used")[
        0
    ].estimated


def test_a_last_day_is_counted_and_a_reading_day_is_not():
    """By hand: January billed to its 31st ends where February starts."""
    layout = replace(LAYOUT, ending=Ending.LAST_DAY)
    january = read("2025-01-01,2025-01-31,1,A", layout=layout)[0]
    assert january.end == date(2025, 2, 1)
    one_day = read("2025-01-05,2025-01-05,1,A", layout=layout)[0]
    assert (one_day.end - one_day.start).days == 1


def test_a_date_that_can_be_read_two_ways_is_refused():
    with pytest.raises(BillFileError, match=r'Row 2, From is "03/04/2025", which can be read'):
        read("03/04/2025,05/06/2025,1,A")


@pytest.mark.parametrize(
    ("order", "start"),
    [(DateOrder.MONTH_FIRST, date(2025, 3, 4)), (DateOrder.DAY_FIRST, date(2025, 4, 3))],
)
def test_a_stated_order_settles_it(order, start):
    assert read("03/04/2025,05/06/2025,1,A", layout=replace(LAYOUT, order=order))[0].start == start


def test_another_date_of_the_file_settles_it():
    found = read("03/04/2025,04/03/2025,1,A", "04/03/2025,05/31/2025,1,A")
    assert found[0].start == date(2025, 3, 4)
    found = read("03/04/2025,04/05/2025,1,A", "04/05/2025,31/05/2025,1,A")
    assert found[0].start == date(2025, 4, 3)


def test_dates_with_both_orders_in_one_file_are_refused():
    with pytest.raises(BillFileError, match="1/31/2025 has the month first and 28/2/2025 the day"):
        read("1/31/2025,28/2/2025,1,A")


@given(st.dates(date(1990, 1, 1), date(2060, 1, 1)), st.integers(1, 90))
def test_iso_and_stated_slash_dates_say_the_same(start, days):
    end = date.fromordinal(start.toordinal() + days)
    iso = read(f"{start.isoformat()},{end.isoformat()},1,A")
    us = f"{start.month}/{start.day}/{start.year},{end.month}/{end.day}/{end.year},1,A"
    slash = read(us, layout=replace(LAYOUT, order=DateOrder.MONTH_FIRST))
    assert iso == slash
    assert (iso[0].start, iso[0].end) == (start, end)


@pytest.mark.parametrize(
    "text", ["1/2/25", "2025-13-01", "31.1.2025", "", "2025-02-30", "9999-12-31", "Jan 3"]
)
def test_what_is_no_date_is_refused_by_row_and_column(text):
    with pytest.raises(BillFileError, match=r"Row 2, To is"):
        read(f"2025-01-02,{text},1,A")


@pytest.mark.parametrize("text", ['"12,5"', '"1,234"', '"1,234.5"'])
def test_a_comma_in_a_number_is_refused_in_words(text):
    with pytest.raises(BillFileError, match=r"Row 2, kWh used .* thousandfold.*without commas"):
        read(f"2025-01-02,2025-02-01,{text},A")


def test_an_unquoted_comma_does_not_shift_a_column_unseen():
    with pytest.raises(BillFileError, match="Row 2"):
        read("2025-01-02,2025-02-01,12,5,A")


@pytest.mark.parametrize(
    "text", ["", "n/a", "1.2.3", "nan", "inf", "1e999", "12 kWh", "٣", "1_000"]
)
def test_what_is_no_number_is_refused(text):
    with pytest.raises(BillFileError, match="must be a number such as"):
        read(f"2025-01-02,2025-02-01,{text},A")


def test_a_negative_correction_is_read_as_it_stands():
    assert read("2025-01-02,2025-02-01,-3.5,A")[0].energy == pytest.approx(-3.5 * 3.6e6)


def test_an_unknown_mark_is_refused_with_the_known_ones():
    with pytest.raises(BillFileError, match=r'Row 2, Reading is "maybe".*est, estimate'):
        read("2025-01-02,2025-02-01,1,maybe")


def test_bills_that_end_before_they_start_are_refused():
    with pytest.raises(BillFileError, match="Row 2 runs from 2025-02-01 to 2025-02-01"):
        read("2025-02-01,2025-02-01,1,A")


def test_a_missing_or_double_heading_is_refused_with_those_there():
    with pytest.raises(BillFileError, match=r'"To" stands 0 times.*From, Until'):
        read("a,b,c,d", headings="From,Until,kWh used,Reading")
    with pytest.raises(BillFileError, match='"To" stands 2 times'):
        read("a,b,c,d,e", headings="From,To,To,kWh used,Reading")
    with pytest.raises(BillFileError, match="separator"):
        read("a;b;c;d", headings="From;To;kWh used;Reading")


def test_another_separator_may_be_named():
    layout = replace(LAYOUT, delimiter=";")
    headings = HEADINGS.replace(",", ";")
    assert read("2025-01-02;2025-02-01;1;A", layout=layout, headings=headings)
    with pytest.raises(BillFileError, match="without commas"):
        read("2025-01-02;2025-02-01;12,5;A", layout=layout, headings=headings)


def test_a_row_cut_short_is_refused():
    with pytest.raises(BillFileError, match="Row 2 has 2 fields; 4 are needed"):
        read("2025-01-02,2025-02-01")


@pytest.mark.parametrize("content", [b"", HEADINGS.encode(), b"\r\n\r\n"])
def test_a_file_without_bills_is_refused(content):
    with pytest.raises(BillFileError, match="no bills"):
        read_bill_csv(content, LAYOUT)


def test_text_that_is_not_utf8_and_files_too_large_are_refused(monkeypatch):
    with pytest.raises(BillFileError, match="Byte 3 of the file is not UTF-8"):
        read_bill_csv(b"ab\xff", LAYOUT)
    monkeypatch.setattr(bill_files, "LARGEST_FILE", 10)
    with pytest.raises(BillFileError, match="bytes; 10 are allowed"):
        read("2025-01-02,2025-02-01,1,A")


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_in_words(content):
    for whole in (content, csv_of("").rstrip() + b"\r\n" + content):
        try:
            said = [bill.place for bill in read_bill_csv(whole, LAYOUT)]
        except BillFileError as refusal:
            said = [str(refusal)]
        assert all(said)
        assert said
