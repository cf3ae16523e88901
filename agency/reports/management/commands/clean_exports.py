"""`manage.py clean_exports`: throw away files whose time is over."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from agency.reports.export_files import clean_exports


class Command(BaseCommand):
    """Delete expired files; the timetable does the same every hour."""

    help = "Delete the files of exports that have expired."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{clean_exports(timezone.now())} file(s) thrown away.")
