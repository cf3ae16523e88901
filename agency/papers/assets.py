"""The only files a paper may be made with: those listed here, read from the package."""

from pathlib import Path

from weasyprint.urls import URLFetcher, URLFetcherResponse

STATIC = Path(__file__).resolve().parents[2] / "static"
SCHEME = "packaged"
CERTIFICATE_STYLE = f"{SCHEME}:css/paper.css"
REPORT_STYLE = f"{SCHEME}:css/report.css"
LETTER_STYLE = f"{SCHEME}:css/letter.css"
WORKSHEET_STYLE = f"{SCHEME}:css/worksheet.css"
QUARTER_STYLE = f"{SCHEME}:css/quarter.css"
ASSETS = {
    style: (STATIC / style.removeprefix(f"{SCHEME}:"), "text/css; charset=utf-8")
    for style in (CERTIFICATE_STYLE, LETTER_STYLE, REPORT_STYLE, WORKSHEET_STYLE, QUARTER_STYLE)
}
"""Address on the paper, file, content type."""


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
        file, content_type = ASSETS[url]
        return URLFetcherResponse(url, file.read_bytes(), {"Content-Type": content_type})

    def open(self, url: object, data: object = None, timeout: object = None) -> URLFetcherResponse:
        """The inherited way round `fetch` leads to the same place."""
        return self.fetch(getattr(url, "full_url", str(url)))
