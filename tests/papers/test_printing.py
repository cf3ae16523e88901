"""The press prints tagged PDF from packaged assets only, and stops at its limits in words."""

import contextlib
import time
from pathlib import Path

import page as validator
import pytest

from agency.papers.assets import (
    CERTIFICATE_STYLE,
    REPORT_STYLE,
    PackagedAssets,
    UnlistedAssetError,
)
from agency.papers.press import MOST_SECONDS
from agency.papers.printing import PATIENCE, PaperRefused, PressFailed, cleaned, printed
from tests.papers.reading import HOSTILE, Canary, read

HEAD = '<html lang="en"><title>Quillmoor</title>'


def test_prints_tagged_pdf_that_a_validator_of_its_own_accepts() -> None:
    """PDF/UA-1 (ISO 14289-1) by an independent checker; the same checker sees a lost language."""
    good = printed(f"{HEAD}<h1>Quillmoor</h1><p>One page.</p>")
    assert validator.validate_pdf_bytes(good, profile="ua1").is_compliant
    bad = printed("<html><title>Quillmoor</title><h1>Quillmoor</h1>")
    assert not validator.validate_pdf_bytes(bad, profile="ua1").is_compliant


@pytest.mark.parametrize("payload", HOSTILE[:6])
def test_even_unescaped_markup_could_not_fetch(
    canary: Canary, tmp_path: Path, payload: str
) -> None:
    """The second lock: the renderer itself opens nothing but the packaged style sheet."""
    secret = tmp_path / "canary.txt"
    secret.write_text("CANARY-SONG")
    text = payload.format(url=f"http://127.0.0.1:{canary.server_port}", file=secret)
    pdf = b""
    with contextlib.suppress(UnlistedAssetError):
        pdf = printed(f"{HEAD}<p>Quillmoor</p>{text}")
    assert canary.hits == 0
    assert "CANARY-SONG" not in (" ".join(read(pdf)[1]) if pdf else "")


def test_page_that_asks_for_more_is_not_rendered() -> None:
    """Not half a certificate: the worker sees an ordinary error and says so."""
    with pytest.raises(UnlistedAssetError):
        printed(f'{HEAD}<img src="file:///etc/hostname" alt="x">')


@pytest.mark.parametrize(
    "url",
    [
        "http://127.0.0.1:9/a",
        "https://quillmoor.example/a",
        "file:///etc/hostname",
        "data:text/css,p{color:red}",
        "ftp://127.0.0.1/a",
        "packaged:../agency/config/settings.py",
        "packaged:css/paper.css/../base.css",
        "packaged:css/base.css",
        "PACKAGED:css/paper.css",
    ],
)
def test_fetcher_refuses_all_but_the_listed_assets(url: str) -> None:
    fetcher = PackagedAssets()
    for way in (fetcher.fetch, fetcher.open, fetcher):
        with pytest.raises(UnlistedAssetError):
            way(url)


def test_fetcher_hands_out_the_style_sheet() -> None:
    response = PackagedAssets().fetch(CERTIFICATE_STYLE)
    assert response.content_type == "text/css"
    assert b"@page" in response.read()


def test_style_sheets_of_papers_ask_for_nothing_else() -> None:
    for style in (CERTIFICATE_STYLE, REPORT_STYLE):
        sheet = PackagedAssets().fetch(style).read().decode()
        assert "@import" not in sheet
        assert "url(" not in sheet


TOO_LONG = "Word " * 200_000
TOO_MANY_ROWS = "".join(f"<tr><td>{n}<td>{2 * n}<td>{3 * n}" for n in range(10_000))


@pytest.mark.parametrize(
    ("body", "told"),
    [
        (f"<p>{TOO_LONG}", "has 1,0"),
        (f"<table>{TOO_MANY_ROWS}</table>", "could not be printed within"),
        ("<div>" * 20_000, "could not be printed within"),
    ],
    ids=["a note of 1 MB", "a table of 10,000 rows", "20,000 boxes in each other"],
)
def test_what_asks_for_too_much_is_refused_in_words_and_in_time(body: str, told: str) -> None:
    started = time.monotonic()
    with pytest.raises(PaperRefused, match=told):
        printed(HEAD + body)
    assert time.monotonic() - started < PATIENCE + MOST_SECONDS


@pytest.mark.parametrize(
    "style",
    ["width: 1e308px", "height: 99999999999mm", "margin: 1e30in", "font-size: 1e300px"],
)
def test_absurd_length_ends_in_a_paper_or_an_ordinary_error(style: str) -> None:
    started = time.monotonic()
    with contextlib.suppress(PaperRefused, PressFailed):
        assert printed(f'{HEAD}<p style="{style}">Quillmoor').startswith(b"%PDF-")
    assert time.monotonic() - started < PATIENCE + MOST_SECONDS


def test_press_sees_no_secret_of_the_process_that_calls_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The variables a press is started with are those named in the list, and no others."""
    spy = tmp_path / "python"
    spy.write_text("#!/bin/sh\ncat > /dev/null\nenv\n")
    spy.chmod(0o755)
    monkeypatch.setenv("DJANGO_SECRET_KEY", "QUILLMOOR-SECRET")
    monkeypatch.setattr("sys.executable", str(spy))
    told = printed(f"{HEAD}<p>Quillmoor").decode()
    assert "PATH=" in told
    assert "QUILLMOOR-SECRET" not in told


def test_control_and_reordering_characters_do_not_reach_the_page() -> None:
    assert cleaned("12 Lark\x00spur\x1b \u202enaL\u2066e") == "12 Lark spur  naLe"
    assert cleaned("Đường Nguyễn Huệ, O'Rourke's, 北京, عربي") == (
        "Đường Nguyễn Huệ, O'Rourke's, 北京, عربي"
    )
    text = read(printed(f"{HEAD}<p>Lark\x1bspur"))[1][0]
    assert "Lark spur" in text
