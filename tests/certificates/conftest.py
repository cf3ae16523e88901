"""An approved job with two tests, a comparison and an estimate: all a certificate rests on."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from agency.diagnostics.models import Comparison
from agency.estimates.models import SavingsEstimate
from agency.jobs.models import Job
from agency.programs.models import Agency
from tests.builders import CFM, make_comparison
from tests.papers.conftest import canary  # noqa: F401  a fixture

FIGURES = {
    "heating": {
        "fuel": "natural_gas",
        "unit": "therm",
        "fuel_units": {"shown": {"low": 84.0, "central": 112.0, "high": 142.0}},
        "mmbtu": {"low": 8.41, "central": 11.22, "high": 14.18},
    },
    "cooling": None,
    "total": {"dollars": {"shown": {"low": 120.0, "central": 160.0, "high": 210.0}}},
}


@pytest.fixture(autouse=True)
def media(settings: Any, tmp_path: Path) -> Path:
    """Files written by a test stay with that test."""
    settings.MEDIA_ROOT = tmp_path / "media"
    return settings.MEDIA_ROOT


@pytest.fixture
def agency(db: None) -> Agency:
    return Agency.objects.create(
        name="Quillmoor County Home Energy Office",
        address="14 Mill Street, Tarn Hollow, QM 00155",
        phone="555-0100",
        complaint_route="Not content? Write to the director, or call 555-0190.",
    )


def estimate_for(job: Job, comparison: Comparison, **changes: Any) -> SavingsEstimate:
    values: dict[str, Any] = {
        "method": "Basic infiltration model, hourly",
        "edition": "2021",
        "maths_version": "1",
        "input_hash": f"estimate of {job.number}",
        "inputs": {},
        "figures": FIGURES,
    }
    return SavingsEstimate.objects.create(job=job, comparison=comparison, **(values | changes))


@pytest.fixture
def ready_job(agency: Agency, make_job: Callable[..., Job], make_run: Callable[..., Any]) -> Job:
    """2,310 cfm before, 1,898 cfm after."""
    job = make_job(status="approved")
    before = make_run(job, "before", 2310.0, taken_at=datetime(2026, 4, 14, 15, tzinfo=UTC))
    after = make_run(job, "after", 1898.0, taken_at=datetime(2026, 5, 8, 15, tzinfo=UTC))
    estimate_for(job, make_comparison(job, before, after))
    return job


@pytest.fixture
def numbered() -> dict[str, Any]:
    """Numbered figures of one certificate, without a database."""
    return {
        "edition": "2",
        "language": "en",
        "paper": "letter",
        "agency": {
            "name": "Quillmoor County Home Energy Office",
            "address": "14 Mill Street, Tarn Hollow, QM 00155",
            "phone": "555-0100",
            "complaint_route": "Not content? Write to the director, or call 555-0190.",
        },
        "home": {"street": "12 Larkspur Lane, 2B", "place": "Tarn Hollow, QM 00155"},
        "job": {"id": "a-job", "number": "QC-2026-0003"},
        "finished_on": "2026-05-12",
        "air": {
            "verdict": "detectable",
            "before": 2310.0 * CFM,
            "after": 1898.0 * CFM,
            "reduction": 1 - 1898 / 2310,
            "is_clear": True,
            "low": 0.139,
            "high": 0.218,
            "before_on": "2026-04-14",
            "after_on": "2026-05-08",
        },
        "savings": {
            "dollars": {"low": 120.0, "central": 160.0, "high": 210.0},
            "energy": [
                {
                    "part": "heating",
                    "fuel": "natural_gas",
                    "unit": "therm",
                    "low": 84.0,
                    "high": 142.0,
                    "decimals": 0,
                }
            ],
        },
        "handover": {
            "work": [
                "Attic: sealed around pipes and wires, added insulation",
                "Kitchen: new fan that leads outdoors",
                "Hall: sealed the attic hatch",
            ],
            "ventilation": "A quiet fan in the bathroom runs all day. Leave it on.",
            "alarms": ["Smoke alarm in the hall: replace in 2036"],
            "lead_safe": "used",
            "inspector": "Ignatius Penhallow",
            "inspector_certificate": "FI-0155",
        },
        "dates": {"workmanship_until": "2027-05-12", "weatherized_again_from": "2041-05-12"},
        "sources": {
            "comparison": "c",
            "comparison_maths": "2026.1",
            "estimate": "e",
            "estimate_maths": "1",
            "estimate_method": "Basic infiltration model, hourly, 2021",
        },
        "number": "QC-2026-0003-C1",
        "check_code": "7K3M-Q2XD",
        "verify_at": "https://office.quillmoor.example/verify/7K3M-Q2XD",
        "issued_on": "2026-05-13",
        "replaces": "",
    }
