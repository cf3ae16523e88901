"""The certificate as it is read: its words, its tags, and what it must never do or say."""

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import page as validator
import pytest

from agency.certificates.figures import certificate_figures
from agency.certificates.papers import certificate_html, certificate_pdf
from agency.certificates.sentences import air_said, savings_said
from agency.errors import ActionRefused
from agency.jobs.models import Job
from agency.programs.models import Agency
from tests.builders import make_comparison
from tests.papers.reading import HOSTILE, Canary, read

from .conftest import FIGURES, estimate_for


def with_air(numbered: dict[str, Any], **changes: Any) -> dict[str, Any]:
    return {**numbered, "air": {**numbered["air"], **changes}}


def test_first_page_tells_the_result_and_second_how_to_read_it(numbered: dict[str, Any]) -> None:
    _, pages = read(certificate_pdf(numbered))
    assert len(pages) == 2
    for said in (
        "Quillmoor County Home Energy Office",
        "555-0100",
        "12 Larkspur Lane, 2B",
        "May 12, 2026",
        "QC-2026-0003-C1",
        "7K3M-Q2XD",
        "Ignatius Penhallow, certificate no. FI-0155",
        "2,310 cfm",
        "1,898 cfm",
        "412 cfm less, 18 %",
        "18 % less air leaks through this home",
        "Very likely between 14 % and 22 % less",
        "$120 to $210 a year",
        "This is an estimate. Your bills depend on weather, prices and how you live.",
        "Never block vents, and never switch off the ventilation fan",
        "local emergency number",
    ):
        assert said in pages[0], said
    for said in (
        "not a promise",
        "does not say that a furnace, water heater, stove or fireplace is safe",
        "not a building code approval, a real estate appraisal or an energy rating",
        "puts in or moves something that burns fuel",
        "Kitchen: new fan that leads outdoors",
        "A quiet fan in the bathroom runs all day.",
        "Smoke alarm in the hall: replace in 2036",
        "by lead-safe methods",
        "put right without charge until May 12, 2027",
        "weatherized again with the same public funds from May 12, 2041",
        "Complaint or appeal: Not content? Write to the director, or call 555-0190.",
        "¿Prefiere leer esto en español? Llame al 555-0100.",
        "https://office.quillmoor.example/verify/7K3M-Q2XD",
    ):
        assert said in pages[1], said


def test_never_passes_combustion_safety(numbered: dict[str, Any]) -> None:
    text = " ".join(read(certificate_pdf(numbered))[1]).lower()
    for said in ("passed", "is safe to use", "safe at the time", "certified safe"):
        assert said not in text


@pytest.mark.parametrize("verdict", ["not_comparable", "no_before", "no_after"])
def test_without_comparable_tests_it_says_not_measured_and_no_percent(
    numbered: dict[str, Any], verdict: str
) -> None:
    air = {"reduction": None, "low": None, "high": None, "verdict": verdict, "is_clear": False}
    if verdict != "no_after":
        air |= {"before": None}
    if verdict != "no_before":
        air |= {"after": None}
    figures = {**with_air(numbered, **air), "savings": None}
    _, pages = read(certificate_pdf(figures))
    assert "not measured" in pages[0]
    assert "%" not in pages[0]
    assert "$" not in pages[0]
    assert "Not estimated" in pages[0]


def test_figures_hide_what_cannot_be_compared(ready_job: Job, agency: Agency) -> None:
    """A stored reduction and a stored estimate do not reach the paper of such a job."""
    comparison = ready_job.comparisons.get()
    comparison.verdict = "not_comparable"
    figures = certificate_figures(ready_job, comparison, ready_job.estimates.get(), agency)
    air = figures["air"]
    assert (air["before"], air["after"], air["reduction"], air["low"]) == (None,) * 4
    assert figures["savings"] is None


def test_figures_are_plain_data_without_people(ready_job: Job, agency: Agency) -> None:
    figures = certificate_figures(
        ready_job, ready_job.comparisons.get(), ready_job.estimates.get(), agency
    )
    text = json.dumps(figures, allow_nan=False)
    assert ready_job.client.name not in text
    assert "Casimir" not in text
    assert figures["air"]["reduction"] == pytest.approx(412 / 2310)
    assert figures["air"]["before_on"] == "2026-04-14"


def test_interval_of_the_comparison_is_printed_as_stored(ready_job: Job, agency: Agency) -> None:
    comparison = ready_job.comparisons.get()
    comparison.figures = {"share": {"value": 0.178, "low": 0.12, "high": 0.23}}
    figures = certificate_figures(ready_job, comparison, ready_job.estimates.get(), agency)
    assert (figures["air"]["low"], figures["air"]["high"]) == (0.12, 0.23)


def test_change_that_cannot_be_told_prints_no_single_percent(numbered: dict[str, Any]) -> None:
    air = {
        **numbered["air"],
        "verdict": "not_detectable",
        "is_clear": False,
        "reduction": 0.02,
        "low": -0.03,
        "high": 0.07,
    }
    said = air_said(air)
    assert said.headline == "No change that the tests can tell"
    assert "3\u202f% more and 7\u202f% less" in said.sentence
    page = certificate_html({**numbered, "air": air})
    assert "too close to tell" in page


@pytest.mark.parametrize(
    ("reduction", "low", "high", "is_clear"),
    [(0.0, -0.01, 0.01, False), (-0.25, -0.3, -0.2, True), (-0.02, -0.06, 0.02, False)],
)
def test_saving_is_printed_only_beside_a_clear_change(
    ready_job: Job, agency: Agency, *, reduction: float, low: float, high: float, is_clear: bool
) -> None:
    """An estimate from leakage at 4 Pa may differ from nothing where the tests at 50 Pa do not."""
    comparison = ready_job.comparisons.get()
    comparison.verdict, comparison.reduction = "not_detectable", reduction
    comparison.figures = {"share": {"value": reduction, "low": low, "high": high}}
    figures = certificate_figures(ready_job, comparison, ready_job.estimates.get(), agency)
    assert (figures["savings"] is not None) is is_clear
    assert ("more air leaks" in air_said(figures["air"]).headline) is is_clear


def test_leakier_home_is_told_so(numbered: dict[str, Any]) -> None:
    air = {**numbered["air"], "reduction": -0.12, "low": -0.16, "high": -0.08}
    said = air_said(air)
    assert said.headline == "12\u202f% more air leaks through this home"
    assert said.sentence == "Very likely between 8\u202f% and 16\u202f% more."


@pytest.mark.parametrize(
    ("low", "high", "headline"),
    [
        (120.0, 210.0, "$120 to $210 a year"),
        (0.0, 0.0, "No saving is expected"),
        (-40.0, 50.0, "No saving that the estimate can tell"),
        (-60.0, -20.0, "$20 to $60 a year more to pay"),
    ],
)
def test_saving_is_a_range_whatever_its_sign(
    numbered: dict[str, Any], low: float, high: float, headline: str
) -> None:
    savings = copy.deepcopy(numbered["savings"])
    savings["dollars"] = {"low": low, "central": low, "high": high}
    assert savings_said(savings).headline == headline


def test_without_prices_the_saving_is_told_in_fuel(numbered: dict[str, Any]) -> None:
    said = savings_said({**numbered["savings"], "dollars": None})
    assert said.headline == "84 to 142\u202ftherms of natural gas for heating"


def test_small_energy_figures_keep_their_decimals(
    agency: Agency, make_job: Any, make_run: Any
) -> None:
    """An estimate rounded to 0.05 cord must not be printed as 0 to 1 cord."""
    job = make_job(status="approved")
    comparison = make_comparison(
        job, make_run(job, "before", 2000.0), make_run(job, "after", 1500.0)
    )
    shown = {"low": 0.35, "central": 0.5, "high": 0.7}
    heating = {**FIGURES["heating"], "fuel": "wood", "unit": "cord", "fuel_units": {"shown": shown}}
    figures = {**FIGURES, "heating": heating, "total": {"dollars": None}}
    estimate = estimate_for(job, comparison, figures=figures, input_hash="wood")
    frozen = certificate_figures(job, comparison, estimate, agency)
    assert savings_said(frozen["savings"]).headline == "0.35 to 0.70\u202fcords of wood for heating"


def test_replacing_certificate_names_the_replaced_one(numbered: dict[str, Any]) -> None:
    figures = {**numbered, "number": "QC-2026-0003-C2", "replaces": "QC-2026-0003-C1"}
    _, pages = read(certificate_pdf(figures))
    assert "replaces no. QC-2026-0003-C1" in pages[0]


def kids(element: Any) -> Iterator[Any]:
    """A tag and every tag below it."""
    element = element.get_object()
    if not isinstance(element, dict):
        return
    yield element
    below = element.get("/K", [])
    for kid in below if isinstance(below, list) else [below]:
        yield from kids(kid)


def test_pdf_is_tagged_named_and_in_a_language(numbered: dict[str, Any]) -> None:
    """What PDF/UA-1 (ISO 14289-1) asks of every document, as far as it shows in the objects."""
    reader, _ = read(certificate_pdf(numbered))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en-US"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata is not None
    assert reader.metadata.title == (
        "Certificate QC-2026-0003-C1: air leaks before and after weatherization"
    )
    assert b"pdfuaid" in root["/Metadata"].get_object().get_data()
    tags = list(kids(root["/StructTreeRoot"]["/K"][0]))
    roles = [tag.get("/S") for tag in tags]
    assert roles.count("/H1") == 2
    assert {"/H2", "/P", "/Table", "/TH", "/TD", "/L", "/LI"} <= set(roles)
    square, bars = [tag["/Alt"] for tag in tags if tag.get("/S") == "/Figure"]
    assert square == "https://office.quillmoor.example/verify/7K3M-Q2XD"
    assert bars.startswith("Two bars from zero: before the work 2,310")


def test_pages_are_letter_and_every_font_is_embedded(numbered: dict[str, Any]) -> None:
    reader, _ = read(certificate_pdf(numbered))
    for page in reader.pages:
        assert [float(side) for side in page.mediabox] == pytest.approx([0, 0, 612, 792], abs=0.5)
        for font in page["/Resources"]["/Font"].values():
            (descendant,) = font["/DescendantFonts"]
            descriptor = descendant.get_object()["/FontDescriptor"]
            assert {"/FontFile2", "/FontFile3"} & set(descriptor)


def test_longest_texts_still_fit_two_pages(numbered: dict[str, Any]) -> None:
    """Every field of a person at the length its record allows."""
    figures = copy.deepcopy(numbered)
    figures["agency"] = {
        "name": ("Quillmoor " * 16)[:160],
        "address": ("Đường Nguyễn " * 20)[:240],
        "phone": "5" * 32,
        "complaint_route": ("Write to the director. " * 11)[:240],
    }
    figures["home"] = {
        "street": ("12 Larkspur " * 20)[:160] + ", " + "U" * 20,
        "place": ("Tarn Hollow " * 10)[:80] + ", QM 0015512345",
    }
    figures["replaces"] = "Q" * 20 + "-C1"
    _, pages = read(certificate_pdf(figures))
    assert len(pages) == 2
    assert "Put nothing against a heater" in pages[0]


def test_absurdly_long_text_is_refused(numbered: dict[str, Any]) -> None:
    figures = copy.deepcopy(numbered)
    figures["agency"]["complaint_route"] = "x" * 1_000_000
    with pytest.raises(ActionRefused, match=r"60,000 are the\s+most"):
        certificate_pdf(figures)


@pytest.mark.parametrize("payload", HOSTILE)
def test_hostile_text_reaches_neither_network_nor_files(
    numbered: dict[str, Any], canary: Canary, tmp_path: Path, payload: str
) -> None:
    secret = tmp_path / "canary.txt"
    secret.write_text("CANARY-SONG")
    text = payload.format(url=f"http://127.0.0.1:{canary.server_port}", file=secret)
    figures = copy.deepcopy(numbered)
    for group in ("agency", "home", "job", "sources"):
        figures[group] = dict.fromkeys(figures[group], text)
    figures |= {"number": text, "check_code": text, "replaces": text}
    pdf = certificate_pdf(figures)
    reader, pages = read(pdf)
    assert canary.hits == 0
    assert not reader.attachments
    assert "CANARY-SONG" not in " ".join(pages)
    assert b"CANARY-SONG" not in pdf


def test_people_of_all_tongues_keep_their_streets(numbered: dict[str, Any]) -> None:
    figures = copy.deepcopy(numbered)
    figures["home"]["street"] = "Đường Nguyễn Huệ, O'Rourke's"
    assert "Đường Nguyễn Huệ, O'Rourke's" in read(certificate_pdf(figures))[1][0]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_every_page_is_accessible_and_two_pages_long(
    numbered: dict[str, Any], language: str, paper: str
) -> None:
    """PDF/UA-1 (ISO 14289-1) by a checker that is not the printer's; sheet sizes by ISO 216."""
    pdf = certificate_pdf({**numbered, "language": language, "paper": paper})
    report = validator.validate_pdf_bytes(pdf, profile="ua1")
    assert report.is_compliant, [failure.message for failure in report.failures]
    reader, pages = read(pdf)
    assert len(pages) == 2
    size = {"letter": (612, 792), "a4": (595.3, 841.9)}[paper]
    assert [float(side) for side in reader.pages[0].mediabox[2:]] == pytest.approx(size, abs=0.5)
