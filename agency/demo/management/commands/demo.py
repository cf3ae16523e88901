"""Start everything on this machine, drive one job through it, and keep serving."""

import logging
from argparse import ArgumentParser
from io import StringIO
from typing import Any

from django.conf import settings
from django.core.management import BaseCommand, CommandError, call_command
from django.utils import timezone

from agency.demo.phone import drive
from agency.demo.printout import driven_lines, problem_lines, seeded_lines, serving_lines
from agency.demo.seed import seed
from agency.demo.services import Services, forget_old_messages, listen, port_of
from agency.errors import AgencyError

OUTPUT = settings.DATA_DIR / "demo-output"


class Command(BaseCommand):
    """`manage.py demo`: an invented agency, a web server, a worker, and a phone that uses them."""

    help = "Fill an empty database with an invented agency, serve it, and drive one job through it."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Where to serve, and whether to stop after the printout."""
        parser.add_argument("--host", default="127.0.0.1", help="Address to serve on.")
        parser.add_argument("--port", type=int, default=8000, help="Port to serve on.")
        parser.add_argument(
            "--once", action="store_true", help="Stop after the job is driven and printed."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Seed, serve, drive, print."""
        if settings.MODE != "demo":
            raise CommandError(
                f"HEARTHLEDGER_MODE is {settings.MODE}. The demo fills a database with invented "
                "people; set HEARTHLEDGER_MODE=demo and give it a database of its own."
            )
        try:
            self._run(host=options["host"], wanted=options["port"], once=options["once"])
        except AgencyError as problem:
            raise CommandError("\n".join([str(problem), *problem_lines()])) from problem
        except KeyboardInterrupt:
            raise CommandError("Stopped before the job was driven.", returncode=130) from None

    def _run(self, *, host: str, wanted: int, once: bool) -> None:
        # The queue is a folder; it has no host to be told of.
        logging.getLogger("kombu.connection").setLevel(logging.ERROR)
        self._prepare()
        listener = listen(host, wanted)
        port = port_of(listener)
        if port != wanted:
            self.stdout.write(f"Port {wanted} is taken; using {port} instead.")
        with Services(host=host, listener=listener) as services:
            self._drive(services.base_url)
            for line in serving_lines(services.base_url):
                self.stdout.write(line)
            if not once:
                self.stdout.write("Serving. Press Ctrl-C to stop.")
                self.stdout.flush()
                services.serve_until_told()

    def _prepare(self) -> None:
        """Tables, rules, records."""
        call_command("migrate", interactive=False, verbosity=0)
        call_command("load_rules", stdout=StringIO())
        self.stdout.write("Preparing the invented agency; the first time takes about a minute ...")
        self.stdout.flush()
        seeded = seed(timezone.now())
        if not seeded.was_there:
            forget_old_messages()
        for line in seeded_lines(seeded):
            self.stdout.write(line)

    def _drive(self, base_url: str) -> None:
        driven = drive(base_url, OUTPUT, today=timezone.localdate())
        for line in driven_lines(driven):
            self.stdout.write(line)
