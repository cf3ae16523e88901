"""What every desk page needs: its frame, its place in the navigation, and long lists in pages."""

from collections.abc import Sequence
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import render

from agency.diagnostics.models import TestRun

from .access import DeskRequest

ROWS_A_PAGE = 50


def render_page(
    request: DeskRequest,
    template: str,
    context: dict[str, Any],
    *,
    section: str,
    status: int = 200,
) -> HttpResponse:
    """A page inside the frame, with the number of test runs to review beside its link."""
    frame = {"section": section, "to_review": TestRun.objects.to_review().count()}
    return render(request, template, frame | context, status=status)


def page_of(rows: "QuerySet[Any] | Sequence[Any]", wanted: str | None) -> "Page[Any]":
    """One page of a list; a page that does not exist shows the nearest."""
    return Paginator(rows, ROWS_A_PAGE).get_page(wanted)
