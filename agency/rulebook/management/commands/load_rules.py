"""`manage.py load_rules`: add rules that came with a new version."""

from typing import Any

from django.core.management.base import BaseCommand

from agency.rulebook.loading import load_shipped
from agency.rulebook.models import Rule


class Command(BaseCommand):
    """Add shipped rules the database does not hold yet."""

    help = "Add shipped rules the database does not hold yet; corrected rows stay as they are."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{load_shipped(Rule)} rule(s) added.")
