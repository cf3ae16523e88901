"""`manage.py check_quarter 2026-Q3`: work a locked quarter out again and compare the hashes."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from agency.reports.locking import recomputed
from agency.reports.models import LockedQuarter
from agency.reports.quarter import EDITION


class Command(BaseCommand):
    """Recompute a locked quarter from its frozen evidence; exit status 1 when it differs."""

    help = "Recompute a locked quarter from what was frozen and compare SHA-256 hashes."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("quarter", help="as 2026-Q3 or QM-26-01-2")
        parser.add_argument("--grant", default="", help="number of the grant it was locked for")

    def handle(self, *args: Any, **options: Any) -> None:
        code, grant = options["quarter"], options["grant"]
        found = LockedQuarter.objects.filter(code=code)
        locked = (found.filter(grant=grant) if grant else found).first()
        if locked is None:
            known = ", ".join(map(str, LockedQuarter.objects.all())) or "none"
            raise CommandError(f"{code} is not locked. Locked quarters: {known}.")
        again = recomputed(locked)
        self.stdout.write(f"{locked}, locked {locked.locked_at:%Y-%m-%d} by {locked.locked_by}")
        self.stdout.write(f"written down  {again.stored}")
        self.stdout.write(f"kept figures  {again.kept}")
        self.stdout.write(f"worked out    {again.anew}")
        if again.agrees:
            self.stdout.write("The same.")
            return
        if not again.evidence_holds:
            raise CommandError("The frozen evidence no longer has the hash written down.")
        if again.edition != EDITION:
            raise CommandError(
                f"It was locked by edition {again.edition} of the report; this program makes "
                f"edition {EDITION}. Check it with a program of that edition."
            )
        raise CommandError("The figures differ from those that were locked.")
