"""Environment variables of the test run, set before Django reads its settings."""

import os
import tempfile
from pathlib import Path

import psycopg

POSTGRES = "postgres://postgres@127.0.0.1:5432/postgres"


def postgres_lets_us_in() -> bool:
    """True when this machine's PostgreSQL takes the user postgres without a password."""
    try:
        psycopg.connect(POSTGRES, connect_timeout=2).close()
    except psycopg.OperationalError:
        return False
    return True


os.environ["HEARTHLEDGER_MODE"] = "test"
os.environ.setdefault(
    "DATA_DIR", str(Path(tempfile.gettempdir()) / f"hearthledger-tests-{os.getpid()}")
)
if postgres_lets_us_in():
    os.environ.setdefault("DATABASE_URL", POSTGRES)
