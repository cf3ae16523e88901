"""The Celery app; its timetable stands in the settings."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "agency.config.settings")

app = Celery("hearthledger")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
