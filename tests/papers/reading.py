"""Reading PDF files in tests, and what a hostile person might type into a field."""

import io
import re
from http.server import BaseHTTPRequestHandler, HTTPServer

from pypdf import PdfReader


def read(pdf: bytes) -> tuple[PdfReader, list[str]]:
    """The document and each page's text with single spaces."""
    reader = PdfReader(io.BytesIO(pdf))
    return reader, [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]


class Canary(HTTPServer):
    """A server that nobody should ever call."""

    hits: int = 0


class Song(BaseHTTPRequestHandler):
    """Answers whoever does call it, and counts them."""

    def do_GET(self) -> None:
        self.server.hits += 1  # type: ignore[attr-defined]
        self.send_response(200)
        self.end_headers()
        self.wfile.write(b"CANARY-SONG")

    def log_message(self, *_: object) -> None:
        """Quiet."""


HOSTILE = [
    '"><img src="{url}/img.png">',
    '<link rel="attachment" href="{url}/a"><link rel="attachment" href="file://{file}">',
    '<link rel="stylesheet" href="{url}/s.css"><style>@import url({url}/i.css);</style>',
    '<p style="background:url({url}/b.png)">x</p>',
    '<svg xmlns="http://www.w3.org/2000/svg"><image href="{url}/x"/><use href="{url}/u#a"/></svg>',
    '<object data="file://{file}"></object><embed src="{url}/e"><iframe src="file://{file}">',
    '<base href="{url}/"><script src="{url}/s.js"></script>{{% include "{file}" %}}',
]
