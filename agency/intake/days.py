"""Counting months on the calendar."""

import calendar
from datetime import date


def months_after(day: date, months: int) -> date:
    """The same day so many months later; the month's last where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def months_before(day: date, months: int) -> date:
    """The same day so many months earlier."""
    return months_after(day, -months)
