"""What leaves the desk: one figure in five forms, locking by typed name, files in pieces."""

import csv
import hashlib
import io
import re
from datetime import date, timedelta

import openpyxl
import pytest
import time_machine
from django.core.files.base import ContentFile
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from agency.reports.models import KEPT, Export, LockedQuarter
from agency.wording import words
from tests.builders import make_comparison, make_house, make_program

pytestmark = [pytest.mark.django_db]

FLOWS = [(2000, 1500), (3000, 1500), (1000, 1100)]
QUERY = "?quarter=2026-Q2"


@pytest.fixture(autouse=True)
def august():
    with time_machine.travel("2026-08-15T12:00:00-05:00", tick=False):
        yield


@pytest.fixture
def quarter(cast, make_job, make_run):
    """Three pairs of two types of house, opened 71, 30 and 10 days before they passed."""
    jobs = []
    for (before, after), days, dwelling in zip(
        FLOWS, (71, 30, 10), ("single_family", "single_family", "mobile_home"), strict=True
    ):
        job = make_job(
            status="approved",
            house=make_house(dwelling=dwelling),
            opened_on=date(2026, 5, 12) - timedelta(days=days),
        )
        pair = [
            make_run(job, phase, flow, review="accepted", reviewed_by=cast.office)
            for phase, flow in (("before", before), ("after", after))
        ]
        make_comparison(job, *pair)
        jobs.append(job)
    return jobs


@pytest.fixture
def manager(sign_in, cast):
    return sign_in(cast.manager)


def text_of(pdf):
    return " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)


def plain(text):
    """One kind of blank, as a reader sees it."""
    return re.sub(r"\s+", " ", text.replace("\u202f", " ").replace("\u00a0", " "))


def table(browser, name):
    answer = browser.get(reverse("office:report_csv"), {"quarter": "2026-Q2", "table": name})
    body = answer.content.decode().partition("\r\n\r\n")[2]
    return list(csv.DictReader(io.StringIO(body)))


def sheet(browser, title):
    answer = browser.get(reverse("office:report_xlsx"), {"quarter": "2026-Q2"})
    head, *rows = openpyxl.load_workbook(io.BytesIO(answer.content))[title].iter_rows(
        values_only=True
    )
    return [dict(zip(head, row, strict=True)) for row in rows]


def test_every_group_figure_is_the_same_in_five_forms(manager, quarter):
    page = manager.get(reverse("office:reports") + QUERY)
    paper = plain(text_of(manager.get(reverse("office:report_pdf") + QUERY).content))
    told = manager.get(reverse("api:quarter", args=["2026-Q2"])).json()
    for band, from_json in zip(page.context["words"].bands, told["breakdowns"], strict=True):
        from_csv, from_sheet = table(manager, f"by_{band.key}"), sheet(manager, band.title)
        for shown, row, cells, plain_json in zip(
            band.bands, from_csv, from_sheet, from_json["bands"], strict=True
        ):
            for said, column, name in (
                (shown.mean.value, "mean_reduction_percent", "mean_reduction"),
                (shown.pooled.value, "pooled_reduction_percent", "pooled_reduction"),
            ):
                assert words.quantity(float(row[column]), "%", 1) == said
                assert words.quantity(cells[column], "%", 1) == said
                assert words.percent(plain_json["reductions"][name]["value"], 1) == said
                assert plain(said) in paper
            units = shown.units.value
            assert row["units"] == str(cells["units"]) == units
            assert str(plain_json["units"]["n"]) == units
            line = (units, shown.pairs.value, shown.mean.value, shown.mean.interval)
            assert plain(" ".join(line)) in paper


def test_summary_is_the_same_in_five_forms(manager, quarter):
    page = manager.get(reverse("office:reports") + QUERY)
    paper = plain(text_of(manager.get(reverse("office:report_pdf") + QUERY).content))
    told = manager.get(reverse("api:quarter", args=["2026-Q2"])).json()
    from_csv = {row["figure"]: row for row in table(manager, "summary")}
    from_sheet = {row["figure"]: row for row in sheet(manager, "Summary")}
    for line in page.context["words"].reductions:
        field = {"mean": "mean_reduction", "pooled": "pooled_reduction"}.get(
            line.key, line.key.replace("-", "_")
        )
        unit, decimals = ("%", 1) if "reduction" in field else ("cfm", 0)
        scale = 0.01 if unit == "%" else words.CFM
        for value in (
            float(from_csv[line.name]["value"]),
            from_sheet[line.name]["value"],
            told[field]["value"] / scale,
        ):
            assert words.quantity(value, unit, decimals) == line.value
        assert plain(f"{line.name} {line.value}") in paper


def test_days_and_housing_by_fuel_are_the_same_on_paper(manager, quarter):
    """71, 30 and 10 days: median 30, quartiles 20 and 50.5 by linear interpolation, by hand."""
    paper = plain(text_of(manager.get(reverse("office:report_pdf") + QUERY).content))
    for said in ("25th percentile 20.0 days", "Median 30.0 days", "75th percentile 50.5 days"):
        assert said in paper
    assert "Single-family 2 2 Mobile home 1 1" in re.sub(
        r"(2 to 4 units|5 or more units|Shelter) 0 0 ", "", paper
    )
    rows = {row["housing_type"]: row for row in table(manager, "housing_by_fuel")}
    assert rows["Total"]["units_natural_gas"] == rows["Total"]["units_total"] == "3"


@pytest.mark.parametrize(("paper", "size"), [("letter", (612, 792)), ("a4", (595, 842))])
def test_paper_is_the_one_asked_for_and_pages_are_counted(manager, quarter, paper, size):
    """Letter is 8.5 by 11 in., A4 210 by 297 mm (ISO 216); 72 points an inch."""
    answer = manager.get(reverse("office:report_pdf"), {"quarter": "2026-Q2", "paper": paper})
    reader = PdfReader(io.BytesIO(answer.content))
    for number, page in enumerate(reader.pages, start=1):
        assert (round(page.mediabox.width), round(page.mediabox.height)) == size
        assert f"Page {number} of {len(reader.pages)}" in page.extract_text()
    assert answer["Content-Disposition"] == 'attachment; filename="2026-Q2-report.pdf"'


def test_header_rows_repeat_on_each_page_of_a_long_table(manager, quarter, make_job):
    for _ in range(90):
        make_job(status="approved")
    answer = manager.get(reverse("office:report_pdf") + QUERY)
    pages = [plain(page.extract_text()) for page in PdfReader(io.BytesIO(answer.content)).pages]
    with_homes = [page for page in pages if "QC-2026-" in page]
    assert len(with_homes) >= 3
    for page in with_homes:
        assert "Job Counted Before After Reduction" in page


def test_board_packet_is_for_managers_and_has_charts_and_tables(sign_in, cast, quarter):
    assert sign_in(cast.office).get(reverse("office:board_pdf") + QUERY).status_code == 403
    answer = sign_in(cast.manager).get(reverse("office:board_pdf") + QUERY)
    text = plain(text_of(answer.content))
    assert "3 homes were counted from Apr 1, 2026 to Jun 30, 2026." in text
    assert "The mean of their own reductions of air leakage is 21.7 %" in text
    for heading in ("Four charts", "Three tables", "Units by housing type and heating fuel"):
        assert heading in text


def test_withheld_paper_lists_no_home(manager, quarter):
    answer = manager.get(reverse("office:report_pdf"), {"quarter": "2026-Q2", "withhold": "on"})
    text = text_of(answer.content)
    assert "withheld" in text
    for job in quarter:
        assert job.number not in text


def test_names_and_withholding_exclude_each_other(manager, quarter):
    query = {"quarter": "2026-Q2", "withhold": "on", "names": "on"}
    assert manager.get(reverse("office:report_xlsx"), query).status_code == 404


def lock(browser, typed):
    return browser.post(reverse("office:lock_quarter") + QUERY, {"lock-typed": typed})


def test_manager_locks_by_typing_the_name(manager, quarter):
    page = manager.get(reverse("office:reports") + QUERY).content.decode()
    assert "Lock 2026-Q2" in page
    answer = lock(manager, "2026-Q1")
    assert answer.status_code == 422
    assert "Type 2026-Q2 to lock it" in answer.content.decode()
    assert not LockedQuarter.objects.exists()
    answer = lock(manager, "2026-Q2")
    assert answer.status_code == 302
    locked = LockedQuarter.objects.get()
    page = manager.get(reverse("office:reports") + QUERY).content.decode()
    assert locked.figures_hash in page
    assert "Lock 2026-Q2" not in page
    assert lock(manager, "2026-Q2").status_code == 422


def test_only_managers_see_how_to_lock_and_only_after_the_end(sign_in, cast, quarter):
    page = sign_in(cast.office).get(reverse("office:reports") + QUERY).content.decode()
    assert "Lock 2026-Q2" not in page
    page = sign_in(cast.manager).get(reverse("office:reports") + "?quarter=2026-Q3")
    assert "no; the quarter has not ended" in page.content.decode()
    assert "Lock 2026-Q3" not in page.content.decode()


def test_files_of_a_locked_quarter_are_those_of_the_lock(manager, quarter):
    lock(manager, "2026-Q2")
    before = {name: table(manager, name) for name in ("homes", "summary", "by_dwelling")}
    quarter[0].comparisons.update(reduction=0.9, after_flow_50=0.01)
    quarter[1].house.year_built = 1999
    quarter[1].house.save()
    assert {name: table(manager, name) for name in before} == before
    told = manager.get(reverse("api:quarter", args=["2026-Q2"])).json()
    assert told["lock"]["sha256"] == LockedQuarter.objects.get().figures_hash


def test_each_figure_of_a_locked_quarter_leads_to_its_jobs(manager, quarter):
    lock(manager, "2026-Q2")
    page = manager.get(reverse("office:reports") + QUERY)
    for key, line in page.context["words"].lines.items():
        jobs = manager.get(reverse("office:report_jobs", args=[key]) + QUERY).context["page"]
        assert {job.pk for job in jobs} == set(line.jobs)


def test_grants_report_by_the_api_has_its_own_lock(manager, quarter):
    program = make_program()
    told = manager.get(reverse("api:quarter", args=["2"]), {"grant": program.grant_number}).json()
    assert told["lock"] is None
    assert told["units"]["n"] == 3


DATA = b"".join(b"%07d\r\n" % number for number in range(30_000))


@pytest.fixture
def export(cast):
    made = Export(
        asked_by=cast.office,
        quarter="2026-Q2",
        form="csv",
        table="homes",
        file_name="2026-Q2-homes.csv",
        file_hash=hashlib.sha256(DATA).hexdigest(),
        file_size=len(DATA),
        finished_at=timezone.now(),
    )
    made.file.save("x.csv", ContentFile(DATA))
    return made


def fetch(browser, export, **headers):
    return browser.get(reverse("office:export_file", args=[export.pk]), headers=headers)


def body(answer):
    return b"".join(answer.streaming_content)


@pytest.mark.parametrize(
    ("asked", "first", "last"),
    [
        ("bytes=0-99", 0, 99),
        ("bytes=100-", 100, len(DATA) - 1),
        ("bytes=-10", len(DATA) - 10, len(DATA) - 1),
        ("bytes=260000-999999", 260_000, len(DATA) - 1),
    ],
)
def test_a_piece_is_the_one_asked_for(manager, export, asked, first, last):
    """RFC 9110, 14.2 and 14.4, from memory."""
    answer = fetch(manager, export, range=asked)
    assert answer.status_code == 206
    assert answer["Content-Range"] == f"bytes {first}-{last}/{len(DATA)}"
    assert body(answer) == DATA[first : last + 1]
    assert int(answer["Content-Length"]) == last + 1 - first


def test_broken_download_goes_on_and_comes_out_whole(sign_in, cast, export):
    browser = sign_in(cast.office)
    whole = fetch(browser, export)
    assert whole.status_code == 200
    assert whole["Accept-Ranges"] == "bytes"
    start = body(whole)[:100_001]
    rest = fetch(browser, export, range="bytes=100001-", if_range=whole["ETag"])
    assert hashlib.sha256(start + body(rest)).hexdigest() == export.file_hash


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"range": "bytes=999999-"}, 416),
        ({"range": "bytes=-0"}, 416),
        ({"range": "bytes=20-10"}, 416),
        ({"range": "lines=1-2"}, 200),
        ({"range": "bytes=0-1,5-6"}, 200),
        ({"range": "bytes=0-1", "if_range": '"an older file"'}, 200),
    ],
)
def test_odd_ranges_get_the_whole_file_or_a_refusal(sign_in, cast, export, headers, status):
    assert fetch(sign_in(cast.office), export, **headers).status_code == status


def test_file_is_for_the_asker_and_managers_until_it_expires(sign_in, client, cast, export):
    assert fetch(client, export).status_code == 302
    assert fetch(sign_in(cast.inspector), export).status_code == 404
    assert fetch(sign_in(cast.crew_lead), export).status_code == 404
    assert fetch(sign_in(cast.manager), export).status_code == 200
    with time_machine.travel(timezone.now() + KEPT, tick=False):
        assert fetch(sign_in(cast.office), export).status_code == 404


def test_asked_for_written_and_fetched(sign_in, cast, quarter, work_off):
    browser = sign_in(cast.office)
    address = reverse("office:ask_for_file") + QUERY
    assert browser.post(address, {"table": "homes", "names": "on"}).status_code == 302
    page = browser.get(reverse("office:exports") + QUERY).content.decode()
    assert "Waiting" in page
    assert "hx-trigger" in page
    work_off()
    page = browser.get(reverse("office:exports") + QUERY).content.decode()
    assert "3 of 3" in page
    assert "hx-trigger" not in page
    text = body(fetch(browser, Export.objects.get())).decode()
    assert quarter[0].client.name in text


def test_asking_for_names_and_withholding_is_refused_in_words(sign_in, cast, quarter):
    address = reverse("office:ask_for_file") + QUERY
    answer = sign_in(cast.office).post(address, {"names": "on", "withhold": "on"})
    assert answer.status_code == 422
    assert "exclude each other" in answer.content.decode()
    assert not Export.objects.exists()


def test_long_quarter_is_sent_to_a_worker(sign_in, cast, quarter, monkeypatch):
    monkeypatch.setattr("agency.office.report_files.MOST_AT_ONCE", 2)
    answer = sign_in(cast.office).get(reverse("office:report_csv") + QUERY, follow=True)
    assert "Ask for the file below" in answer.content.decode()
