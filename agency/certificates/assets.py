"""The only files a paper may be made with: those listed here, read from the package."""

from pathlib import PurePosixPath

from django.conf import settings
from weasyprint.urls import URLFetcher, URLFetcherResponse

SCHEME = "packaged"
STYLE = f"{SCHEME}:css/paper.css"
ASSETS = {STYLE: ("css/paper.css", "text/css; charset=utf-8")}
"""Address on the paper, file below static/, content type."""


class UnlistedAssetError(ValueError):
    """Something on a paper asked for a file or a connection that papers never need."""


class PackagedAssets(URLFetcher):
    """Hands out the listed assets and opens nothing else: no network, no files, no data."""

    def __init__(self) -> None:
        super().__init__(allowed_protocols=(SCHEME,), allow_redirects=False, fail_on_errors=True)

    def fetch(self, url: str, headers: object = None) -> URLFetcherResponse:
        """The asset at `url`; anything not listed is refused before it is looked at."""
        if url not in ASSETS:
            raise UnlistedAssetError(f"Papers use packaged assets only, not {url[:80]}.")
        name, content_type = ASSETS[url]
        body = (settings.BASE_DIR / "static" / PurePosixPath(name)).read_bytes()
        return URLFetcherResponse(url, body, {"Content-Type": content_type})

    def open(self, url: object, data: object = None, timeout: object = None) -> URLFetcherResponse:
        """The inherited way round `fetch` leads to the same place."""
        return self.fetch(getattr(url, "full_url", str(url)))
