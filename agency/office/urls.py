"""Addresses of the desk pages; a verb stands at the end and is POST only."""

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import path

from . import (
    certificates,
    devices,
    instruments,
    job,
    job_verbs,
    jobs,
    reports,
    review,
    stops,
    style_page,
    system,
    test_runs,
    today,
    uploads,
)
from .access import desk_only

app_name = "office"
urlpatterns = [
    path("", today.today, name="today"),
    path(
        "sign-in",
        LoginView.as_view(template_name="office/sign_in.html", redirect_authenticated_user=False),
        name="sign_in",
    ),
    path("sign-out", LogoutView.as_view(), name="sign_out"),
    path("jobs", jobs.jobs, name="jobs"),
    path("jobs/<uuid:pk>", job.job, name="job"),
    path("jobs/<uuid:pk>/finish", job_verbs.finish, name="finish_work"),
    path("jobs/<uuid:pk>/start-work", job_verbs.start_work, name="start_work"),
    path("jobs/<uuid:pk>/inspect", job_verbs.inspect, name="record_inspection"),
    path("jobs/<uuid:pk>/approve", job_verbs.approve, name="approve_job"),
    path("jobs/<uuid:pk>/withdraw", job_verbs.withdraw, name="withdraw_job"),
    path(
        "jobs/<uuid:pk>/explain-no-before-test",
        job_verbs.explain_no_before_test,
        name="explain_no_before_test",
    ),
    path("safety-stops", stops.safety_stops, name="safety_stops"),
    path(
        "safety-stops/<uuid:pk>/acknowledge",
        job_verbs.acknowledge_stop,
        name="acknowledge_stop",
    ),
    path("safety-stops/<uuid:pk>/clear", job_verbs.clear_stop, name="clear_stop"),
    path("visits/late", jobs.late_visits, name="late_visits"),
    path("test-runs", test_runs.test_runs, name="test_runs"),
    path("test-runs/<uuid:pk>", test_runs.test_run, name="test_run"),
    path("test-runs/<uuid:pk>/accept", review.accept, name="accept_test_run"),
    path("test-runs/<uuid:pk>/return", review.send_back, name="return_test_run"),
    path("test-runs/<uuid:pk>/confirm", review.confirm, name="confirm_question"),
    path("test-runs/<uuid:pk>/undo", review.undo, name="undo_review"),
    path("review", review.review, name="review"),
    path("review/<uuid:pk>", review.review_run, name="review_run"),
    path("certificates/<uuid:pk>/file", certificates.certificate_file, name="certificate_file"),
    path("reports", reports.reports, name="reports"),
    path("reports/table.csv", reports.report_csv, name="report_csv"),
    path("reports/workbook.xlsx", reports.report_xlsx, name="report_xlsx"),
    path("reports/jobs/<slug:key>", reports.report_jobs, name="report_jobs"),
    path("instruments", instruments.instruments, name="instruments"),
    path("instruments/<uuid:pk>", instruments.instrument, name="instrument"),
    path("refused-uploads", uploads.refused_uploads, name="refused_uploads"),
    path("refused-uploads/<uuid:pk>", uploads.refused_upload, name="refused_upload"),
    path("phones", devices.devices, name="devices"),
    path("phones/pair", devices.pair, name="pair_device"),
    path("phones/<uuid:pk>/revoke", devices.revoke, name="revoke_device"),
    path("system", system.system, name="system"),
    path("system/<uuid:pk>/try-again", system.try_again, name="try_again"),
    path("style", desk_only(style_page.style_page), name="style"),
]
