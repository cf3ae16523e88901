"""The press, a process of its own: one page comes in, one tagged PDF goes out, within limits.

It knows neither settings nor database, so that a page can neither read nor block them.
"""

import resource
import sys

from weasyprint import HTML
from weasyprint.urls import FatalURLFetchingError

from .assets import PackagedAssets, UnlistedAssetError

MOST_MEMORY = 1 << 30
"""Address space of the press. [bytes]  A certificate takes a quarter of it. Own choice."""
MOST_SECONDS = 12
"""Processor time of the press. [s]  A certificate takes one. Own choice."""
TOO_MUCH = 3
UNLISTED = 4
"""Exit codes: the page needs more than the limits; it asked for an asset that is not listed."""


def rendered(page: str) -> bytes:
    """The page as tagged PDF (PDF/UA-1, ISO 14289-1), made without network or file access."""
    paper = HTML(string=page, base_url="packaged:", url_fetcher=PackagedAssets())
    try:
        pdf: bytes = paper.write_pdf(pdf_variant="pdf/ua-1")
    except FatalURLFetchingError as fault:
        # Not an Exception for the renderer's sake.
        raise UnlistedAssetError(str(fault)) from fault
    return pdf


def main() -> int:
    """Print what stands on the standard input."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    page = sys.stdin.buffer.read().decode()
    try:
        pdf = rendered(page)
    except UnlistedAssetError as fault:
        sys.stderr.write(str(fault))
        return UNLISTED
    except (MemoryError, RecursionError):
        return TOO_MUCH
    sys.stdout.buffer.write(pdf)
    return 0


if __name__ == "__main__":
    sys.exit(main())
