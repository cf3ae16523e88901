"""Environment variables of the test run, set before Django reads its settings."""

import os
import socket
import tempfile
from pathlib import Path

POSTGRES = "postgres://postgres@127.0.0.1:5432/postgres"
REDIS = "redis://127.0.0.1:6379/0"


def answers(port: int) -> bool:
    """True when something listens on this machine's `port`."""
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex(("127.0.0.1", port)) == 0


os.environ["HEARTHLEDGER_MODE"] = "test"
os.environ.setdefault(
    "DATA_DIR", str(Path(tempfile.gettempdir()) / f"hearthledger-tests-{os.getpid()}")
)
if answers(5432):
    os.environ.setdefault("DATABASE_URL", POSTGRES)
