"""Every view of sensitive data leaves a row, and managers read who looked at what."""

from collections.abc import Iterable
from uuid import UUID

from django.http import HttpResponse

from agency.accounts.models import SensitiveView

from .access import DeskRequest, managers_only
from .pages import page_of, render_page


def note_view(request: DeskRequest, record: str, record_id: UUID, part: str) -> None:
    """This person is being shown `part` of a record; called before the page is made."""
    SensitiveView.objects.create(by=request.user, record=record, record_id=record_id, part=part)


def note_views(request: DeskRequest, records: Iterable[tuple[str, UUID]], part: str) -> None:
    """The same for a list, in one query."""
    SensitiveView.objects.bulk_create(
        SensitiveView(by=request.user, record=record, record_id=record_id, part=part)
        for record, record_id in records
    )


@managers_only
def sensitive_views(request: DeskRequest) -> HttpResponse:
    """Who was shown sensitive data, newest first; of one record or by one person if asked."""
    rows = SensitiveView.objects.select_related("by")
    record, person = request.GET.get("record", "").strip(), request.GET.get("person", "").strip()
    if record:
        rows = rows.filter(record__iexact=record)
    if person:
        rows = rows.filter(by__username__iexact=person)
    context = {
        "page": page_of(rows, request.GET.get("page")),
        "record": record,
        "person": person,
    }
    return render_page(request, "office/sensitive_views.html", context, section="system")
