"""The canary that sings when a paper reaches out."""

import threading
from collections.abc import Iterator

import pytest

from tests.papers.reading import Canary, Song


@pytest.fixture
def canary() -> Iterator[Canary]:
    server = Canary(("127.0.0.1", 0), Song)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join()
