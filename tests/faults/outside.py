"""A client at her own device, as the house's web server sees her: plain requests, a cookie jar, a form's token."""

import re
import urllib.error
import urllib.parse
import urllib.request
from dataclasses import dataclass
from http.cookiejar import CookieJar

TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="([^"]+)"')


@dataclass(frozen=True)
class Answer:
    status: int
    url: str
    body: str
    kept: str

    @property
    def is_kept_by_nobody(self) -> bool:
        return "no-store" in self.kept


class Outside:
    """Every answer it got stands in `answers`, in order."""

    def __init__(self, home: str) -> None:
        self.home, self.answers = home, list[Answer]()
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))

    def get(self, path: str) -> Answer:
        return self._open(urllib.request.Request(self._address(path)))

    def post(self, path: str, fields: dict[str, list[str]], *, shown_on: str = "") -> Answer:
        """Post as the form on a page does (the page of `path` itself, else `shown_on`), with the token it carries."""
        shown = self.get(shown_on or path)
        assert TOKEN.search(shown.body), f"{shown.url} has no form: {shown.status}"
        return self.post_once_more(path, fields)

    def post_once_more(self, path: str, fields: dict[str, list[str]]) -> Answer:
        """Post with the token of the page shown last, without asking for the page anew."""
        tokens = [found[1] for answer in self.answers if (found := TOKEN.search(answer.body))]
        address = self._address(path)
        body = urllib.parse.urlencode(fields | {"csrfmiddlewaretoken": tokens[-1:]}, doseq=True).encode()
        return self._open(urllib.request.Request(address, data=body, headers={"Referer": address}))

    def _address(self, path: str) -> str:
        return path if path.startswith("http") else f"{self.home}{path}"

    def _open(self, request: urllib.request.Request) -> Answer:
        try:
            with self.opener.open(request, timeout=30) as got:
                answer = Answer(got.status, got.url, got.read().decode(), got.headers.get("Cache-Control", ""))
        except urllib.error.HTTPError as error:
            told = error.headers.get("Cache-Control", "")
            answer = Answer(error.code, error.url or "", error.read().decode(errors="replace"), told)
        self.answers.append(answer)
        return answer
