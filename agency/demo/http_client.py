"""Plain HTTP as a phone and a browser speak it: a token here, cookies and a form token there."""

import json
import re
import urllib.error
import urllib.request
from dataclasses import dataclass
from http.cookiejar import CookieJar
from typing import Any
from urllib.parse import urlencode

from agency.errors import AgencyError

TIMEOUT = 30
"""[s]"""
FORM_TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="([^"]+)"')


class DriveError(AgencyError):
    """The program answered something the demonstration did not expect."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """Status, headers and body of an answer."""

    status: int
    headers: Any
    body: bytes

    @property
    def data(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)

    @property
    def text(self) -> str:
        """The body as text."""
        return self.body.decode()


def _send(opener: urllib.request.OpenerDirector, request: urllib.request.Request) -> Reply:
    try:
        with opener.open(request, timeout=TIMEOUT) as answer:
            return Reply(status=answer.status, headers=answer.headers, body=answer.read())
    except urllib.error.HTTPError as error:
        with error:
            return Reply(status=error.code, headers=error.headers, body=error.read())


TAGS = re.compile(r"<[^>]*>")
"""What a page says stands between its tags."""


def expect(reply: Reply, *statuses: int, doing: str) -> Reply:
    """The reply itself, or DriveError with what the program said."""
    if reply.status in statuses:
        return reply
    text = reply.body.decode(errors="replace")
    said = " ".join(TAGS.sub(" ", text.partition("<main")[2] or text).split())[:600]
    raise DriveError(f"{doing}: the program answered {reply.status}. It said: {said}")


class Phone:
    """Speaks JSON with a token."""

    def __init__(self, base_url: str, token: str | None = None) -> None:
        self.base_url = f"{base_url}/api/v1/"
        self.token = token
        self._opener = urllib.request.build_opener()

    def get(self, path: str) -> Reply:
        """Fetch."""
        return self._call("GET", path, None)

    def post(self, path: str, data: Any) -> Reply:
        """Send."""
        return self._call("POST", path, json.dumps(data).encode())

    def _call(self, method: str, path: str, body: bytes | None) -> Reply:
        request = urllib.request.Request(self.base_url + path, data=body, method=method)
        request.add_header("Accept", "application/json")
        if body is not None:
            request.add_header("Content-Type", "application/json")
        if self.token:
            request.add_header("Authorization", f"Token {self.token}")
        return _send(self._opener, request)


class Browser:
    """Keeps cookies and sends the form token of the page it stands on."""

    def __init__(self, base_url: str) -> None:
        self.base_url = base_url
        self._opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))

    def sign_in(self, path: str, *, username: str, password: str) -> None:
        """Open the sign-in page and fill it in."""
        reply = self.submit(path, path, {"username": username, "password": password})
        if FORM_TOKEN.search(reply.text) and 'name="password"' in reply.text:
            raise DriveError(f"{username} could not sign in.")

    def get(self, path: str) -> Reply:
        """Open a page."""
        return _send(self._opener, urllib.request.Request(self.base_url + path))

    def submit(self, page: str, path: str, fields: dict[str, str]) -> Reply:
        """Open `page`, take its form token, and post `fields` to `path`."""
        shown = expect(self.get(page), 200, doing=f"opening {page}")
        token = FORM_TOKEN.search(shown.text)
        if token is None:
            raise DriveError(f"{page} holds no form.")
        body = urlencode(fields | {"csrfmiddlewaretoken": token[1]}).encode()
        request = urllib.request.Request(self.base_url + path, data=body, method="POST")
        request.add_header("Referer", self.base_url + page)
        return expect(_send(self._opener, request), 200, doing=f"posting to {path}")
