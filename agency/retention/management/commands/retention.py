"""`manage.py retention`: lists case files whose time is over; with --erase they are erased."""

from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from agency.errors import AgencyError
from agency.retention.erasing import erase
from agency.retention.keeping import due_files


class Command(BaseCommand):
    """Erase case files whose time is over."""

    help = "List case files kept long enough by the rules of the day; with --erase, erase them."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--on", type=date.fromisoformat, help="as if today were this day")
        parser.add_argument("--erase", action="store_true", help="do it")

    def handle(self, *args: Any, **options: Any) -> None:
        today = timezone.localdate()
        on = options["on"] or today
        if options["erase"] and on > today:
            self.stderr.write(f"{on} has not come yet; nothing is erased before its time.")
            return
        due = due_files(on=on)
        for kept in due:
            self.stdout.write(f"{kept.client.pk}  kept until {kept.until}: {kept.why}")
            if options["erase"]:
                self._erase(kept.client, f"Retention: {kept.why}")
        did = "erased" if options["erase"] else "due; nothing is changed without --erase"
        self.stdout.write(f"{len(due)} file(s) {did}.")

    def _erase(self, client: Any, reason: str) -> None:
        try:
            erase(client, reason=reason[:240], now=timezone.now())
        except AgencyError as refusal:
            self.stderr.write(f"{client.pk}: {refusal}")
