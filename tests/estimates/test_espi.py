"""Feeds of the Energy Services Provider Interface: units, days, grouping and what is refused."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agency.estimates.bill_files import BillFileError
from agency.estimates.espi import Grouping, read_espi

ZONE = ZoneInfo("America/New_York")
DAY = 86_400


def at(year, month, day, hour=0):
    """Seconds of a local time of the house."""
    return int(datetime(year, month, day, hour, tzinfo=ZONE).timestamp())


def reading(start, seconds, value, quality=None):
    mark = f"<ReadingQuality><quality>{quality}</quality></ReadingQuality>" if quality else ""
    return (
        f"<IntervalReading>{mark}<timePeriod><duration>{seconds}</duration>"
        f"<start>{start}</start></timePeriod><value>{value}</value></IntervalReading>"
    )


def block(*readings):
    return f"<IntervalBlock>{''.join(readings)}</IntervalBlock>"


def kind(uom=72, power=0, behaviour=4, direction=1, commodity=1):
    return (
        f"<ReadingType><accumulationBehaviour>{behaviour}</accumulationBehaviour>"
        f"<commodity>{commodity}</commodity><flowDirection>{direction}</flowDirection>"
        f"<powerOfTenMultiplier>{power}</powerOfTenMultiplier><uom>{uom}</uom></ReadingType>"
    )


def feed(*contents):
    entries = "".join(f"<entry><content>{content}</content></entry>" for content in contents)
    entries = entries.replace("<entry>", '<entry xmlns="http://www.w3.org/2005/Atom">')
    for name in ("UsagePoint", "ReadingType", "IntervalBlock", "UsageSummary"):
        entries = entries.replace(f"<{name}>", f'<{name} xmlns="http://naesb.org/espi">')
    head = '<?xml version="1.0" encoding="UTF-8"?>'
    return f'{head}<feed xmlns="http://www.w3.org/2005/Atom">{entries}</feed>'.encode()


def read(*contents, grouping=Grouping.BLOCK, heat=None):
    return read_espi(feed(*contents), grouping=grouping, zone=ZONE, gas_heat_content=heat)


JANUARY = at(2025, 1, 1)
ONE = reading(JANUARY, DAY, 1000)


@pytest.mark.parametrize(
    ("uom", "power", "joules"),
    [
        (72, 0, 3600.0),
        (72, 3, 3.6e6),
        (72, -3, 3.6),
        (31, 0, 1.0),
        (132, 0, 1055.056),
        (169, 0, 1.05505585e8),
        (169, -3, 1.05505585e5),
    ],
)
def test_energy_units_and_powers_of_ten(uom, power, joules):
    """Codes by the public ESPI schema, read; watt-hour, Btu and therm by definition."""
    (bill,) = read(kind(uom, power), block(reading(JANUARY, DAY, 7)))
    assert bill.energy == pytest.approx(7 * joules, rel=1e-6)


@pytest.mark.parametrize(("uom", "volume"), [(42, 1.0), (119, 0.0283168), (134, 0.001)])
def test_gas_volumes_need_the_heat_content(uom, volume):
    """Cubic metre, cubic foot (exact 0.3048³) and litre by definition."""
    parts = kind(uom, commodity=7), block(reading(JANUARY, DAY, 10))
    assert read(*parts, heat=38e6)[0].energy == pytest.approx(10 * volume * 38e6, rel=1e-5)
    with pytest.raises(BillFileError, match=f"uom is {uom}, a gas volume"):
        read(*parts)


def test_the_same_feed_with_a_prefix_reads_the_same():
    prefixed = (
        '<a:feed xmlns:a="http://www.w3.org/2005/Atom" xmlns:e="http://naesb.org/espi">'
        "<a:entry><e:ReadingType><e:uom>72</e:uom></e:ReadingType></a:entry>"
        "<a:entry><e:IntervalBlock><e:IntervalReading><e:timePeriod>"
        f"<e:duration>{DAY}</e:duration><e:start>{JANUARY}</e:start></e:timePeriod>"
        "<e:value>1000</e:value></e:IntervalReading></e:IntervalBlock></a:entry></a:feed>"
    )
    same = {"grouping": Grouping.BLOCK, "zone": ZONE, "gas_heat_content": None}
    assert read_espi(prefixed.encode(), **same) == read(kind(), block(ONE))


def test_hours_of_a_block_make_one_bill_in_local_days_across_the_change_of_clocks():
    """By hand: from 1 March to 1 April 2025 the clocks lose an hour: 31 days of 743 hours."""
    hours = [reading(at(2025, 3, 1) + 3600 * i, 3600, 2) for i in range(743)]
    (bill,) = read(kind(), block(*hours))
    assert (bill.start, bill.end) == (date(2025, 3, 1), date(2025, 4, 1))
    assert bill.energy == pytest.approx(743 * 2 * 3600)


def test_readings_may_be_bills_themselves_and_come_in_order():
    second = reading(at(2025, 2, 3), at(2025, 3, 4) - at(2025, 2, 3), 50)
    first = reading(at(2025, 1, 2), at(2025, 2, 3) - at(2025, 1, 2), 60)
    found = read(kind(169), block(second, first), grouping=Grouping.READING)
    assert [bill.start for bill in found] == [date(2025, 1, 2), date(2025, 2, 3)]
    assert found[0].end == found[1].start


def test_billed_periods_come_with_their_own_unit_and_quality():
    summary = (
        f"<UsageSummary><billingPeriod><duration>{31 * DAY}</duration><start>{JANUARY}</start>"
        "</billingPeriod><overallConsumptionLastPeriod><powerOfTenMultiplier>3"
        "</powerOfTenMultiplier><uom>72</uom><value>250</value></overallConsumptionLastPeriod>"
        "<qualityOfReading>8</qualityOfReading></UsageSummary>"
    )
    (bill,) = read(summary, grouping=Grouping.SUMMARY)
    assert (bill.start, bill.end) == (date(2025, 1, 1), date(2025, 2, 1))
    assert bill.energy == pytest.approx(250 * 3.6e6)
    assert bill.estimated
    with pytest.raises(BillFileError, match="UsageSummary 1 has no overallConsumptionLastPeriod"):
        read(
            f"<UsageSummary><billingPeriod><duration>{DAY}</duration><start>{JANUARY}</start>"
            "</billingPeriod></UsageSummary>",
            grouping=Grouping.SUMMARY,
        )


@pytest.mark.parametrize(
    ("first", "last", "estimated"), [(0, 0, False), (8, 17, False), (0, 8, True), (0, 9, True)]
)
def test_a_bill_is_estimated_when_the_reading_that_closes_it_is(first, last, estimated):
    """quality 8 and 9 are the estimates, 17 is validated, by the public ESPI schema, read."""
    parts = reading(JANUARY, DAY, 1, first), reading(JANUARY + DAY, DAY, 1, last)
    assert read(kind(), block(*parts))[0].estimated is estimated


@given(
    start=st.integers(0, 2_000_000_000),
    lengths=st.lists(st.integers(1, 60), min_size=1, max_size=12),
    power=st.integers(-6, 6),
)
def test_days_and_energy_of_contiguous_blocks_are_kept(start, lengths, power):
    blocks, opening = [], datetime.fromtimestamp(start, tz=UTC)
    for days in lengths:
        blocks.append(block(reading(int(opening.timestamp()), days * DAY, days)))
        opening += timedelta(days=days)
    found = read_espi(
        feed(kind(power=power), *blocks),
        grouping=Grouping.BLOCK,
        zone=ZoneInfo("UTC"),
        gas_heat_content=None,
    )
    assert [(bill.end - bill.start).days for bill in found] == lengths
    total = sum(bill.energy for bill in found)
    assert total == pytest.approx(sum(lengths) * 3600 * 10.0**power)


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([kind(uom=38), block(ONE)], "ReadingType 1: uom is 38, no energy"),
        ([kind(behaviour=3), block(ONE)], "accumulationBehaviour is 3; it must be 4"),
        ([kind(direction=19), block(ONE)], "flowDirection is 19; it must be 1"),
        ([kind(power=40), block(ONE)], "powerOfTenMultiplier is 40; it must be -12 to 12"),
        ([kind(), kind(uom=169), block(ONE)], "2 reading types of different units"),
        ([kind(), kind(commodity=7), block(ONE)], "2 kinds of energy"),
        (["<UsagePoint></UsagePoint>"] * 2 + [kind(), block(ONE)], "2 meters"),
        ([block(ONE)], "no ReadingType"),
        ([kind()], "no IntervalBlock"),
        ([kind(), block()], "IntervalBlock 1 has no readings"),
        ([kind(), block(reading(JANUARY, DAY, "1,5"))], 'value is "1,5"; it must be a whole'),
        ([kind(), block(reading(JANUARY, DAY, ""))], 'IntervalReading 1: value is ""'),
        ([kind(), block(reading(JANUARY, DAY, 1, 12))], "quality is 12, a forecast"),
        ([kind(), block(reading(JANUARY, 0, 1))], "lasts 0 s"),
        ([kind(), block(reading(10**14, DAY, 1))], "before the year 9999"),
        ([kind(), block(reading(JANUARY, 3600, 1))], "IntervalBlock 1 lasts 3,600 s"),
        (
            [kind(), block(ONE, reading(JANUARY + 2 * DAY, DAY, 1))],
            "IntervalReading 2 starts 86,400 s after the end",
        ),
        ([kind(), block(ONE, ONE)], "starts 86,400 s before the end"),
    ],
)
def test_what_cannot_be_a_bill_is_refused_by_element_and_value(parts, words):
    with pytest.raises(BillFileError, match=words) as refusal:
        read(*parts)
    assert str(refusal.value).endswith(".")


BOMB = """<?xml version="1.0"?><!DOCTYPE b [<!ENTITY a "aaaaaaaaaa"><!ENTITY c "&a;&a;&a;&a;&a;">]>
<feed xmlns="http://www.w3.org/2005/Atom"><title>&c;</title></feed>"""
OUTSIDE = """<!DOCTYPE f [<!ENTITY x SYSTEM "file:///etc/hostname">]>
<feed xmlns="http://www.w3.org/2005/Atom"><title>&x;</title></feed>"""


@pytest.mark.parametrize("text", [BOMB, OUTSIDE])
def test_document_types_and_entities_are_refused_before_they_are_parsed(text):
    same = {"grouping": Grouping.BLOCK, "zone": ZONE, "gas_heat_content": None}
    with pytest.raises(BillFileError, match="declares doctype"):
        read_espi(text.encode(), **same)
    with pytest.raises(BillFileError, match="not UTF-8"):
        read_espi(text.encode("utf-16"), **same)
    hidden = text.replace("<!", "<\x00!").encode()
    with pytest.raises(BillFileError, match="not well-formed"):
        read_espi(hidden, **same)


def test_an_encoding_named_in_the_file_does_not_count():
    """cp037 would read the bytes otherwise; the text is UTF-8 whatever the file says."""
    content = feed(kind(), block(ONE)).replace(b"UTF-8", b"cp037")
    same = {"grouping": Grouping.BLOCK, "zone": ZONE, "gas_heat_content": None}
    assert read_espi(content, **same) == read(kind(), block(ONE))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"<feed", "not well-formed"),
        (b"From,To\n", "not well-formed"),
        (b"<html></html>", "outermost element is html"),
        (b"<d>" * 50_000 + b"</d>" * 50_000, "outermost element is d"),
    ],
)
def test_what_is_no_feed_is_refused(content, words):
    with pytest.raises(BillFileError, match=words):
        read_espi(content, grouping=Grouping.BLOCK, zone=ZONE, gas_heat_content=None)
