#!/usr/bin/env python
"""Run a management command, for example `manage.py demo`."""

import os
import sys

TRYING_OUT = {"demo", "evaluate"}
"""Commands for someone who has set nothing up: they need no secrets and touch no real data."""


def main() -> None:
    """Hand the command line to Django."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "agency.config.settings")
    if TRYING_OUT.intersection(sys.argv[1:2]):
        os.environ.setdefault("HEARTHLEDGER_MODE", "demo")
    from django.core.management import execute_from_command_line  # noqa: PLC0415

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
