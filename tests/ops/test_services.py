"""The commands of docker-compose.yml, run here: each service starts, and its check is truthful."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection, HTTPResponse
from pathlib import Path

import psycopg
import pytest
import redis

from .compose import ROOT, filled_in

pytestmark = [pytest.mark.services, pytest.mark.xdist_group("compose")]

POSTGRES = "postgres://postgres@127.0.0.1:5432"
HOST = "office.example.org"
READY_WITHIN = 60
"""How long a service may take until its check passes on a busy machine. [s]"""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Stage:
    """The services as Compose would run them, on the PostgreSQL and Redis of this machine."""

    def __init__(self, folder: Path, *, database: str, broker: str) -> None:
        self.port = free_port()
        self.folder = folder
        self.services = filled_in(
            {
                "DJANGO_SECRET_KEY": "key-of-a-test-that-lasts-a-minute-and-guards-nothing",
                "POSTGRES_PASSWORD": "unused-here",
                "ALLOWED_HOSTS": HOST,
            }
        )
        self.local = {
            "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
            "HOSTNAME": socket.gethostname(),
            "DATABASE_URL": f"{POSTGRES}/{database}",
            "BROKER_URL": broker,
            "DATA_DIR": str(folder / "data"),
            "TMPDIR": str(folder),
        }

    def environment(self, service: str) -> dict[str, str]:
        return {**self.services[service]["environment"], **self.local}

    def local_words(self, words: list[str]) -> list[str]:
        """The same command with this test's port and folder in place of the container's."""
        return [
            word.replace(":8000", f":{self.port}").replace("/tmp", str(self.folder))
            for word in words
        ]

    def check(self, service: str) -> bool:
        """Does the service's own health check pass just now?"""
        kind, *words = self.local_words(self.services[service]["healthcheck"]["test"])
        command = ["/bin/sh", "-c", *words] if kind == "CMD-SHELL" else words
        done = subprocess.run(
            command, env=self.environment(service), cwd=ROOT, capture_output=True, check=False
        )
        return done.returncode == 0

    def run(self, service: str, command: list[str]) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            command,
            env=self.environment(service),
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )

    @contextmanager
    def running(self, service: str) -> Iterator[subprocess.Popen[bytes]]:
        """The service, from its first passing check until the block ends."""
        log = self.folder / f"log-of-{service}"
        with (
            log.open("wb") as output,
            subprocess.Popen(
                self.local_words(self.services[service]["command"]),
                env=self.environment(service),
                cwd=ROOT,
                stdout=output,
                stderr=output,
            ) as process,
        ):
            try:
                deadline = time.monotonic() + READY_WITHIN
                while not self.check(service):
                    assert process.poll() is None, log.read_text()
                    assert time.monotonic() < deadline, log.read_text()
                    time.sleep(0.5)
                yield process
            finally:
                process.send_signal(signal.SIGTERM)
                process.wait(timeout=30)

    def ask(self, path: str, headers: dict[str, str]) -> HTTPResponse:
        connection = HTTPConnection("127.0.0.1", self.port, timeout=10)
        try:
            connection.request("GET", path, headers={"Host": HOST, **headers})
            answer = connection.getresponse()
            answer.read()
            return answer
        finally:
            connection.close()


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stage]:
    """A migrated database of its own, and a Redis database of its own."""
    worker = os.environ.get("PYTEST_XDIST_WORKER", "gw0")
    database = f"hearthledger_compose_{os.getpid()}"
    broker = f"redis://127.0.0.1:6379/{15 - int(worker.removeprefix('gw')) % 8}"
    try:
        admin = psycopg.connect(f"{POSTGRES}/postgres", autocommit=True)
        queue = redis.Redis.from_url(broker)
        queue.ping()
    except (psycopg.OperationalError, redis.ConnectionError) as error:
        pytest.skip(f"needs PostgreSQL (user postgres) and Redis on 127.0.0.1: {error}")
    with admin, queue:
        admin.execute(f"CREATE DATABASE {database}")
        queue.flushdb()
        try:
            stage = Stage(tmp_path_factory.mktemp("compose"), database=database, broker=broker)
            migrated = stage.run("migrate", stage.services["migrate"]["command"])
            assert migrated.returncode == 0, migrated.stdout + migrated.stderr
            collected = stage.run("migrate", ["python", "manage.py", "collectstatic", "--no-input"])
            assert collected.returncode == 0, collected.stdout + collected.stderr
            yield stage
        finally:
            queue.flushdb()
            admin.execute(f"DROP DATABASE {database} WITH (FORCE)")


def test_migrating_again_changes_nothing(stage: Stage) -> None:
    """Every `docker compose up` runs the migrations."""
    again = stage.run("migrate", stage.services["migrate"]["command"])
    assert (again.returncode, "No migrations to apply." in again.stdout) == (0, True)


def test_web_answers_its_check_and_insists_on_https(stage: Stage) -> None:
    """Plain HTTP, a strange Host and a page's style sheet, by its content's name."""
    assert not stage.check("web")
    (style_sheet,) = (stage.folder / "data/static/css").glob("base.*.css")
    with stage.running("web"):
        plain = stage.ask("/", {})
        assert (plain.status, plain.headers["Location"]) == (301, f"https://{HOST}/")
        behind_proxy = stage.ask("/", {"X-Forwarded-Proto": "https"})
        assert behind_proxy.status == 302
        assert "max-age=31536000" in behind_proxy.headers["Strict-Transport-Security"]
        stranger = stage.ask("/", {"Host": "elsewhere.example", "X-Forwarded-Proto": "https"})
        assert stranger.status == 400
        style = stage.ask(f"/static/css/{style_sheet.name}", {"X-Forwarded-Proto": "https"})
        assert (style.status, style.headers.get_content_type()) == (200, "text/css")
    assert not stage.check("web")


def test_beat_and_worker_keep_the_timetable(stage: Stage) -> None:
    """Beat puts the sweep on the queue, the worker takes it off, and both checks are truthful."""
    assert not stage.check("beat")
    log = stage.folder / "log-of-worker"
    with stage.running("worker"), stage.running("beat"):
        deadline = time.monotonic() + READY_WITHIN
        while not re.search(r"agency\.outbox\.tasks\.sweep_outbox\[.*succeeded", log.read_text()):
            assert time.monotonic() < deadline, log.read_text()
            time.sleep(0.5)
    three_minutes_ago = time.time() - 3 * 60
    os.utime(stage.folder / "beat-is-alive", (three_minutes_ago, three_minutes_ago))
    assert not stage.check("beat")
    assert not stage.check("worker")
