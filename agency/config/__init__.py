"""Wiring: the only package that knows all the others."""

from .celery import app

__all__ = ["app"]
