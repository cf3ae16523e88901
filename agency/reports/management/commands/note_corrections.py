"""`manage.py note_corrections`: look for changes in locked quarters now."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from agency.reports.corrections import note_corrections


class Command(BaseCommand):
    """Note what has changed in locked quarters; the timetable does the same every hour."""

    help = "Note what has changed in locked quarters since."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{note_corrections(timezone.now())} correction(s) noted.")
