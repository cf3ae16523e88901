"""A quarter's report and the board's packet as PDF, from the words of the screen."""

from typing import Any

from django.template.loader import render_to_string
from django.utils import timezone

from agency.papers.assets import QUARTER_STYLE
from agency.papers.printing import printed
from agency.programs.models import Agency
from agency.wording import words

from .board_words import board_sentences
from .disclosure import Telling
from .pictures import flows_picture, reductions_picture, spread_picture, units_picture
from .quarter import QuarterReport
from .report_words import report_words

MOST_HOMES = 400
"""Homes listed on paper; more are in the workbook. Own choice: about twelve pages."""


def report_html(report: QuarterReport, telling: Telling, *, paper: str) -> str:
    """The report's page before it is printed. `paper`: letter or a4."""
    said = report_words(report, telling)
    context = {
        **_common(report, telling, paper),
        "words": said,
        "homes": said.homes[:MOST_HOMES],
        "not_listed": max(0, len(said.homes) - MOST_HOMES),
        "spread": spread_picture(report, telling),
        "flows": flows_picture(report, telling),
    }
    return render_to_string("papers/quarter.html", context)


def board_html(report: QuarterReport, telling: Telling, *, paper: str) -> str:
    """The packet's page before it is printed: words, four charts, three tables."""
    context = {
        **_common(report, telling, paper),
        "words": report_words(report, telling),
        "said": board_sentences(report, telling),
        "charts": [
            ("How the homes differ", spread_picture(report, telling)),
            ("All flow before and after", flows_picture(report, telling)),
            ("By housing type", reductions_picture(report, "dwelling", telling)),
            ("Where the homes stand", units_picture(report, "county", telling)),
        ],
    }
    return render_to_string("papers/board.html", context)


def report_pdf(report: QuarterReport, telling: Telling, *, paper: str) -> bytes:
    """The report as PDF."""
    return printed(report_html(report, telling, paper=paper))


def board_pdf(report: QuarterReport, telling: Telling, *, paper: str) -> bytes:
    """The board's packet as PDF."""
    return printed(board_html(report, telling, paper=paper))


def _common(report: QuarterReport, telling: Telling, paper: str) -> dict[str, Any]:
    zone = timezone.get_current_timezone()
    agency = Agency.objects.first()
    return {
        "style": QUARTER_STYLE,
        "paper": paper,
        "report": report,
        "agency": agency.name if agency else "",
        "made": words.moment(report.made_at, zone),
        "made_iso": words.iso(report.made_at, zone),
        "withholds": not telling.lists_homes,
        "locked": words.moment(report.lock.at, zone) if report.lock else "",
    }
