"""Work promised to the workers that is failed, stuck or waiting."""

from django.http import HttpResponse
from django.utils import timezone

from agency.outbox.models import Errand

from .access import DeskRequest, desk_only
from .pages import page_of, render_page
from .waiting import STUCK_AFTER, stuck_errands, work_words


@desk_only
def system(request: DeskRequest) -> HttpResponse:
    """How much work waits, and every piece that needs a person."""
    now = timezone.now()
    page = page_of(stuck_errands(now).order_by("created_at", "id"), request.GET.get("page"))
    context = {
        "page": page,
        "rows": [(errand, work_words(errand)) for errand in page],
        "waiting": Errand.objects.open().count(),
        "done": Errand.objects.filter(state=Errand.State.DONE).count(),
        "stuck_minutes": round(STUCK_AFTER.total_seconds() / 60),
    }
    return render_page(request, "office/system.html", context, section="system")
