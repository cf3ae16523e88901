"""Letters and forms: what each says, in both languages, and how it looks to a machine."""

import ast
import gettext
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.utils.translation import gettext as translated
from django.utils.translation import override
from django.utils.translation.template import templatize

from agency.errors import ActionRefused
from agency.jobs.models import Booking
from agency.letters import sentences
from agency.letters.models import Letter
from agency.letters.papers import letter_html, letter_pdf
from agency.letters.writing import write_letter
from tests.casework_records import make_booking, make_deferral, make_letter, make_proof, make_visit
from tests.papers.reading import read

pytestmark = pytest.mark.django_db
CATALOGUE = Path(sentences.__file__).parent / "locale/es/LC_MESSAGES/django"
ENTRY = re.compile(r'^(?:msgctxt "(.+)"\n)?msgid "(.+)"\nmsgstr "(.+)"$', re.MULTILINE)


def written():
    """The catalogue as people edit it; a context stands before its message."""
    entries = ENTRY.findall(CATALOGUE.with_suffix(".po").read_text(encoding="utf-8"))
    plain = ast.literal_eval
    return {
        (f"{context}\x04" if context else "") + plain(f'"{said}"'): plain(f'"{meant}"')
        for context, said, meant in entries
    }


def asked():
    """Every message of the sentences and of the template."""
    tree = ast.parse(Path(sentences.__file__).read_text(encoding="utf-8"))
    found = {
        node.args[0].value
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id in {"_", "gettext_noop"}
        and isinstance(node.args[0], ast.Constant)
    }
    page = templatize((settings.BASE_DIR / "templates/papers/letter.html").read_text())
    found |= {f"letter\x04{one}" for one in re.findall(r"pgettext\(u'letter', u'([^']+)'\)", page)}
    found |= set(re.findall(r" gettext\(u?'([^']+)'\)", page))
    return found


def test_compiled_catalogue_says_what_the_written_one_says():
    with CATALOGUE.with_suffix(".mo").open("rb") as file:
        compiled = gettext.GNUTranslations(file)._catalog
    assert {said: meant for said, meant in compiled.items() if said} == written()


def test_every_message_is_translated_and_none_is_left_over():
    assert len(asked()) > 80
    assert asked() == set(written())


def test_translations_keep_every_placeholder():
    for said, meant in written().items():
        assert sorted(re.findall(r"%\(\w+\)s", said)) == sorted(re.findall(r"%\(\w+\)s", meant))


def test_no_other_catalogue_speaks_in_place_of_ours():
    ours = {said: meant for said, meant in written().items() if "\x04" not in said}
    with override("es"):
        assert {said: translated(said) for said in ours} == ours


@pytest.fixture
def job(make_job, agency):
    """A job whose household reads Spanish."""
    job = make_job(status="in_progress")
    job.client.language = "es"
    job.client.save()
    return job


def write(job, cast, kind, language="en"):
    return write_letter(job.pk, cast.office, kind=kind, language=language)


def appointment(job, cast):
    booking = make_booking(make_visit(job, "test_in"), cast.office)
    Booking.objects.filter(pk=booking.pk).update(
        starts_at="2099-11-23T15:00Z", ends_at="2099-11-23T18:30Z"
    )


def test_appointment_says_when_who_and_what_to_get_ready(job, cast):
    appointment(job, cast)
    reader, pages = read(letter_pdf(write(job, cast, "appointment")))
    assert reader.trailer["/Root"]["/Lang"] == "en-US"
    assert "/StructTreeRoot" in reader.trailer["/Root"]
    for said in (
        "Your appointment",
        "Test before the work",
        "Monday, November 23, 2099",
        "9:00 AM to 12:30 PM",
        "Crew Alder",
        "take out the ashes",
        "You do not lose your place.",
        "555-0100",
        "Page 1 of 1",
    ):
        assert said in pages[0], said
    assert len(pages) == 1


def test_spanish_appointment_tells_the_same_in_spanish(job, cast):
    appointment(job, cast)
    reader, pages = read(letter_pdf(write(job, cast, "appointment", "es")))
    assert reader.trailer["/Root"]["/Lang"] == "es-US"
    for said in (
        "Su cita",
        "Prueba antes de la obra",
        "lunes 23 de noviembre de 2099",
        "de 9:00 a 12:30",
        "saque las cenizas",
        "Página 1 de 1",
    ):
        assert said in pages[0], said
    assert "Please" not in pages[0]


def test_an_appointment_needs_a_booking(job, cast):
    with pytest.raises(ActionRefused, match="Book one on the schedule first"):
        write(job, cast, "appointment")


def test_deferral_notice_says_why_cure_review_and_appeal(job, cast):
    make_deferral(job, cast.inspector)
    (page,) = read(letter_pdf(write(job, cast, "deferral")))[1]
    for said in (
        "This is not a denial: you keep your place.",
        "Water or mold",
        "Unsafe wiring",
        "A roofer mends the roof.",
        "County repair fund, 555-0188.",
        "Monday, February 1, 2027",
        "You may appeal: Write to the board at the same address.",
        "Read by the client",
    ):
        assert said in page, said


def test_what_a_letter_told_stays_when_the_records_change(job, cast):
    deferral = make_deferral(job, cast.inspector)
    letter = write(job, cast, "deferral")
    deferral.cure = "Something else."
    deferral.save()
    assert "A roofer mends the roof." in letter_html(Letter.objects.get(pk=letter.pk))


def test_a_deferral_notice_needs_a_deferral(job, cast):
    with pytest.raises(ActionRefused, match="has no deferral"):
        write(job, cast, "deferral")


def test_work_order_repeats_what_is_on_file(job, cast):
    with pytest.raises(ActionRefused, match="no list of measures on file"):
        write(job, cast, "work_order")
    make_proof(job, cast.office, "measures", words="Air sealing\nAttic to R-49")
    make_proof(job, cast.office, "costs_by_fund", words="Grant QM-26-01: $3,150")
    (page,) = read(letter_pdf(write(job, cast, "work_order")))[1]
    for said in ("Air sealing", "Attic to R-49", "Grant QM-26-01: $3,150", "not planned yet"):
        assert said in page, said


def test_permission_asks_the_owner_in_plain_words(job, cast):
    (page,) = read(letter_pdf(write(job, cast, "permission", "es")))[1]
    for said in ("Permiso del dueño", "no sube la renta", "Dirección y teléfono del dueño"):
        assert said in page, said


def test_inspection_form_is_empty_before_and_filled_in_after(job, cast):
    (empty,) = read(letter_pdf(write(job, cast, "inspection")))[1]
    assert "Attempt 1" in empty
    assert "Passed" not in empty
    assert "None" not in empty
    visit = make_visit(job, "final_inspection", crew=None, inspector=cast.inspector)
    job.final_inspections.create(
        visit=visit,
        attempt=1,
        inspector=cast.inspector,
        independence="independent",
        basis="own_test",
        has_passed=False,
        signed_as="I. Pellworth",
    )
    job.findings.create(
        visit=visit, severity="safety", words="Alarm missing.", found_by=cast.inspector
    )
    (form,) = read(letter_pdf(write(job, cast, "inspection")))[1]
    for said in ("Failed", "I. Pellworth", "Own new test", "Health and safety: Alarm missing."):
        assert said in form, said


def test_letters_are_numbered_one_after_the_other(job, cast):
    numbers = [write(job, cast, "permission").number for _ in range(2)]
    assert numbers == [f"{job.number}-L1", f"{job.number}-L2"]


def test_what_a_person_typed_is_never_a_tag(job, cast):
    make_deferral(job, cast.inspector, cure='<img src="http://127.0.0.1/x"> & "quotes"')
    page = letter_html(write(job, cast, "deferral"))
    assert "<img" not in page
    assert "&lt;img" in page


@pytest.mark.parametrize("kind", ["permission"])
def test_a_letter_is_fetched_by_the_desk_only(sign_in, cast, make_job, kind):
    letter = make_letter(make_job(), cast.office, kind)
    address = f"/office/letters/{letter.pk}/file"
    answer = sign_in(cast.inspector).get(address)
    assert b"".join(answer.streaming_content)[:5] == b"%PDF-"
    assert f'filename="{letter.number}.pdf"' in answer["Content-Disposition"]
    assert sign_in(cast.crew_lead).get(address).status_code == 404
