"""`manage.py erase_household CLIENT`: shows what would be erased; with --yes it is done."""

from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from agency.errors import AgencyError
from agency.people.models import Client
from agency.retention.erasing import erase, planned

BACKUPS = (
    "Backups made before today still hold this household. Write the id on the list kept with the "
    "backups, and erase again after a restore."
)


class Command(BaseCommand):
    """Erase one household."""

    help = "Show what an erasure of this client would touch; with --yes and --reason do it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("client", type=UUID, help="id of the client, from the page's address")
        parser.add_argument("--yes", action="store_true", help="do it")
        parser.add_argument("--reason", default="", help="why, kept with the erasure")

    def handle(self, *args: Any, **options: Any) -> None:
        client = Client.objects.filter(pk=options["client"]).first()
        if client is None:
            raise CommandError(
                f"No client has the id {options['client']}. Copy it from the address of the page."
            )
        now = timezone.now()
        try:
            if not options["yes"]:
                self._tell(planned(client, now=now))
                self.stdout.write("Nothing is changed. Add --yes --reason “…” to erase.")
                return
            self._tell(erase(client, reason=options["reason"], now=now).done)
        except AgencyError as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"Client {client.pk} is erased. {BACKUPS}")

    def _tell(self, counts: dict[str, int]) -> None:
        for name, count in counts.items():
            if count:
                self.stdout.write(f"{count:6} {name}")
