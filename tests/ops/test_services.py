"""The commands of docker-compose.yml, run here: each service starts, and its check is truthful."""

import os
import re
import time

import pytest

from .stage import HOST, READY_WITHIN, Stage

pytestmark = [pytest.mark.services, pytest.mark.xdist_group("compose")]


def test_migrating_again_changes_nothing(stage: Stage) -> None:
    """Every `docker compose up` runs the migrations."""
    again = stage.run("migrate", stage.services["migrate"]["command"])
    assert (again.returncode, "No migrations to apply." in again.stdout) == (0, True)


def test_web_answers_its_check_and_insists_on_https(stage: Stage) -> None:
    """Plain HTTP, a strange Host and a page's style sheet, by its content's name."""
    assert not stage.check("web")
    (style_sheet,) = (stage.folder / "data/static/css").glob("base.*.css")
    with stage.running("web"):
        plain = stage.ask("/", {})
        assert (plain.status, plain.headers["Location"]) == (301, f"https://{HOST}/")
        behind_proxy = stage.ask("/", {"X-Forwarded-Proto": "https"})
        assert behind_proxy.status == 302
        assert "max-age=31536000" in behind_proxy.headers["Strict-Transport-Security"]
        stranger = stage.ask("/", {"Host": "elsewhere.example", "X-Forwarded-Proto": "https"})
        assert stranger.status == 400
        style = stage.ask(f"/static/css/{style_sheet.name}", {"X-Forwarded-Proto": "https"})
        assert (style.status, style.headers.get_content_type()) == (200, "text/css")
    assert not stage.check("web")


def test_beat_and_worker_keep_the_timetable(stage: Stage) -> None:
    """Beat puts the sweep on the queue, the worker takes it off, and both checks are truthful."""
    assert not stage.check("beat")
    log = stage.folder / "log-of-worker"
    with stage.running("worker"), stage.running("beat"):
        deadline = time.monotonic() + READY_WITHIN
        while not re.search(r"agency\.outbox\.tasks\.sweep_outbox\[.*succeeded", log.read_text()):
            assert time.monotonic() < deadline, log.read_text()
            time.sleep(0.5)
    three_minutes_ago = time.time() - 3 * 60
    os.utime(stage.folder / "beat-is-alive", (three_minutes_ago, three_minutes_ago))
    assert not stage.check("beat")
    assert not stage.check("worker")
