"""`manage.py evaluate`: run as a person runs it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from .examples import E779, FOLDER, ISO, ONE_POINT, example

ROOT = Path(__file__).parent.parent.parent


def run(*arguments, text=None):
    # An address where nothing listens: the command must not need a database.
    environment = {**os.environ, "DATABASE_URL": "postgres://nobody@127.0.0.1:1/nothing"}
    return subprocess.run(
        [sys.executable, "manage.py", "evaluate", *arguments],
        cwd=ROOT,
        env=environment,
        input=text,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


@pytest.mark.parametrize("name", [E779, ISO, ONE_POINT])
def test_figures_are_printed_as_json(name):
    done = run(str(FOLDER / name))
    assert (done.returncode, done.stderr) == (0, "")
    result = json.loads(done.stdout)
    assert result["figures"]["flow_50"]["value"] > 0
    assert result["maths_version"]
    assert result["checks"]


def test_standard_input_is_read():
    done = run("-", text=json.dumps(example(ONE_POINT)))
    assert done.returncode == 0
    assert json.loads(done.stdout)["method"] == "ANSI/RESNET/ICC 380 one-point"


def test_steps_are_explained_with_their_sources():
    done = run("--explain", str(FOLDER / ISO))
    assert done.returncode == 0
    for words in (
        "Density of the outdoor air",
        "ISO 9972:2015 Annex A (from memory)",
        "Induced pressure, depressurization, point 1",
        "Least squares of ln(flow) on ln(pressure)",
        "Rule: iso9972.zero-flow",
    ):
        assert words in done.stdout


BAD = [
    ("not json", "", "not_json"),
    ('{"kind": "envelope", "kind": "envelope"}', "kind", "name_twice"),
    ({"phase": "later"}, "phase", "not_a_choice"),
    ({"conditions": {"indoor_temperature": 700.0}}, "conditions.indoor_temperature",
     "input.indoor-temperature"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "field", "code"), BAD)
def test_bad_input_ends_with_status_2_and_its_reasons(change, field, code):
    text = change if isinstance(change, str) else json.dumps({**example(ONE_POINT), **change})
    done = run("-", text=text)
    assert done.returncode == 2
    assert done.stderr.strip()
    assert "Traceback" not in done.stderr
    reasons = json.loads(done.stdout)["reasons"]
    assert (field, code) in {(one["field"], one["code"]) for one in reasons}
    assert all(one["next_step"] for one in reasons)


def test_a_file_that_is_not_there():
    done = run("no-such-file.json")
    assert done.returncode == 2
    assert "no-such-file.json" in done.stderr
