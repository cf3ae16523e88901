"""Drives one job over HTTP, as a crew's phone and as the people at the desk."""

import json
import re
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from django.urls import reverse

from . import phone_job
from .http_client import Browser, DriveError, Phone, expect
from .registers import PASSWORD

PATIENCE = 120
"""How long a worker may take. [s]"""
STATES = (
    "scheduled",
    "in_progress",
    "tested_out",
    "inspection_passed",
    "approved",
)
CERTIFICATE_LINK = re.compile(r'href="([^"]*/certificates/[0-9a-f-]{36}/file)"')


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing that was done, or had been done by an earlier run."""

    what: str
    was_done: bool


@dataclass(slots=True, kw_only=True)
class Drive:
    """What happened, and which files came of it."""

    steps: list[Step] = field(default_factory=list)
    runs: dict[str, Any] = field(default_factory=dict)
    """The stored test runs with their results, by phase."""
    files: dict[str, Path] = field(default_factory=dict)

    def note(self, what: str, *, was_done: bool) -> None:
        """Write a step down."""
        self.steps.append(Step(what=what, was_done=was_done))


def drive(base_url: str, folder: Path, *, today: date) -> Drive:
    """Take the demonstration's own job from the first reading to the certificate.

    Parameters
    ----------
    base_url : str
        Where the program answers, without a slash at the end.
    folder : Path
        Where the phone keeps its token and the fetched papers go.
    today : date
        Day of the inspection; its quarter is the one reported.

    Raises
    ------
    DriveError
        When the program answers something unexpected, with its words.
    """
    folder.mkdir(parents=True, exist_ok=True)
    said = Drive()
    phone = _paired(base_url, folder / "phone.json", said)
    _on_site(phone, said)
    _at_the_desk(base_url, phone, said, today)
    _fetch_papers(base_url, folder, said, today)
    return said


def _paired(base_url: str, memory: Path, said: Drive) -> Phone:
    """The phone with its token; paired anew only when it has none that works."""
    if memory.exists():
        phone = Phone(base_url, json.loads(memory.read_text(encoding="utf-8"))["token"])
        if phone.get("jobs/").status == 200:
            said.note("Pair the phone", was_done=True)
            return phone
    reply = Phone(base_url).post(
        "devices/", {"username": "crew", "password": PASSWORD, "label": "Demonstration phone"}
    )
    answer = expect(reply, 201, doing="pairing the phone").data
    memory.write_text(json.dumps({"token": answer["token"]}), encoding="utf-8")
    memory.chmod(0o600)
    said.note("Pair the phone", was_done=False)
    return Phone(base_url, answer["token"])


def _job(phone: Phone) -> dict[str, Any]:
    path = f"jobs/{phone_job.job_id()}/"
    job: dict[str, Any] = expect(phone.get(path), 200, doing="reading the job").data
    return job


def _on_site(phone: Phone, said: Drive) -> None:
    """Upload before and after, say when the work began and that it is finished."""
    expect(phone.get("jobs/"), 200, doing="reading the crew's jobs")
    job = _job(phone)
    opened = date.fromisoformat(job["opened_on"])
    _upload_before(phone, opened, said)
    began = job["work_started_on"] is not None
    if not began:
        day = {"on": phone_job.work_began(opened).isoformat()}
        expect(phone.post(f"jobs/{job['id']}/work-started/", day), 200, doing="starting work")
    said.note("Say when the work began", was_done=began)
    _upload_batch(phone, opened, said)
    for phase, run in list(said.runs.items()):
        said.runs[phase] = _with_result(phone, run["id"])
    tested_out = _has_reached(phone, "tested_out")
    if not tested_out:
        expect(phone.post(f"jobs/{job['id']}/finish/", {}), 200, doing="finishing the work")
    said.note("Finish the work", was_done=tested_out)


def _has_reached(phone: Phone, state: str) -> bool:
    return STATES.index(_job(phone)["status"]) >= STATES.index(state)


def _upload_before(phone: Phone, opened: date, said: Drive) -> None:
    reply = phone.post("test-runs/", phone_job.before_test(opened))
    answer = expect(reply, 201, doing="uploading the test before the work").data
    said.runs["before"] = answer
    said.note("Upload the test before the work", was_done="Idempotent-Replay" in reply.headers)


def _upload_batch(phone: Phone, opened: date, said: Drive) -> None:
    """The test after the work twice, as after a broken connection, and one bad record."""
    after = phone_job.after_test(opened)
    batch = {
        "sent_at": datetime.now(UTC).isoformat(),
        "records": [after, after, phone_job.bad_test(opened)],
    }
    replies = expect(phone.post("batches/", batch), 200, doing="uploading the batch").data
    stored, repeated, refused = replies["answers"]
    if (stored["http_status"], refused["answer"]["status"]) != (201, "refused"):
        raise DriveError(f"The batch was answered {replies}.")
    if not repeated["replay"] or repeated["answer"]["id"] != stored["answer"]["id"]:
        raise DriveError(f"The repeated record was not recognised: {repeated}.")
    said.runs["after"] = stored["answer"]
    said.note("Upload the test after the work", was_done=stored["replay"])
    reason = refused["answer"]["errors"][0]
    said.note(
        f"Be refused for a bad record ({reason['field']}: {reason['message']})",
        was_done=stored["replay"],
    )


def _with_result(phone: Phone, run_id: str) -> dict[str, Any]:
    """The run once a worker has computed it."""

    def computed() -> dict[str, Any] | None:
        reply = expect(phone.get(f"test-runs/{run_id}/"), 200, doing="reading a test run")
        run: dict[str, Any] = reply.data
        return run if run["result"] is not None else None

    return _wait_for(computed, "the result of a test run")


def _wait_for(look: Callable[[], Any], what: str) -> Any:
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        if found := look():
            return found
        time.sleep(0.2)
    raise DriveError(f"Waited {PATIENCE} s in vain for {what}. Is the worker running?")


def _signed_in(base_url: str, username: str) -> Browser:
    browser = Browser(base_url)
    browser.sign_in(reverse("office:sign_in"), username=username, password=PASSWORD)
    return browser


def _at_the_desk(base_url: str, phone: Phone, said: Drive, today: date) -> None:
    """The office accepts both tests, the inspector passes the house, the manager approves."""
    office = _signed_in(base_url, "office")
    for phase, run in said.runs.items():
        accepted = run["review"] == "accepted"
        if not accepted:
            office.submit(
                reverse("office:review_run", args=[run["id"]]),
                reverse("office:accept_test_run", args=[run["id"]]),
                {},
            )
            _check_accepted(phone, run["id"])
        said.note(f"Office accepts the test {phase} the work", was_done=accepted)
    page = reverse("office:job", args=[phone_job.job_id()])
    for state, username, verb, words, fields in (
        (
            "inspection_passed",
            "inspector",
            "record_inspection",
            "Inspector passes the house",
            {"inspection-on": today.isoformat(), "inspection-passed": "yes", "inspection-note": ""},
        ),
        ("approved", "manager", "approve_job", "Manager approves the job", {}),
    ):
        reached = _has_reached(phone, state)
        if not reached:
            action = reverse(f"office:{verb}", args=[phone_job.job_id()])
            _signed_in(base_url, username).submit(page, action, fields)
            if not _has_reached(phone, state):
                raise DriveError(f"{words}: the job did not become {state}.")
        said.note(words, was_done=reached)


def _check_accepted(phone: Phone, run_id: str) -> None:
    run = expect(phone.get(f"test-runs/{run_id}/"), 200, doing="reading a test run").data
    if run["review"] != "accepted":
        held = [one["message"] for one in run["result"]["checks"] if one["status"] != "pass"]
        raise DriveError(
            f"The test run was not accepted; its result is {run['result']['verdict']}: {held}"
        )


def _fetch_papers(base_url: str, folder: Path, said: Drive, today: date) -> None:
    """The certificate as the job page links it, and the quarter's report."""
    manager = _signed_in(base_url, "manager")
    page = reverse("office:job", args=[phone_job.job_id()])

    def printed() -> str | None:
        link = CERTIFICATE_LINK.search(expect(manager.get(page), 200, doing="the job page").text)
        return link[1] if link else None

    quarter = f"{today.year}-Q{(today.month + 2) // 3}"
    for name, address in (
        ("certificate.pdf", _wait_for(printed, "the certificate")),
        (f"report-{quarter}.csv", f"{reverse('office:report_csv')}?quarter={quarter}"),
        (f"report-{quarter}.xlsx", f"{reverse('office:report_xlsx')}?quarter={quarter}"),
    ):
        body = expect(manager.get(address), 200, doing=f"fetching {name}").body
        path = folder / name
        path.write_bytes(body)
        said.files[name] = path
