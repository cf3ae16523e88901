"""One migrated stage for all tests that run the services."""

import os
from collections.abc import Iterator

import psycopg
import pytest
import redis

from .stage import POSTGRES, Stage


@pytest.fixture(scope="session")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stage]:
    """A migrated database of its own, and a Redis database of its own."""
    worker = os.environ.get("PYTEST_XDIST_WORKER", "gw0")
    database = f"hearthledger_compose_{os.getpid()}"
    broker = f"redis://127.0.0.1:6379/{15 - int(worker.removeprefix('gw')) % 8}"
    try:
        admin = psycopg.connect(f"{POSTGRES}/postgres", autocommit=True)
        queue = redis.Redis.from_url(broker)
        queue.ping()
    except (psycopg.OperationalError, redis.ConnectionError) as error:
        pytest.skip(f"needs PostgreSQL (user postgres) and Redis on 127.0.0.1: {error}")
    with admin, queue:
        admin.execute(f"CREATE DATABASE {database}")
        queue.flushdb()
        try:
            stage = Stage(tmp_path_factory.mktemp("compose"), database=database, broker=broker)
            migrated = stage.run("migrate", stage.services["migrate"]["command"])
            assert migrated.returncode == 0, migrated.stdout + migrated.stderr
            collected = stage.run("migrate", ["python", "manage.py", "collectstatic", "--no-input"])
            assert collected.returncode == 0, collected.stdout + collected.stderr
            yield stage
        finally:
            queue.flushdb()
            admin.execute(f"DROP DATABASE {database} WITH (FORCE)")
