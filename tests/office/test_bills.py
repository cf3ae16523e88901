"""The pages of bills: dry run, all or nothing, undo, measured by a worker, changes, permission."""

import csv
import io
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from agency.estimates.bill_studies import BillAnalysis, NonRoutineChange
from agency.estimates.billing import Bill, BillFile
from agency.outbox.models import Errand
from tests.bill_records import (
    HEADINGS,
    csv_content,
    make_account,
    make_bill_file,
    make_bills,
    make_days,
    make_study,
    worked_on,
)
from tests.builders import make_weather
from tests.estimates.bill_cases import STARTED, THERM, two_years

pytestmark = pytest.mark.django_db

FEED = """<?xml version="1.0" encoding="UTF-8"?>
<feed xmlns="http://www.w3.org/2005/Atom"><entry><content>
<UsageSummary xmlns="http://naesb.org/espi">
<billingPeriod><duration>2592000</duration><start>1735711200</start></billingPeriod>
<overallConsumptionLastPeriod>
<powerOfTenMultiplier>0</powerOfTenMultiplier><uom>169</uom><value>80</value>
</overallConsumptionLastPeriod>
</UsageSummary></content></entry></feed>"""
"""30 days from 1 January 2025, 6:00 UTC: midnight in Chicago; 80 therms."""


@pytest.fixture
def job(make_job):
    return make_job(**worked_on())


@pytest.fixture
def account(job, cast):
    return make_account(job.house, cast.office)


@pytest.fixture
def browser(sign_in, cast):
    return sign_in(cast.office)


@pytest.fixture
def measured(job, account, cast, browser, work_off):
    """A job whose bills a worker has analysed."""
    make_days(make_weather(job.house.county), cast.office)
    make_bills(account, cast.office)
    browser.post(
        reverse("office:ask_study", args=[job.pk]),
        {"study-account": account.pk, "study-model": "3P heating"},
    )
    work_off()
    return BillAnalysis.objects.get()


def page_of(browser, job):
    return browser.get(reverse("office:job_bills", args=[job.pk]))


def upload(browser, job, into, content, name="bills.csv", **changes):
    said = {
        "csv-account": into.pk,
        "csv-file": SimpleUploadedFile(name, content),
        "csv-start": "From",
        "csv-end": "To",
        "csv-energy": "Therms",
        "csv-estimated": "Reading",
        "csv-unit": "therm",
        "csv-ending": "reading day",
        "csv-order": "shown by the file",
        "csv-delimiter": "comma",
    }
    said |= {f"csv-{field}": value for field, value in changes.items()}
    return browser.post(reverse("office:upload_bill_csv", args=[job.pk]), said)


def act(browser, name, record, **said):
    return browser.post(reverse(f"office:{name}", args=[record.pk]), said)


def test_page_without_an_account_says_what_a_saving_needs(browser, job):
    text = page_of(browser, job).content.decode()
    assert "No account is open" in text
    assert "a year before the work and a year after it" in text


def test_job_page_leads_to_the_bills(browser, job):
    text = browser.get(reverse("office:job", args=[job.pk])).content.decode()
    assert reverse("office:job_bills", args=[job.pk]) in text


def test_account_is_opened_once(browser, job):
    for status in (302, 422):
        answer = act(browser, "open_account", job, **{"account-fuel": "natural_gas"})
        assert answer.status_code == status
    assert "has a natural gas account already" in answer.content.decode()


def test_upload_keeps_the_file_and_stores_no_bill(browser, job, account):
    content = csv_content(two_years())
    answer = upload(browser, job, account, content)
    kept = BillFile.objects.get()
    assert answer.url == reverse("office:bill_file", args=[kept.pk])
    assert not Bill.objects.exists()
    with kept.file.open("rb") as file:
        assert file.read() == content
    assert len(kept.sha256) == 64
    text = browser.get(answer.url).content.decode()
    assert "Not stored yet" in text
    assert "Import 25\u00a0bills" in text


def test_import_stores_every_bill_in_joules(browser, job, account):
    kept = make_bill_file(account, browser_user(browser))
    act(browser, "import_bill_file", kept)
    stored = list(Bill.objects.order_by("start"))
    given = two_years()
    assert [(one.start, one.end) for one in stored] == [(one.start, one.end) for one in given]
    for one, other in zip(stored, given, strict=True):
        # Written to four places of a therm.
        assert one.energy == pytest.approx(other.energy, abs=0.00005 * THERM)
    kept.refresh_from_db()
    assert kept.state == "imported"


def browser_user(browser):
    from agency.accounts.models import User

    return User.objects.get(pk=browser.session["_auth_user_id"])


BROKEN = "\n".join(
    [
        HEADINGS,
        "2024-01-01,2024-02-01,80,A",
        "2024-02-01,2024-01-15,70,A",
        '2024-03-01,2024-04-01,"1,200",A',
        "2024-04-01,2024-05-01,60,perhaps",
        "2024-05-01,2024-06-01,-5,A",
        "2024-05-20,2024-06-20,20,A",
    ]
).encode()


def test_every_wrong_row_is_shown_and_nothing_is_taken_in(browser, job, account):
    upload(browser, job, account, BROKEN)
    kept = BillFile.objects.get()
    page = browser.get(reverse("office:bill_file", args=[kept.pk]))
    places = [one.place for one in page.context["preview"].errors]
    assert places == ["row 3", "row 4", "row 5", "row 6", "row 7"]
    assert "Import " not in page.content.decode().split("What stands in the way")[1]
    answer = act(browser, "import_bill_file", kept)
    assert answer.status_code == 302
    kept.refresh_from_db()
    assert (kept.state, Bill.objects.count()) == ("waiting", 0)


def test_errors_can_be_downloaded(browser, job, account):
    upload(browser, job, account, BROKEN)
    kept = BillFile.objects.get()
    answer = browser.get(reverse("office:bill_file_errors", args=[kept.pk]))
    lines = list(csv.reader(io.StringIO(answer.content.decode())))
    table = lines[lines.index([]) + 1 :]
    assert table[0] == ["place", "error"]
    assert [row[0] for row in table[1:]] == ["row 3", "row 4", "row 5", "row 6", "row 7"]
    assert "the end must be after the start" in table[1][1]


def test_file_as_it_came_is_only_ever_saved(browser, job, account):
    kept = make_bill_file(account, browser_user(browser))
    answer = browser.get(reverse("office:bill_file_as_sent", args=[kept.pk]))
    assert b"".join(answer.streaming_content) == csv_content(two_years())
    assert answer["Content-Disposition"].startswith("attachment")
    assert answer["X-Content-Type-Options"] == "nosniff"


def test_bill_stored_already_is_named_with_its_file(browser, job, account):
    make_bills(account, browser_user(browser))
    upload(browser, job, account, csv_content(two_years()[:1]))
    kept = BillFile.objects.order_by("-sent_at").first()
    text = browser.get(reverse("office:bill_file", args=[kept.pk])).content.decode()
    assert "overlaps a bill that is stored already" in text
    assert "gas-bills.csv" in text


def test_negative_energy_must_be_stated(browser, job, account):
    row = f"{HEADINGS}\n2024-05-01,2024-06-01,-5,A".encode()
    upload(browser, job, account, row, corrections="on")
    kept = BillFile.objects.get()
    act(browser, "import_bill_file", kept)
    assert Bill.objects.get().is_correction


def test_undo_takes_the_whole_import_out_and_keeps_the_file(browser, job, account):
    kept = make_bills(account, browser_user(browser))
    assert act(browser, "undo_bill_file", kept, **{"undo-reason": " "}).status_code == 422
    act(browser, "undo_bill_file", kept, **{"undo-reason": "Another house's bills."})
    kept.refresh_from_db()
    assert (kept.state, Bill.objects.count()) == ("undone", 0)
    assert kept.undone_reason == "Another house's bills."
    with kept.file.open("rb") as file:
        assert file.read()
    again = make_bills(account, browser_user(browser))
    assert again.bills.count() == 25


def test_espi_feed_is_looked_through_like_a_csv(browser, job, account):
    said = {
        "espi-account": account.pk,
        "espi-file": SimpleUploadedFile("feed.xml", FEED.encode()),
        "espi-grouping": "UsageSummary",
    }
    answer = act(browser, "upload_bill_espi", job, **said)
    kept = BillFile.objects.get()
    assert answer.url == reverse("office:bill_file", args=[kept.pk])
    act(browser, "import_bill_file", kept)
    bill = Bill.objects.get()
    assert (bill.start.isoformat(), bill.days) == ("2025-01-01", 30)
    assert bill.energy == pytest.approx(80 * THERM)


def test_feed_with_an_entity_is_never_read(browser, job, account):
    evil = '<!DOCTYPE feed [<!ENTITY a "b">]>' + FEED
    said = {
        "espi-account": account.pk,
        "espi-file": SimpleUploadedFile("feed.xml", evil.encode()),
        "espi-grouping": "UsageSummary",
    }
    page = browser.get(act(browser, "upload_bill_espi", job, **said).url)
    (error,) = page.context["preview"].errors
    assert "can do harm" in error.message


WRONG = [
    ({"unit": "kWh", "account": ""}, "Choose the account."),
    ({"unit": "ccf"}, "Enter the heat content printed on the bill"),
    ({"unit": "gal"}, "gal is no unit of natural gas"),
    ({"start": ""}, "Enter the heading of the column with the start dates."),
    ({"btu_per_cubic_foot": "10"}, "must be 500 to 1500 Btu per cubic foot"),
]


@pytest.mark.parametrize(("changes", "words"), WRONG)
def test_refused_upload_keeps_no_file_and_what_was_typed(browser, job, account, changes, words):
    answer = upload(browser, job, account, csv_content(two_years()), **changes)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert words in text
    assert text.count("<title>Error: ") == 1
    assert 'value="Therms"' in text
    assert not BillFile.objects.exists()


def test_file_that_is_no_text_is_refused(browser, job, account):
    answer = upload(browser, job, account, b"\xff\xfe\x00")
    assert answer.status_code == 422
    assert "is not UTF-8 text" in answer.content.decode()


def test_cell_that_would_run_in_a_spreadsheet_is_neutralised(browser, job, account):
    upload(browser, job, account, f"{HEADINGS}\n=1+1,2024-02-01,80,A".encode(), name="=x.csv")
    kept = BillFile.objects.get()
    text = browser.get(reverse("office:bill_file_errors", args=[kept.pk])).content.decode()
    assert text.startswith("file,'=x.csv")


def test_saving_is_measured_by_a_worker_and_shown_with_its_range(browser, job, measured):
    assert measured.refusals == []
    page = page_of(browser, job)
    (account,) = page.context["accounts"]
    text = page.content.decode()
    assert "In a normal year the house uses" in text
    assert account.analysis.difference.startswith("down ")
    assert account.drawing.wide.startswith("<svg")
    assert len(account.drawing.rows) == 24
    assert measured.input_hash in text
    assert "This is measured" in text


def test_same_bills_give_the_same_row_and_undoing_brings_the_older_one_back(
    browser, job, account, measured, work_off
):
    act(browser, "ask_study", job, **{"study-account": account.pk, "study-model": "3P heating"})
    work_off()
    assert BillAnalysis.objects.count() == 1
    late = two_years()[-1]
    row = f"{HEADINGS}\n{late.end},{late.end + timedelta(days=30)},70,A".encode()
    kept = make_bill_file(account, browser_user(browser), content=row)
    act(browser, "import_bill_file", kept)
    work_off()
    study = measured.study
    assert study.analyses.first().figures["after"]["bills"] == 13
    act(browser, "undo_bill_file", kept, **{"undo-reason": "Sent by mistake."})
    work_off()
    assert study.analyses.first() == measured
    assert BillAnalysis.objects.count() == 2


def test_without_weather_the_reason_is_shown_in_place_of_a_saving(
    browser, job, account, cast, work_off
):
    make_bills(account, cast.office)
    make_weather(job.house.county)
    act(browser, "ask_study", job, **{"study-account": account.pk, "study-model": "3P heating"})
    work_off()
    text = page_of(browser, job).content.decode()
    assert "No saving is told." in text
    assert "daily mean temperatures" in text
    assert "Normal year before" not in text


def test_account_of_another_house_is_refused(browser, job, make_job, cast):
    other = make_account(make_job().house, cast.office)
    said = {"study-account": other.pk, "study-model": "3P heating"}
    assert act(browser, "ask_study", job, **said).status_code == 422
    assert not Errand.objects.exists()


def note(browser, job, **changes):
    said = {"change-kind": "occupancy", "change-since": "2024-08-01", "change-note": "Two more."}
    return act(browser, "note_change", job, **(said | changes))


def test_change_is_shown_until_a_manager_counts_the_job_with_a_reason(sign_in, cast, job):
    office = sign_in(cast.office)
    assert note(office, job).status_code == 302
    text = page_of(office, job).content.decode()
    assert "Not counted" in text
    assert "Count the job all the same" not in text
    change = NonRoutineChange.objects.get()
    name = f"confirm-{change.pk}-reason"
    assert act(office, "confirm_change", change, **{name: "Known."}).status_code == 403
    manager = sign_in(cast.manager)
    assert act(manager, "confirm_change", change, **{name: ""}).status_code == 422
    assert act(manager, "confirm_change", change, **{name: "In both years."}).status_code == 302
    text = page_of(manager, job).content.decode()
    assert "Counted all the same" in text
    assert "In both years." in text
    assert act(manager, "confirm_change", change, **{name: "Again."}).status_code == 422


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"change-since": "2999-01-01"}, "cannot lie after today"),
        ({"change-note": ""}, "Write what changed"),
        ({"change-since": ""}, "Enter the day since which"),
    ],
)
def test_change_that_cannot_be_is_refused(browser, job, changes, words):
    answer = note(browser, job, **changes)
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_crew_of_the_job_sees_no_bill_anywhere(sign_in, cast, job, account):
    kept = make_bill_file(account, cast.office)
    crew = sign_in(cast.crew_lead)
    assert page_of(crew, job).status_code == 404
    for name in ("bill_file", "bill_file_errors", "bill_file_as_sent"):
        assert crew.get(reverse(f"office:{name}", args=[kept.pk])).status_code == 404
    assert crew.get(reverse("api:bill-study-list")).status_code == 403


def test_paired_phone_is_told_nothing_of_bills(phone, job, account, cast):
    make_bills(account, cast.office)
    make_study(job, account, cast.office)
    assert phone.get(reverse("api:bill-study-list")).status_code == 403
    detail = phone.get(reverse("api:job-detail", args=[job.pk]))
    assert detail.status_code == 200
    assert "bill" not in detail.content.decode()
    field = phone.get(reverse("api:field"))
    assert field.status_code == 200
    assert str(account.pk) not in field.content.decode()
    assert "gas-bills.csv" not in field.content.decode()


def test_inspector_may_look_but_is_offered_no_step(sign_in, cast, job, account):
    text = page_of(sign_in(cast.inspector), job).content.decode()
    assert "Natural gas account" in text
    assert "Upload bills" not in text


def test_studies_are_read_by_the_api(browser, measured):
    (told,) = browser.get(reverse("api:bill-study-list")).json()["results"]
    assert told["fuel"] == "natural_gas"
    assert told["analysis"]["input_hash"] == measured.input_hash
    assert told["analysis"]["figures"]["saving"]["mmbtu"]["central"] > 0
    assert "inputs" not in told["analysis"]


def test_queries_of_the_page_do_not_grow_with_accounts_and_bills(browser, job, cast):
    def queries():
        page_of(browser, job)
        with CaptureQueriesContext(connection) as seen:
            page_of(browser, job)
        return len(seen)

    first = make_account(job.house, cast.office)
    make_study(job, first, cast.office)
    make_bills(first, cast.office, content=csv_content(two_years()[:3]))
    few = queries()
    for fuel in ("electricity", "propane"):
        account = make_account(job.house, cast.office, fuel=fuel)
        make_study(job, account, cast.office)
    late = csv_content(two_years()[3:])
    make_bills(first, cast.office, content=late)
    assert queries() == few


def test_database_itself_refuses_impossible_bills(account, cast):
    kept = make_bill_file(account, cast.office)
    good = {"account": account, "file": kept, "start": STARTED, "end": STARTED + timedelta(30)}
    wrong = [
        {"end": STARTED, "energy": 1.0},
        {"energy": -1.0},
    ]
    for changes in wrong:
        with pytest.raises(IntegrityError), transaction.atomic():
            Bill.objects.create(**(good | changes))
    Bill.objects.create(**good, energy=-1.0, is_correction=True)
    with pytest.raises(IntegrityError), transaction.atomic():
        Bill.objects.create(**good, energy=1.0)
