"""A letter's frozen figures become a page in its language, and the page an accessible PDF."""

from django.template.loader import render_to_string
from django.utils.translation import override

from agency.papers.assets import LETTER_STYLE
from agency.papers.printing import printed

from .models import Letter
from .sentences import day, said


def letter_html(letter: Letter) -> str:
    """The page; every word of a person is escaped by the template."""
    with override(letter.language):
        context = {
            **letter.figures,
            "language": letter.language,
            "style": LETTER_STYLE,
            "said": said(letter.kind, letter.figures),
            "written": day(letter.figures["written_on"]),
        }
        return render_to_string("papers/letter.html", context)


def letter_pdf(letter: Letter) -> bytes:
    """The letter as it is handed out."""
    return printed(letter_html(letter))
