"""A web server and a worker as child processes, started together and stopped together."""

import os
import secrets
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import suppress
from pathlib import Path
from threading import Event
from types import FrameType, TracebackType
from typing import IO, Any, Self

from celery import current_app
from django.conf import settings

from agency.errors import AgencyError

START_WITHIN = 60
"""[s]"""
STOP_WITHIN = 15
"""[s]"""
LOGS = settings.DATA_DIR / "demo-logs"


class StartError(AgencyError):
    """A child process did not start, or ended by itself; its log says why."""


def listen(host: str, wanted: int) -> socket.socket:
    """Listen on the wanted port, or on another that is free; nobody can take it from then on."""
    for port in (wanted, 0):
        listener = socket.socket()
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, port))
            listener.listen()
        except OSError:
            listener.close()
        else:
            return listener
    raise StartError(f"No port is free on {host}. Choose another --host.")


def port_of(listener: socket.socket) -> int:
    """The port it listens on."""
    port: int = listener.getsockname()[1]
    return port


def forget_old_messages() -> None:
    """Empty the queue: the seeded promises are kept already, their messages say nothing new."""
    current_app.control.purge()


class Services:
    """The children. Leaving the block stops them, whatever happened inside."""

    def __init__(self, *, host: str, listener: socket.socket) -> None:
        self._listener = listener
        reach = "127.0.0.1" if host in {"0.0.0.0", ""} else host
        self.base_url = f"http://{reach}:{port_of(listener)}"
        # One key for all server processes, or a page of one would be refused by the next.
        self._environment = os.environ | {
            "HEARTHLEDGER_MODE": "demo",
            "DATA_DIR": str(settings.DATA_DIR),
            "DJANGO_SETTINGS_MODULE": "agency.config.settings",
            "DJANGO_SECRET_KEY": secrets.token_urlsafe(50),
            "ALLOWED_HOSTS": ",".join({*settings.ALLOWED_HOSTS, reach}),
        }
        self._children: list[subprocess.Popen[bytes]] = []
        self._logs: list[IO[bytes]] = []
        self._told = Event()
        self._is_waiting = False
        self._handlers: dict[signal.Signals, Any] = {}

    def __enter__(self) -> Self:
        self._handlers = {
            one: signal.signal(one, self._tell) for one in (signal.SIGINT, signal.SIGTERM)
        }
        try:
            self._start("worker", _worker_command())
            self._start("web", _web_command(self._listener.fileno()))
            self._wait_until_alive()
        except BaseException:
            self._stop()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stop()

    def serve_until_told(self) -> None:
        """Wait for SIGINT or SIGTERM; StartError when a child ends by itself."""
        self._is_waiting = True
        while not self._told.wait(1.0):
            self._check_children()

    def _tell(self, number: int, frame: FrameType | None) -> None:
        """While serving, end the wait; before that, break off whatever is going on."""
        if self._told.is_set():
            return
        self._told.set()
        if not self._is_waiting:
            raise KeyboardInterrupt

    def _start(self, name: str, command: list[str]) -> None:
        """Start a child in a process group of its own, its output in a file."""
        LOGS.mkdir(parents=True, exist_ok=True)
        log = (LOGS / f"{name}.log").open("wb")
        self._logs.append(log)
        self._children.append(
            subprocess.Popen(
                command,
                cwd=settings.BASE_DIR,
                env=self._environment,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
                pass_fds=(self._listener.fileno(),) if name == "web" else (),
            )
        )

    def _wait_until_alive(self) -> None:
        end = time.monotonic() + START_WITHIN
        while time.monotonic() < end:
            self._check_children()
            if self._answers():
                return
            time.sleep(0.2)
        raise StartError(f"The web server did not answer within {START_WITHIN} s; see {LOGS}.")

    def _answers(self) -> bool:
        try:
            with urllib.request.urlopen(f"{self.base_url}/healthz", timeout=5) as answer:
                return bool(answer.status == 200)
        except (urllib.error.URLError, ConnectionError, TimeoutError):
            return False

    def _check_children(self) -> None:
        for child in self._children:
            if child.poll() is not None:
                raise StartError(
                    f"{child.args!r} ended with {child.returncode}; see the logs in {LOGS}."
                )

    def _stop(self) -> None:
        """Ask each group to end, then make it."""
        self._listener.close()
        for child in self._children:
            _signal_group(child, signal.SIGTERM)
        end = time.monotonic() + STOP_WITHIN
        for child in self._children:
            with suppress(subprocess.TimeoutExpired):
                child.wait(max(0.1, end - time.monotonic()))
        for child in self._children:
            # The leader may be gone and a child of its own still there.
            _signal_group(child, signal.SIGKILL)
            child.wait()
        for log in self._logs:
            log.close()
        for number, handler in self._handlers.items():
            signal.signal(number, handler)


def _signal_group(child: "subprocess.Popen[bytes]", number: signal.Signals) -> None:
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(child.pid, number)


def _worker_command() -> list[str]:
    schedule = Path(settings.DATA_DIR) / "demo-logs" / "beat-schedule"
    return [
        sys.executable, "-m", "celery", "-A", "agency.config", "worker", "-B",
        "--schedule", str(schedule), "--concurrency", "1", "--pool", "solo",
        "--without-gossip", "--without-mingle", "--loglevel", "WARNING",
    ]  # fmt: skip


def _web_command(descriptor: int) -> list[str]:
    return [
        sys.executable, "-m", "gunicorn", "agency.config.wsgi", "--bind", f"fd://{descriptor}",
        "--workers", "1", "--threads", "4", "--log-level", "warning",
    ]  # fmt: skip
