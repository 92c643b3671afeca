"""The door for the phone: one code, good once and for a while, and nothing behind it but a page for pictures."""

from __future__ import annotations

import http.client
import json
import re
import socket
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

import pytest
from starlette.testclient import TestClient

from eke.actions.photographs import photographs_of
from eke.actions.projects import enter_garment, start_project
from eke.actions.room import Room
from eke.errors import HonestNo, NotFound
from eke.web import lan, phone_page
from eke.web.app import make_app
from eke.web.house import House
from eke.web.models.workroom import PhoneView
from eke.web.phone import PhoneDoor, qr_svg
from helpers.pictures import bomb_png, demo_photograph, plain_jpeg

WAIT_S: Final = 60.0


class Clock:
    """A clock that the test moves."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


class Phone:
    """A browser on a phone: keeps its cookie, and says where it is as browsers do."""

    def __init__(self, address: str) -> None:
        parts = urlsplit(address)
        assert parts.hostname is not None
        self.host, self.port, self.path = parts.hostname, parts.port, parts.path
        self.cookie = ""

    def ask(
        self, method: str, path: str, body: bytes | None = None, headers: dict[str, str] | None = None
    ) -> tuple[int, str, http.client.HTTPMessage]:
        connection = http.client.HTTPConnection(self.host, self.port, timeout=WAIT_S)
        try:
            sent = {"Cookie": self.cookie} if self.cookie else {}
            if method == "POST":
                sent["Origin"] = f"http://{self.host}:{self.port}"
            connection.request(method, path, body, {**sent, **(headers or {})})
            answer = connection.getresponse()
            text = answer.read().decode()
            if answer.getheader("set-cookie"):
                self.cookie = str(answer.getheader("set-cookie")).split(";")[0]
            return answer.status, text, answer.headers
        finally:
            connection.close()

    def come(self) -> tuple[int, str, http.client.HTTPMessage]:
        return self.ask("GET", self.path)

    def send(self, *pictures: tuple[str, bytes], **headers: str) -> tuple[int, str]:
        body, content_type = form(*pictures)
        status, text, _ = self.ask(
            "POST", "/", body, {"Content-Type": content_type, "Accept": "application/json", **headers}
        )
        return status, text

    def lines(self, *pictures: tuple[str, bytes]) -> list[tuple[bool, str]]:
        status, text = self.send(*pictures)
        assert status == 200, text
        return [(line["came"], line["sentence"]) for line in json.loads(text)["lines"]]


def form(*pictures: tuple[str, bytes]) -> tuple[bytes, str]:
    parts = [
        b'--edge\r\nContent-Disposition: form-data; name="file"; filename="' + name.encode() + b'"\r\n'
        b"Content-Type: image/png\r\n\r\n" + data + b"\r\n"
        for name, data in pictures
    ]
    return b"".join(parts) + b"--edge--\r\n", "multipart/form-data; boundary=edge"


def picture(shade: int = 200) -> bytes:
    return plain_jpeg(grey=shade)


@pytest.fixture
def garment(room: Room) -> str:
    start_project(room, "Winter")
    return enter_garment(room, "Winter", "Coat").id


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def door(house: House, clock: Clock) -> Iterator[PhoneDoor]:
    made = PhoneDoor(house.room, house.events, address=lambda: "127.0.0.1", clock=clock)
    house.phone = made
    yield made
    made.close()


@pytest.fixture
def phone(door: PhoneDoor, garment: str) -> Phone:
    address = door.open(garment).address
    assert address is not None
    return Phone(address)


# ---- the code -------------------------------------------------------------------------------------------


def test_it_is_shut_unless_asked_for(client: TestClient, door: PhoneDoor, garment: str) -> None:
    view = client.get("/api/phone").json()
    assert (view["open"], view["address"], view["qr_svg"]) == (False, None, None)
    opened = client.post("/api/phone", json={"subject": garment}).json()
    assert opened["open"]
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/c/[\w-]{22}", opened["address"])
    assert opened["expires_at"] > "2026"
    assert client.get("/api/phone").json() == opened
    shut = client.delete("/api/phone").json()
    assert (shut["open"], shut["address"]) == (False, None)
    parts = urlsplit(opened["address"])
    with pytest.raises(OSError):
        socket.create_connection((parts.hostname, parts.port), timeout=5).close()


def test_the_code_lets_one_browser_in(phone: Phone, door: PhoneDoor) -> None:
    status, page, headers = phone.come()
    assert status == 200
    assert "<form" in page
    cookie = headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert phone.path.rsplit("/", 1)[1] not in page + cookie
    view = door.view()
    assert (view.used, view.address, view.qr_svg) == (True, None, None)
    assert phone.come()[0] == 200  # the same browser may load it again
    assert phone.ask("GET", "/")[0] == 200


def test_a_second_use_of_the_code_is_refused(phone: Phone, room: Room, garment: str) -> None:
    phone.come()
    other = Phone(f"http://{phone.host}:{phone.port}{phone.path}")
    status, page, headers = other.come()
    assert status == 403
    assert "used already" in page
    assert headers["set-cookie"] is None
    assert other.send(("a.png", picture()))[0] == 403
    assert not photographs_of(room, garment)


def test_a_late_use_is_refused(phone: Phone, clock: Clock, door: PhoneDoor) -> None:
    clock.now = 600.0
    status, page, _ = phone.come()
    assert status == 403
    assert "ten minutes are over" in page
    assert not door.view().used


def test_a_phone_that_stays_too_long_is_refused(phone: Phone, clock: Clock, room: Room, garment: str) -> None:
    phone.come()
    assert phone.lines(("a.png", picture()))[0][0]
    clock.now = 600.0
    assert phone.send(("b.png", picture(7)))[0] == 403
    assert phone.ask("GET", "/")[0] == 403
    assert len(photographs_of(room, garment)) == 1


def test_it_shuts_by_itself(house: House, garment: str) -> None:
    door = PhoneDoor(house.room, house.events, address=lambda: "127.0.0.1", open_s=0.2)
    address = door.open(garment).address
    door._opening._timer.join(WAIT_S)  # type: ignore[union-attr]
    view = door.view()
    assert (view.open, view.sentence) == (
        False,
        "The ten minutes are over, and the page for the phone is closed.",
    )
    with pytest.raises(OSError):
        Phone(str(address)).come()


def test_opening_again_makes_the_old_code_useless(door: PhoneDoor, garment: str) -> None:
    first = door.open(garment).address
    second = door.open("shelf").address
    assert first != second
    with pytest.raises(OSError):
        Phone(str(first)).come()
    assert Phone(str(second)).come()[0] == 200


@pytest.mark.parametrize("path", ["/c/", "/c/wrong", "/c/%00", "/c/../c/x", "/c", "/c/x/y", "/c/%C3%A9"])
def test_a_wrong_code_opens_nothing(phone: Phone, path: str) -> None:
    status, page, headers = phone.ask("GET", path)
    assert status in (403, 404)
    assert headers["set-cookie"] is None
    assert "<form" not in page
    assert phone.come()[0] == 200  # and uses nothing up


@pytest.mark.parametrize(
    ("method", "headers"), [("HEAD", {}), ("GET", {"Sec-Purpose": "prefetch;prerender"})]
)
def test_a_program_that_looks_ahead_uses_nothing_up(
    phone: Phone, method: str, headers: dict[str, str]
) -> None:
    assert phone.ask(method, phone.path, headers=headers)[0] in (405, 503)
    assert phone.come()[0] == 200


# ---- nothing else ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "path",
    [
        "/api/workroom", "/api/jobs", "/api/events", "/api/openapi.json", "/api/phone", "/index.html", "/assets/a.js",
        "/api/photos/0", "/../api/workroom", "//api/workroom", "/?key=x", "/favicon.ico",
    ],
)  # fmt: skip
def test_the_table_is_not_behind_this_door(phone: Phone, house: House, path: str) -> None:
    phone.come()
    own = f"eke-{house.port}={house.token}"
    for cookie in (phone.cookie, own, f"{phone.cookie}; {own}"):
        status, text, _ = phone.ask("GET", path, headers={"Cookie": cookie, "X-Eke": "1"})
        assert "Winter" not in text
        assert "Coat" not in text
        if path != "/?key=x":
            assert status == 404
    assert phone.ask("POST", "/api/projects", b"{}", {"X-Eke": "1"})[0] == 404
    assert phone.ask("DELETE", "/")[0] == 405


def test_the_page_tells_nothing_of_the_workroom(phone: Phone) -> None:
    _, page, _ = phone.come()
    assert "Coat" not in page
    assert "Winter" not in page


def test_the_phones_cookie_does_not_open_the_table(phone: Phone, house: House) -> None:
    phone.come()
    with TestClient(make_app(house), base_url=house.origin, follow_redirects=False) as window:
        assert window.get("/api/jobs", headers={"cookie": phone.cookie}).status_code == 403
        token = phone.cookie.split("=", 1)[1]
        assert window.get("/api/jobs", headers={"cookie": f"eke-{house.port}={token}"}).status_code == 403
        assert window.get("/api/jobs", headers={"host": f"{phone.host}:{phone.port}"}).status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        {"Host": "evil.example"},
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"},
        {"Cookie": "eke-phone=x"},
        {"Cookie": ""},
    ],
)
def test_other_pages_and_other_browsers_send_nothing(
    phone: Phone, room: Room, garment: str, headers: dict[str, str]
) -> None:
    phone.come()
    assert phone.send(("a.png", picture()), **headers)[0] == 403
    assert not photographs_of(room, garment)


def test_the_page_brings_its_own_style_and_script_and_nothing_else(phone: Phone) -> None:
    import base64
    import hashlib

    _, page, headers = phone.come()
    policy = headers["content-security-policy"]
    for tag in ("style", "script"):
        [text] = re.findall(f"<{tag}>(.*?)</{tag}>", page, re.S)
        word = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{word}'" in policy
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "http" not in page.replace("http-equiv", "")  # fetches nothing
    assert headers["cache-control"] == "no-store"


# ---- pictures -------------------------------------------------------------------------------------------


def test_pictures_go_straight_into_the_garment(
    phone: Phone, room: Room, garment: str, door: PhoneDoor
) -> None:
    phone.come()
    assert phone.lines(("front.png", picture()), ("back.png", picture(9))) == [
        (True, "front.png has arrived. Leave the paper where it is, and look:"),
        (True, "back.png has arrived. Leave the paper where it is, and look:"),
    ]
    kept = photographs_of(room, garment)
    assert [(p.name, p.cloth, p.width_px, p.height_px) for p in kept] == [
        ("front.png", False, 800, 600),
        ("back.png", False, 800, 600),
    ]
    view = door.view()
    assert (view.received, view.sentence) == (2, "2 pictures have come from the phone.")
    assert "2 pictures" in door.close().sentence


def test_windows_hear_of_the_phone(door: PhoneDoor, house: House, garment: str, monkeypatch: Any) -> None:
    told: list[PhoneView] = []
    monkeypatch.setattr(
        house.events, "publish", lambda e: told.append(e) if isinstance(e, PhoneView) else None
    )
    phone = Phone(str(door.open(garment).address))
    phone.come()
    phone.lines(("a.png", picture()), ("b.png", picture(3)))
    door.close()
    assert [(v.open, v.used, v.received) for v in told] == [
        (True, False, 0),
        (True, True, 0),
        (True, True, 1),
        (True, True, 2),
        (False, True, 2),
    ]
    assert told[0].qr_svg is not None
    assert told[0].qr_svg.startswith("<svg")


def test_pictures_of_cloth_go_to_the_shelf(door: PhoneDoor, room: Room) -> None:
    phone = Phone(str(door.open("shelf").address))
    phone.come()
    phone.lines(("curtain.png", picture()))
    assert [(p.name, p.cloth) for p in photographs_of(room, "shelf")] == [("curtain.png", True)]


def test_what_is_better_done_again_is_said_before_the_paper_is_put_away(phone: Phone) -> None:
    phone.come()
    status, text = phone.send(("dark.png", picture(9)), ("good.jpg", demo_photograph()))
    assert status == 200
    dark, good = json.loads(text)["lines"]
    assert [one["code"] for one in dark["remarks"]] == ["dark"]
    assert "Leave the flash off" in dark["remarks"][0]["remedy"]
    assert good["remarks"] == []
    assert "sharp and light enough" in good["sentence"]
    page = phone.ask("GET", "/")[1]
    assert '<use href="#glance-dark"/>' in page
    assert 'id="glance-dark"' in page


def test_a_picture_that_nobody_could_look_at_has_arrived_all_the_same(
    phone: Phone, room: Room, garment: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("planted")

    monkeypatch.setattr("eke.web.phone.glance_at", broken)
    phone.come()
    assert phone.lines(("front.png", picture())) == [(True, "front.png has arrived.")]
    assert [p.name for p in photographs_of(room, garment)] == ["front.png"]


def test_it_works_without_a_script(phone: Phone) -> None:
    phone.come()
    body, content_type = form(("front.png", picture()))
    status, _, headers = phone.ask("POST", "/", body, {"Content-Type": content_type, "Accept": "text/html"})
    assert (status, headers["location"]) == (303, "/")
    page = phone.ask("GET", "/")[1]
    assert "front.png has arrived." in page
    body, content_type = form(("", b""))
    phone.ask("POST", "/", body, {"Content-Type": content_type})
    assert "No picture was chosen" in phone.ask("GET", "/")[1]


def test_what_is_no_picture_is_refused_in_words(phone: Phone, room: Room, garment: str) -> None:
    phone.come()
    lines = phone.lines(("notes.txt", b"hello"), ("big.png", bomb_png()), ("half.png", picture()[:400]))
    assert [came for came, _ in lines] == [False, False, False]
    for _, sentence in lines:
        assert sentence.endswith(".")
        assert not re.search("Traceback|nvalid|rror", sentence)
    assert not photographs_of(room, garment)


@pytest.mark.parametrize(
    "name",
    [
        "../../../escape.png", "..\\..\\escape.png", "/etc/escape.png", "C:\\Windows\\escape.png",
        "<script>escape.png", "a/../escape.png", "....//escape.png",
    ],
)  # fmt: skip
def test_a_name_is_only_shown_never_a_path(
    phone: Phone, room: Room, garment: str, tmp_path: Path, name: str
) -> None:
    before = {p for p in tmp_path.rglob("*") if p.name != "workroom.db-wal"}
    phone.come()
    [(came, _)] = phone.lines((name, picture()))
    assert came
    [kept] = photographs_of(room, garment)
    assert not {"/", "\\"} & set(kept.name)
    assert kept.name.endswith("escape.png")
    new = {p for p in tmp_path.rglob("*") if p.is_file()} - before
    assert not [p for p in new if "escape" in p.name]
    assert all(p.is_relative_to(room.folder) for p in new)
    page = phone.ask("GET", "/")[1]
    assert "<script>escape" not in page


def test_limits_of_bytes_and_numbers(phone: Phone, room: Room, garment: str, monkeypatch: Any) -> None:
    phone.come()
    many = [(f"{n}.png", picture(n)) for n in range(phone_page.MOST_AT_ONCE + 1)]
    assert phone.lines(*many) == [(False, "That could not be read. Send at most 20 pictures at a time.")]
    monkeypatch.setattr(phone_page, "MOST_PICTURES", 2)
    lines = phone.lines(*many[:3])
    assert [came for came, _ in lines] == [True, True, False]
    assert "as many pictures" in lines[2][1]
    assert len(photographs_of(room, garment)) == 2
    monkeypatch.setattr(phone_page, "MOST_PICTURES", 60)
    monkeypatch.setattr(phone_page, "MOST_BYTES", 3000)
    assert not phone.lines(many[5])[0][0]
    assert len(photographs_of(room, garment)) == 2


def test_a_form_that_is_too_large_is_not_read(phone: Phone) -> None:
    phone.come()
    headers = {
        "Content-Type": "multipart/form-data; boundary=edge",
        "Content-Length": str(phone_page.LARGEST_FORM_BYTES + 1),
    }
    status, text, _ = phone.ask("POST", "/", b"--edge", headers)
    assert status == 413
    assert json.loads(text)["code"] == "too-big"


def test_a_mistake_of_the_program_shows_no_traceback(phone: Phone, monkeypatch: Any) -> None:
    def slip(*_: Any, **__: Any) -> None:
        raise ZeroDivisionError

    phone.come()
    monkeypatch.setattr("eke.web.phone.take_in_photograph", slip)
    status, text = phone.send(("a.png", picture()))
    assert status == 500
    assert "Traceback" not in text
    assert "ZeroDivision" not in text


# ---- where ----------------------------------------------------------------------------------------------


def test_an_unknown_garment_opens_nothing(client: TestClient, door: PhoneDoor) -> None:
    assert client.post("/api/phone", json={"subject": "nobody"}).status_code == 404
    with pytest.raises(NotFound):
        door.open("nobody")
    assert not door.view().open


def test_without_a_home_network_it_says_so(
    client: TestClient, house: House, garment: str, monkeypatch: Any
) -> None:
    monkeypatch.setattr(lan, "_way_out", lambda: None)
    monkeypatch.setattr(lan, "_own", list)
    house.phone = PhoneDoor(house.room, house.events)
    answer = client.post("/api/phone", json={"subject": garment})
    assert answer.status_code == 422
    assert "no home network" in answer.json()["sentence"]


@pytest.mark.parametrize(
    ("way_out", "own", "found"),
    [
        ("192.168.1.7", [], "192.168.1.7"),
        ("8.8.8.8", ["10.0.0.4"], "10.0.0.4"),  # never an address of the internet
        ("100.64.0.9", ["169.254.7.7", "172.31.255.1"], "172.31.255.1"),
        (None, ["127.0.0.1", "172.32.0.1", "203.0.113.5", "::1", ""], None),
        ("192.0.2.2", [], None),
    ],
)
def test_only_addresses_of_a_home_are_used(
    monkeypatch: Any, way_out: Any, own: list[str], found: Any
) -> None:
    """The ranges: RFC 1918; the rest: RFC 5737, 6598, 3927."""
    monkeypatch.setattr(lan, "_way_out", lambda: way_out)
    monkeypatch.setattr(lan, "_own", lambda: own)
    if found is None:
        with pytest.raises(HonestNo, match="no home network"):
            lan.home_address()
    else:
        assert lan.home_address() == found


def test_the_square_can_be_read_by_a_machine() -> None:
    """Read by OpenCV, which did not make it."""
    import cv2
    import numpy as np

    text = "http://192.168.178.21:43211/c/AbCdEfGhIjKlMnOpQrStUv"
    svg = qr_svg(text)
    root = ET.fromstring(svg)
    assert "width" not in root.attrib  # as large as there is room
    size = int(root.attrib["viewBox"].split()[2])
    dots = np.full((size, size), 255, np.uint8)
    [path] = [p for p in root.iter("{http://www.w3.org/2000/svg}path") if p.get("stroke")]
    x = y = 0.0
    for word, values in re.findall(r"([MmHh])([-\d. ]+)", path.attrib["d"]):
        numbers = [float(v) for v in re.findall(r"-?\d*\.?\d+", values)]
        if word == "h":
            dots[int(y), int(x) : int(x + numbers[0])] = 0
            x += numbers[0]
        elif word == "M":
            x, y = numbers
        else:
            x, y = x + numbers[0], y + numbers[1]
    large = cv2.resize(dots, None, fx=8, fy=8, interpolation=cv2.INTER_NEAREST)
    assert cv2.QRCodeDetector().detectAndDecode(large)[0] == text
