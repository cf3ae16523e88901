"""Letters and forms of a job: made at a press, and printed from what they told then."""

from io import BytesIO
from uuid import UUID

from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from agency.errors import AgencyError
from agency.letters.models import Letter
from agency.letters.papers import letter_pdf
from agency.letters.writing import write_letter

from .access import DeskRequest, desk_only, reviewers_only
from .casework_forms import LetterForm
from .files import to_save
from .job import find_job, show_job


@require_POST
@reviewers_only
def make_letter(request: DeskRequest, pk: UUID) -> HttpResponse:
    """Write a letter or form of the job."""
    job, form = find_job(request, pk), LetterForm(request.POST, prefix="letter")
    if form.is_valid():
        try:
            letter = write_letter(pk, request.user, **form.cleaned_data)
        except AgencyError as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"{letter} is written; it stands among the letters.")
            return redirect("office:job", pk)
    return show_job(request, job, refused_way={"letter": form}, status=422)


@desk_only
def letter_file(request: DeskRequest, pk: UUID) -> FileResponse:
    """The letter as PDF, to be saved."""
    letter = get_object_or_404(Letter.objects.visible_to(request.user), pk=pk)
    return to_save(
        BytesIO(letter_pdf(letter)), name=f"{letter.number}.pdf", content_type="application/pdf"
    )
