"""What is asked of a visit as a whole: cautions before the fan, gauge and hoses, swapped sides."""

from ..cautions import BY_CODE, CAUTIONS, DEFER, Caution
from ..document_parts import TestDocument
from ..evaluation import Check, Context, Stop
from .book import Book


def visit_checks(document: TestDocument, context: Context, book: Book) -> list[Check]:
    """Everything that is asked of the visit rather than of the readings."""
    checks = gauge_check_checks(document, context, book) + swap_checks(document, context, book)
    return checks + caution_checks(document, book)


def caution_checks(document: TestDocument, book: Book) -> list[Check]:
    """Hazards nobody looked for before the fan ran, and those that were found."""
    if not document.form.moves_air:
        return []
    left = [one.look_for for one in CAUTIONS if one.code not in document.cautions]
    # A document that says nothing of cautions leaves them unknown, which is not the same as open.
    answered = bool(document.cautions)
    open_ones = float(len(left)) if answered else None
    words = f"Not answered before the fan ran: {'; '.join(left)}." if answered else ""
    checks = book.check("caution.unanswered", open_ones, field="cautions", message=words)
    for one in _present(document):
        text = f"{one.look_for}: found. {one.act} {DEFER}"
        field = f"cautions.{one.code}"
        checks += book.complaint("caution.present", 1.0, field=field, message=text)
    return checks


def caution_stops(document: TestDocument, book: Book) -> list[Stop]:
    """A safety stop for each hazard that forbids the test as it was made."""
    return [
        Stop(
            hazard=f"caution.{one.code}",
            words=f"{one.look_for}: found before the test “{document.form.title}”.",
            steps=(one.act,),
            cautions=DEFER,
        )
        for one in _present(document)
        if one.weight == "stop" or (one.weight == "no_depressurization" and _draws_down(document))
    ]


def gauge_check_checks(document: TestDocument, context: Context, book: Book) -> list[Check]:
    """Whether the gauge's zero and hoses were checked on this visit."""
    if document.gauge is None or document.kind == "gauge_check":
        return []
    if context.gauge_checks is None:
        return book.check("gauge-check.recorded", None, field="gauge.serial")
    mine = [one for one in context.gauge_checks if one.serial == document.gauge.serial]
    good = float(sum(one.answer == "met" for one in mine))
    words = f"{len(mine)} of this gauge on this visit, {good:.0f} of them good."
    return book.check(
        "gauge-check.recorded",
        good,
        field="gauge.serial",
        message=f"Checks of zero and hoses: {words}",
    )


def swap_checks(document: TestDocument, context: Context, book: Book) -> list[Check]:
    """Every change-over of a channel's sides, by the crew or by a reviewer."""
    told = [f"Sides of channel {one.channel} swapped by the crew: {one.reason}." for one in
            document.swaps]  # fmt: skip
    told += [
        f"Sides of channel {channel} turned by a reviewer; its readings are used with the other "
        "sign."
        for channel in sorted(context.swapped)
    ]
    return [
        check
        for words in told
        for check in book.complaint("gauge.swapped", 1.0, field="swaps", message=words)
    ]


def sign_check(book: Book, value: float, *, sign: int, field: str, label: str) -> list[Check]:
    """A reading with the other sign than its hook-up card expects; zero has none."""
    wrong = value * sign < 0
    side = "above" if sign > 0 else "below"
    words = (
        f"{label} reads {value:.1f} Pa; by the hook-up card it is {side} zero. The input and the "
        "reference side may be swapped."
    )
    return book.complaint("reading.expected-sign", 1.0 if wrong else 0.0, field=field,
                          message=words)  # fmt: skip


def _present(document: TestDocument) -> list[Caution]:
    found = [code for code, answer in document.cautions.items() if answer == "present"]
    return [BY_CODE[code] for code in found if code in BY_CODE]


def _draws_down(document: TestDocument) -> bool:
    """Pressures of the house go below outdoors, unless the document says otherwise."""
    return getattr(document, "direction", "depressurization") != "pressurization"
