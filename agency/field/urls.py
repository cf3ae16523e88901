"""Addresses of the phone pages."""

from django.urls import path

from . import shell, today

app_name = "field"
urlpatterns = [
    path("", shell.shell, name="shell"),
    path("sw.js", shell.worker, name="worker"),
    path("manifest.webmanifest", shell.manifest, name="manifest"),
    path("today", today.today, name="today"),
]
