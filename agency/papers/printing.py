"""A page becomes a PDF in a process of its own, or is refused in words."""

import os
import re
import signal
import subprocess
import sys
import unicodedata
from pathlib import Path

from agency.errors import AgencyError

from .assets import UnlistedAssetError
from .press import MOST_SECONDS, TOO_MUCH, UNLISTED

ROOT = Path(__file__).resolve().parents[2]
MOST_CHARACTERS = 600_000
"""Of one page. [-]  A long test report has some 60,000. Own choice."""
PATIENCE = 2 * MOST_SECONDS
"""Time by the clock after which a press is stopped. [s]  It may have to wait for its turn."""
PASSED_ON = ("HOME", "LANG", "LC_ALL", "LD_LIBRARY_PATH", "PATH", "TMPDIR", "XDG_CACHE_HOME")
"""What a press needs to find its fonts; keys and passwords of this process stay here."""
OVERSTRAINED = {-signal.SIGXCPU, -signal.SIGKILL, -signal.SIGABRT, -signal.SIGSEGV, TOO_MUCH}
"""How a press ends that came up against a limit, in Python or in the libraries below it."""
REORDERING = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
NOT_PLAIN = re.compile("[^\n\t -~\xa0-\u02ff]")


class PaperRefused(AgencyError):
    """A paper that cannot be printed within the limits."""


class PressFailed(RuntimeError):
    """The press broke down for a reason of its own."""


def printed(page: str) -> bytes:
    """The page as tagged PDF; refused when it is too long or too laborious to print.

    Raises
    ------
    PaperRefused
        More than `MOST_CHARACTERS`, or more time or memory than the press has.
    UnlistedAssetError
        The page asks for anything but the packaged assets; nothing is printed then.
    """
    if len(page) > MOST_CHARACTERS:
        raise PaperRefused(
            f"The paper has {len(page):,} characters; {MOST_CHARACTERS:,} are the most. "
            "Shorten its longest text."
        )
    try:
        press = subprocess.run(
            [sys.executable, "-m", "agency.papers.press"],
            input=cleaned(page).encode(),
            capture_output=True,
            cwd=ROOT,
            env={name: os.environ[name] for name in PASSED_ON if name in os.environ},
            timeout=PATIENCE,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise _too_laborious() from None
    if press.returncode in OVERSTRAINED:
        raise _too_laborious()
    told = press.stderr.decode(errors="replace")
    if press.returncode == UNLISTED:
        raise UnlistedAssetError(told)
    if press.returncode != 0:
        raise PressFailed(told[-2000:])
    return press.stdout


def _too_laborious() -> PaperRefused:
    return PaperRefused(
        f"The paper could not be printed within {MOST_SECONDS} s and the memory it is given. "
        "Shorten its longest table or text."
    )


def cleaned(page: str) -> str:
    """The page without control characters and marks that reorder text."""
    return NOT_PLAIN.sub(_clean_character, page)


def _clean_character(found: re.Match[str]) -> str:
    character = found.group()
    if character in REORDERING:
        return ""
    return " " if unicodedata.category(character) in {"Cc", "Cs", "Co", "Cn"} else character
