"""Work promised to the workers that is failed or stuck, and starting it again."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from agency.errors import AgencyError
from agency.outbox.models import STUCK_AFTER, Errand

from .access import DeskRequest, desk_only, reviewers_only
from .pages import page_of, render_page


@desk_only
def system(request: DeskRequest) -> HttpResponse:
    """How much work waits, and every piece that needs a person."""
    listed = Errand.objects.needing_a_person(timezone.now()).order_by("created_at", "id")
    context = {
        "page": page_of(listed, request.GET.get("page")),
        "waiting": Errand.objects.open().count(),
        "done": Errand.objects.filter(state=Errand.State.DONE).count(),
        "stuck_minutes": round(STUCK_AFTER.total_seconds() / 60),
    }
    return render_page(request, "office/system.html", context, section="system")


@require_POST
@reviewers_only
def try_again(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Have a failed piece of work started anew."""
    errand = get_object_or_404(Errand, pk=pk)
    try:
        errand.try_again()
    except AgencyError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, f"{errand.work} will be tried again.")
    return redirect("office:system")
