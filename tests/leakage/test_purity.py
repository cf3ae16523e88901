"""The formulas load where neither Django, Celery nor the API framework can be imported."""

import json
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULES = sorted(
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for package in ("leakage", "savings")
    for path in (ROOT / "agency" / package).rglob("*.py")
)
RECORDS = "agency.houses.models"
LOAD = """
import importlib, json, sys
sys.modules.update(dict.fromkeys(["django", "celery", "rest_framework"]))
refused = {}
for module in sys.argv[1:]:
    try:
        importlib.import_module(module)
    except ImportError as error:
        refused[module] = str(error)
print(json.dumps(refused))
"""


@cache
def refused() -> dict[str, str]:
    """What a fresh interpreter with those three blocked says of each module it cannot import."""
    # One interpreter for all: importing numpy and scipy is most of the time.
    command = [sys.executable, "-c", LOAD, *MODULES, RECORDS]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    found: dict[str, str] = json.loads(done.stdout)
    return found


@pytest.mark.parametrize("module", MODULES)
def test_formulas_load_without_the_web(module):
    """An import inside the package's own first file would show here too."""
    assert module not in refused()


def test_the_block_blocks():
    """A record does need Django, and is refused."""
    assert "django" in refused()[RECORDS]
