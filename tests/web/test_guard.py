"""Who may read what is served, and what every answer carries."""

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from assistant.web import guard

TOKEN = "a-token-that-nobody-guesses"


def client(
    token: str | None = None, *names: str, base: str = "http://127.0.0.1:8621"
) -> TestClient:
    async def page(request: Request) -> PlainTextResponse:
        return PlainTextResponse("read")

    app = Starlette(routes=[Route("/{rest:path}", page)])
    guarded = guard.Guard(app, guard.access(8621, token, names))
    return TestClient(guarded, base_url=base, follow_redirects=False)


@pytest.mark.parametrize(
    "host",
    ["127.0.0.1", "127.0.0.1:8621", "localhost", "LOCALHOST:8621", "[::1]:8621", "192.168.1.7:1"],
)
def test_numbers_and_localhost_are_known(host: str) -> None:
    assert client().get("/", headers={"host": host}).text == "read"


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8621", "127.0.0.1.evil.example", "localhost.evil.example", "",
     "127.0.0.1@evil.example", "[::1", "bench", "a b", "127.0.0.1:8621:1"],
)  # fmt: skip
def test_a_name_that_was_made_to_lead_here_is_not(host: str) -> None:
    answer = client().get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "read" not in answer.text


def test_a_name_that_it_is_known_as() -> None:
    known = client(None, "Bench.Shop.")
    assert known.get("/", headers={"host": "bench.shop:443"}).status_code == 200
    assert known.get("/", headers={"host": "other.shop"}).status_code == 421


def test_every_answer_has_the_headers_that_keep_a_browser_from_more() -> None:
    for answer in (
        client().get("/"),
        client().get("/", headers={"host": "evil.example"}),
        client(TOKEN).get("/"),
        client(TOKEN).get(f"/?token={TOKEN}"),
        client().post("/"),
    ):
        policy = answer.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'; script-src 'self'; ")
        assert "unsafe" not in policy and "frame-ancestors 'none'" in policy
        assert answer.headers["cache-control"] == "no-store"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert answer.headers["cross-origin-resource-policy"] == "same-origin"
        assert "access-control-allow-origin" not in answer.headers


def test_without_the_token_nothing_is_read() -> None:
    for path in ("/", "/events", "/static/x.js", "/?token=", "/?token=wrong", f"/?Token={TOKEN}"):
        answer = client(TOKEN).get(path)
        assert answer.status_code == 401
        assert "read" not in answer.text.split() and TOKEN not in answer.text
    for cookie in ("", "wrong", TOKEN[:-1], f"{TOKEN}x", "ü", "\udcff"):
        given = f"assistant-8621={cookie}".encode("utf-8", "surrogateescape")
        assert client(TOKEN).get("/", headers={b"cookie": given}).status_code == 401


def test_the_link_is_used_once_and_then_the_cookie() -> None:
    browser = client(TOKEN)
    first = browser.get(f"/jobs/3?q=a+b&token={TOKEN}")
    assert (first.status_code, first.headers["location"]) == (303, "/jobs/3?q=a+b")
    cookie = first.headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=lax" in cookie and "Path=/" in cookie
    assert "Secure" not in cookie
    assert browser.get("/jobs/3").text == "read"
    # A browser sends a host's cookies to all its ports.
    assert cookie.startswith("assistant-8621=")


def test_behind_tls_the_cookie_is_for_tls_alone() -> None:
    answer = client(TOKEN, base="https://127.0.0.1").get(f"/?token={TOKEN}")
    assert "Secure" in answer.headers["set-cookie"]


@pytest.mark.parametrize("path", ["//evil.example/", "/\\evil.example/", "///evil.example"])
def test_the_way_on_leads_to_nobody_else(path: str) -> None:
    answer = client(TOKEN).get(f"http://127.0.0.1{path}?token={TOKEN}")
    assert answer.headers["location"].startswith("/evil.example")


def test_tokens_are_compared_in_constant_time(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[bytes, bytes]] = []

    def compare(given: bytes, wanted: bytes) -> bool:
        asked.append((given, wanted))
        return False

    monkeypatch.setattr("secrets.compare_digest", compare)
    assert client(TOKEN).get(f"/?token={TOKEN}").status_code == 401
    assert asked == [(TOKEN.encode(), TOKEN.encode()), (b"", TOKEN.encode())]
