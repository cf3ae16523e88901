"""Check that every issued certificate is as it was issued, and that none is missing."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from agency.certificates.checking import faults
from agency.certificates.models import Certificate


class Command(BaseCommand):
    """`manage.py check_certificates`: prints the end of the chain, fails when anything changed."""

    help = "Checks figures, files and the hash chain of all issued certificates."

    def handle(self, *args: Any, **options: Any) -> None:
        """Name every fault, then say how the check ended."""
        found = list(faults())
        for fault in found:
            self.stderr.write(fault)
        if found:
            raise CommandError(f"{len(found)} fault(s) found. Restore the rows from a backup.")
        last = Certificate.objects.in_order().last()
        if last is None:
            self.stdout.write("No certificate is issued yet.")
            return
        self.stdout.write(
            f"{last.position} certificate(s), all as issued. "
            f"The chain ends with {last.number}, {last.chain_hash}."
        )
