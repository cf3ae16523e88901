"""A worker killed in the middle of its work, and a broker that loses everything it held."""

import os
import signal
import subprocess
import time
from collections.abc import Callable
from typing import Any

import psycopg
import pytest
import redis

from .stage import READY_WITHIN, Stage

pytestmark = [pytest.mark.services, pytest.mark.xdist_group("compose")]

UPLOAD = """
import itertools, sys
from django.utils import timezone
from agency import workflows
from agency.people.models import Crew
from tests import builders
builders._numbers = itertools.count({first})
crew = Crew.objects.get_or_create(name="Crew Alder")[0]
user = builders.make_user("crew", "casimir{first}", crew=crew)
device, _ = builders.make_device(user)
job = builders.make_job(crew=crew)
said = workflows.receive(
    device, [builders.make_document(job=job)], sent_at=None, now=timezone.now()
)
assert said[0].status == 201, said
"""


def shell(stage: Stage, code: str) -> None:
    done = stage.run("worker", ["python", "manage.py", "shell", "-c", code])
    assert done.returncode == 0, done.stderr


def until(claim: Callable[[], Any], what: str) -> None:
    deadline = time.monotonic() + READY_WITHIN
    while not claim():
        assert time.monotonic() < deadline, f"never {what}"
        time.sleep(0.1)


@pytest.fixture
def database(stage: Stage) -> psycopg.Connection[Any]:
    return psycopg.connect(stage.local["DATABASE_URL"], autocommit=True)


def state(database: psycopg.Connection[Any]) -> str:
    newest = "SELECT state FROM outbox_errand ORDER BY created_at DESC LIMIT 1"
    row = database.execute(newest).fetchone()
    return row[0] if row else "none"


def results(database: psycopg.Connection[Any]) -> int:
    row = database.execute("SELECT count(*) FROM diagnostics_result").fetchone()
    return row[0] if row else 0


def test_a_worker_killed_in_mid_task_leaves_one_result(
    stage: Stage, database: psycopg.Connection[Any]
) -> None:
    shell(stage, UPLOAD.format(first=100))
    log = (stage.folder / "log-of-doomed").open("wb")
    command = stage.local_words(stage.services["worker"]["command"])
    with psycopg.connect(stage.local["DATABASE_URL"]) as holder:
        # The result cannot be written while its test run is held: the worker is caught in mid-task.
        holder.execute("SELECT id FROM diagnostics_testrun FOR UPDATE")
        worker = subprocess.Popen(
            command,
            env=stage.environment("worker"),
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
        until(lambda: state(database) == "running", "started")
        os.killpg(worker.pid, signal.SIGKILL)
        worker.wait()
    assert (state(database), results(database)) == ("running", 0)
    database.execute("UPDATE outbox_errand SET lease_until = now(), nudged_at = NULL")
    with stage.running("worker"):
        shell(stage, "from agency.outbox.running import sweep; assert sweep() == 1")
        until(lambda: state(database) == "done", "done")
    assert results(database) == 1


def test_a_broker_that_forgets_is_survived(stage: Stage, database: psycopg.Connection[Any]) -> None:
    before = results(database)
    shell(stage, UPLOAD.format(first=200))
    redis.Redis.from_url(stage.local["BROKER_URL"]).flushdb()
    with stage.running("worker"):
        time.sleep(2)
        assert state(database) == "queued"
        database.execute("UPDATE outbox_errand SET nudged_at = now() - interval '1 minute'")
        with stage.running("beat"):
            until(lambda: state(database) == "done", "done")
    assert results(database) == before + 1
