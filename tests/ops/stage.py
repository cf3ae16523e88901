"""The services of docker-compose.yml on the PostgreSQL and Redis of this machine."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection, HTTPResponse
from pathlib import Path

from .compose import ROOT, filled_in

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
