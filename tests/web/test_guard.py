"""Who may speak with the server. Rules of the outside: Fetch Metadata (W3C), RFC 6265bis, CSP Level 3."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

import pytest
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.testclient import TestClient

from eke.web.app import make_app
from eke.web.guard import LARGEST_SAID_BYTES, LARGEST_UPLOAD_BYTES, Guard, cookie_name, with_limit
from eke.web.house import House

PORT = 8123


@pytest.fixture
def stranger(house: House) -> Iterator[TestClient]:
    """A window without key and cookie."""
    with TestClient(make_app(house), base_url=house.origin, follow_redirects=False) as made:
        yield made


# ---- the key and the cookie -----------------------------------------------------------------------------


def test_the_first_address_gives_a_cookie_and_hides_the_key(stranger: TestClient, house: House) -> None:
    answer = stranger.get(house.first_address)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/"
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith(f"{cookie_name(PORT)}=")
    for word in ("HttpOnly", "SameSite=strict", "Path=/"):
        assert word in cookie
    assert house.key not in cookie
    assert stranger.get("/api/jobs").status_code == 200


@pytest.mark.parametrize(
    "query", ["", "?key=", "?key=wrong", "?key=x&key=y", "?KEY=x", "?key=%00", "?key=%ff"]
)
def test_a_wrong_key_opens_nothing(stranger: TestClient, query: str) -> None:
    answer = stranger.get(f"/{query}")
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers
    assert "Open Eke again from the address it printed" in answer.text


def test_the_right_key_twice_is_no_key(stranger: TestClient, house: House) -> None:
    assert stranger.get(f"/?key={house.key}&key={house.key}").status_code == 403


def test_a_key_is_good_only_at_the_first_address(stranger: TestClient, house: House) -> None:
    assert stranger.get(f"/api/jobs?key={house.key}").status_code == 403
    assert stranger.post(f"/?key={house.key}").status_code == 403


@pytest.mark.parametrize(
    "path", ["/", "/api/jobs", "/api/openapi.json", "/api/events", "/anything", "/assets/a.js"]
)
def test_nothing_is_shown_without_the_cookie(stranger: TestClient, path: str) -> None:
    answer = stranger.get(path)
    assert answer.status_code == 403
    if path.startswith("/api"):
        assert answer.json()["code"] == "refused"
    else:
        assert answer.headers["content-type"].startswith("text/html")


@pytest.mark.parametrize("value", ["", "wrong", "é", '"', "a;b=c"])
def test_a_wrong_cookie_opens_nothing(stranger: TestClient, value: str) -> None:
    header = f"{cookie_name(PORT)}={value}".encode("latin-1")
    assert stranger.get("/api/jobs", headers=[(b"cookie", header)]).status_code == 403


def test_the_cookie_of_another_port_is_not_ours(stranger: TestClient, house: House) -> None:
    assert (
        stranger.get("/api/jobs", headers={"cookie": f"{cookie_name(PORT + 1)}={house.token}"}).status_code
        == 403
    )


def test_an_old_address_in_an_open_window_leads_to_the_table(client: TestClient) -> None:
    answer = client.get("/?key=of-an-earlier-start")
    assert answer.status_code == 303
    assert "set-cookie" not in answer.headers


def test_two_houses_do_not_share_keys(room: Any) -> None:
    from eke.web.house import make_house

    one, other = make_house(room, port=1), make_house(room, port=1)
    try:
        assert len({one.key, one.token, other.key, other.token}) == 4
        assert len(one.key) >= 32
        assert one.key not in repr(one) + str(one)
    finally:
        one.close()
        other.close()


# ---- the host -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"LOCALHOST:{PORT}", f"[::1]:{PORT}"]
)
def test_own_names(client: TestClient, host: str) -> None:
    headers = {"host": host, "origin": f"http://{host.lower()}"}
    assert client.get("/api/jobs", headers=headers).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "127.0.0.1",
        "127.0.0.1:80",
        f"127.0.0.1:{PORT}0",
        f"127.0.0.2:{PORT}",
        f"evil.example:{PORT}",
        f"127.0.0.1.evil.example:{PORT}",
        f"localhost.evil.example:{PORT}",
        f"evil.example@127.0.0.1:{PORT}",
        f"0.0.0.0:{PORT}",
        f"192.168.1.20:{PORT}",
        "",
    ],
)
def test_other_names_are_refused_even_with_the_cookie(client: TestClient, house: House, host: str) -> None:
    """A foreign name that is made to point at this machine: DNS rebinding."""
    cookie = f"{cookie_name(PORT)}={house.token}"
    answer = client.get("/api/jobs", headers={"host": host, "origin": f"http://{host}", "cookie": cookie})
    assert answer.status_code == 403
    answer = client.get("/", params={"key": house.key}, headers={"host": host})
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


# ---- other pages ----------------------------------------------------------------------------------------

FOREIGN = [
    "http://evil.example",
    "null",
    f"https://127.0.0.1:{PORT}",
    f"http://127.0.0.1:{PORT + 1}",
    "",
    "*",
]


@pytest.mark.parametrize("origin", FOREIGN)
@pytest.mark.parametrize("method", ["GET", "POST", "PUT", "DELETE", "PATCH"])
def test_a_foreign_origin_is_refused(client: TestClient, method: str, origin: str) -> None:
    answer = client.request(method, "/api/jobs", headers={"origin": origin})
    assert answer.status_code == 403
    assert answer.json()["code"] == "refused"


def test_two_origins_are_refused(client: TestClient, house: House) -> None:
    headers = [("origin", house.origin), ("origin", "http://evil.example")]
    assert client.get("/api/jobs", headers=headers).status_code == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", "sideways"])
def test_a_request_from_another_page_is_refused(client: TestClient, site: str) -> None:
    """Another port of this machine is the same site for a cookie, but not ours."""
    for mode in ("no-cors", "navigate"):
        headers = {"sec-fetch-site": site, "sec-fetch-mode": mode}
        assert client.get("/api/jobs", headers=headers).status_code == 403


def test_a_link_elsewhere_may_open_the_table(stranger: TestClient, house: House) -> None:
    headers = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}
    assert stranger.get(house.first_address, headers=headers).status_code == 303


@pytest.mark.parametrize("drop", ["origin", "x-eke"])
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_a_change_needs_origin_and_own_header(client: TestClient, method: str, drop: str) -> None:
    del client.headers[drop]
    answer = client.request(method, "/api/jobs/none/stop")
    assert answer.status_code == 403
    assert "own window" in answer.json()["sentence"]


def test_looking_needs_neither(client: TestClient) -> None:
    del client.headers["origin"]
    del client.headers["x-eke"]
    assert client.get("/api/jobs").status_code == 200


@pytest.mark.parametrize("method", ["OPTIONS", "TRACE", "CONNECT", "PROPFIND"])
def test_other_methods_are_not_taken(client: TestClient, method: str) -> None:
    answer = client.request(method, "/api/jobs")
    assert answer.status_code == 405
    assert "access-control-allow-origin" not in answer.headers


# ---- how answers may be used ----------------------------------------------------------------------------


@pytest.mark.parametrize("path", ["/api/jobs", "/api/none", "/", "/anything"])
def test_every_answer_says_how_it_may_be_used(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy["frame-ancestors"] == "'none'"
    assert policy["default-src"] in ("'self'", "'none'")
    assert "unsafe-inline" not in policy.get("script-src", policy["default-src"])
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cache-control"] == ("no-store" if path.startswith("/api") else "no-cache")


def test_a_refusal_has_the_headers_too(stranger: TestClient) -> None:
    headers = stranger.get("/").headers
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["referrer-policy"] == "no-referrer"


# ---- bytes ----------------------------------------------------------------------------------------------


async def _echo(scope: Any, receive: Any, send: Any) -> None:
    body = await Request(scope, receive).body()
    await JSONResponse({"bytes": len(body)})(scope, receive, send)


async def _swallow(scope: Any, receive: Any, send: Any) -> None:
    with contextlib.suppress(Exception):
        await Request(scope, receive).body()
    await Response("all is well")(scope, receive, send)


def _pieces(count: int, size: int) -> Iterator[bytes]:
    for _ in range(count):
        yield b"x" * size


@pytest.mark.parametrize("app", [_echo, _swallow])
def test_bytes_are_counted_while_they_stream(app: Any) -> None:
    client = TestClient(with_limit(app, 1000))
    assert client.post("/", content=_pieces(10, 100)).status_code == 200
    assert client.post("/", content=_pieces(11, 100)).status_code == 413
    answer = client.post("/", content=b"x" * 1001)  # says its length
    assert answer.status_code == 413
    assert answer.json()["code"] == "too-big"
    assert answer.json()["facts"] == {"limit_bytes": 1000}


@pytest.mark.parametrize("length", ["-1", "1e3", "٣", "9" * 5000, "1001", "x"])
def test_a_length_that_makes_no_sense(length: str) -> None:
    client = TestClient(with_limit(_echo, 1000))
    header = [(b"content-length", length.encode())]
    assert client.post("/", content=b"x", headers=header).status_code == 413


def test_what_is_said_has_a_limit_and_a_form_another(client: TestClient) -> None:
    big = b"x" * (LARGEST_SAID_BYTES + 1)
    assert client.post("/api/jobs/none/stop", content=big).status_code == 413
    form = {"content-type": "multipart/form-data; boundary=b"}
    assert client.post("/api/jobs/none/stop", content=big, headers=form).status_code == 404
    headers = {**form, "content-length": str(LARGEST_UPLOAD_BYTES + 1)}
    assert client.post("/api/jobs/none/stop", content=b"x", headers=headers).status_code == 413


def test_there_are_no_web_sockets(house: House) -> None:
    from starlette.websockets import WebSocketDisconnect

    app = Guard(_echo, port=PORT, key="k", token="t")
    with (
        pytest.raises(WebSocketDisconnect),
        TestClient(app, base_url=house.origin).websocket_connect("/api/events"),
    ):
        pass
