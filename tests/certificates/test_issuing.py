"""One certificate a job and input, kept for good; a reissue adds one and changes none."""

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from agency.certificates.issuing import check_code, current_certificate, issue_certificate, reissue
from agency.certificates.models import Certificate
from agency.certificates.tasks import print_certificate
from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.outbox.models import Errand
from agency.programs.models import Agency


def files(media: Path) -> set[str]:
    return {path.name for path in media.rglob("*.pdf")}


def test_certificate_holds_number_figures_and_file(ready_job: Job) -> None:
    certificate = issue_certificate(ready_job.pk)
    certificate.refresh_from_db()
    assert certificate.number == f"{ready_job.number}-C1"
    assert certificate.figures["air"]["reduction"] == pytest.approx(412 / 2310)
    with certificate.file.open() as stored:
        pdf = stored.read()
    assert pdf.startswith(b"%PDF-")
    assert hashlib.sha256(pdf).hexdigest() == certificate.file_hash
    assert ready_job.number not in certificate.file.name


def test_issued_twice_is_one_certificate_and_one_file(ready_job: Job, media: Path) -> None:
    first = issue_certificate(ready_job.pk)
    again = issue_certificate(ready_job.pk)
    assert again == first
    assert Certificate.objects.count() == 1
    assert len(files(media)) == 1


def test_errand_kept_twice_prints_once(ready_job: Job, media: Path) -> None:
    errand = Errand.promise("agency.certificates.tasks.print_certificate", ready_job.pk)
    print_certificate(str(errand.pk))
    print_certificate(str(errand.pk))
    errand.refresh_from_db()
    assert errand.state == Errand.State.DONE
    assert Certificate.objects.count() == 1
    assert len(files(media)) == 1


def test_two_errands_for_one_job_print_once(ready_job: Job) -> None:
    for _ in range(2):
        errand = Errand.promise("agency.certificates.tasks.print_certificate", ready_job.pk)
        print_certificate(str(errand.pk))
    assert Certificate.objects.count() == 1


def test_job_not_approved_gets_none(make_job: Callable[..., Job], agency: Agency) -> None:
    job = make_job(status="inspection_passed")
    with pytest.raises(ActionRefused, match="is not approved"):
        issue_certificate(job.pk)


def test_what_is_missing_is_named(make_job: Callable[..., Job], ready_job: Job) -> None:
    with pytest.raises(ActionRefused, match="no comparison yet"):
        issue_certificate(make_job(status="approved").pk)
    ready_job.estimates.all().delete()
    with pytest.raises(ActionRefused, match="no savings estimate yet"):
        issue_certificate(ready_job.pk)


def test_changed_figures_ask_for_a_reissue(ready_job: Job, agency: Agency) -> None:
    issue_certificate(ready_job.pk)
    agency.phone = "555-0111"
    agency.save()
    with pytest.raises(ActionRefused, match="Reissue it with a reason"):
        issue_certificate(ready_job.pk)
    assert Certificate.objects.count() == 1


def test_reissue_replaces_and_keeps_the_old_one(ready_job: Job, cast: Any, media: Path) -> None:
    first = issue_certificate(ready_job.pk)
    with first.file.open() as stored:
        pdf = stored.read()
    figures = first.figures
    house = ready_job.house
    house.address = "14 Larkspur Lane"
    house.save()
    second = reissue(ready_job, "House number corrected.", cast.manager)
    assert second.number == f"{ready_job.number}-C2"
    assert second.replaces == first
    assert second.figures["replaces"] == first.number
    assert second.figures["home"]["street"] == "14 Larkspur Lane"
    assert second.figures["check_code"] != first.figures["check_code"]
    first.refresh_from_db()
    assert first.figures == figures
    with first.file.open() as stored:
        assert stored.read() == pdf
    assert current_certificate(ready_job) == second
    assert len(files(media)) == 2


def test_reissue_without_change_is_possible_and_a_double_click_is_one(
    ready_job: Job, cast: Any
) -> None:
    first = issue_certificate(ready_job.pk)
    second = reissue(ready_job, "Paper lost.", cast.manager)
    assert reissue(ready_job, "Paper  lost.", cast.manager) == second
    assert second != first
    third = reissue(ready_job, "Lost again.", cast.manager)
    assert third.replaces == second
    assert [one.number[-2:] for one in Certificate.objects.order_by("number")] == ["C1", "C2", "C3"]


def test_errand_told_again_after_a_reissue_changes_nothing(ready_job: Job, cast: Any) -> None:
    issue_certificate(ready_job.pk)
    second = reissue(ready_job, "Paper lost.", cast.manager)
    assert issue_certificate(ready_job.pk) == second


def test_reissue_needs_a_manager_a_reason_and_a_certificate(ready_job: Job, cast: Any) -> None:
    with pytest.raises(ActionRefused, match="no certificate to replace"):
        reissue(ready_job, "Paper lost.", cast.manager)
    issue_certificate(ready_job.pk)
    with pytest.raises(ActionRefused, match="Only a manager"):
        reissue(ready_job, "Paper lost.", cast.office)
    with pytest.raises(ActionRefused, match="Say why"):
        reissue(ready_job, "   ", cast.manager)
    with pytest.raises(ActionRefused, match="240 are the most"):
        reissue(ready_job, "x" * 241, cast.manager)


def test_file_of_a_failed_write_is_removed(
    ready_job: Job, media: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise RuntimeError("the database went away")

    monkeypatch.setattr(Certificate, "save", fail)
    with pytest.raises(RuntimeError):
        issue_certificate(ready_job.pk)
    assert files(media) == set()


def test_check_code_is_readable_aloud_and_belongs_to_its_figures() -> None:
    code = check_code("QC-2026-0003-C1", "a" * 64)
    assert len(code) == 9
    assert not set("01ILOU") & set(code)
    assert code == check_code("QC-2026-0003-C1", "a" * 64)
    assert code != check_code("QC-2026-0003-C1", "b" * 64)
    assert code != check_code("QC-2026-0003-C2", "a" * 64)
