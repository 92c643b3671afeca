"""The built front end is sent from its folder and from nowhere else."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from eke.web.app import make_app
from eke.web.house import House
from eke.web.static import BUILT


@pytest.fixture
def built(tmp_path: Path) -> Path:
    folder = tmp_path / "built"
    (folder / "assets").mkdir(parents=True)
    (folder / "index.html").write_text("<!doctype html><title>the table</title>")
    (folder / "mark.svg").write_text("<svg/>")
    (folder / "marks").mkdir()
    (folder / "marks" / "house-marking.svg").write_text("<svg/>")
    (folder / "assets" / "index-B2sKx81d.js").write_text("plain")
    (folder / "assets" / "index-B2sKx81d.js.br").write_bytes(b"as br")
    (folder / "assets" / "index-B2sKx81d.js.gz").write_bytes(b"as gz")
    (folder / "notes.py").write_text("not for windows")
    (folder / ".hidden.js").write_text("not for windows")
    (tmp_path / "secret.txt").write_text("outside")
    return folder


@pytest.fixture
def window(house: House, built: Path) -> Iterator[TestClient]:
    with TestClient(make_app(house, built), base_url=house.origin, follow_redirects=False) as made:
        made.get("/", params={"key": house.key})
        yield made


def test_the_page_and_paths_that_the_page_knows(window: TestClient) -> None:
    for path in ("/", "/index.html", "/garment/4f1e/lay", "/garments/The%20v1.2%20coat"):
        answer = window.get(path)
        assert answer.status_code == 200, path
        assert "the table" in answer.text
        assert answer.headers["cache-control"] == "no-cache"
        assert answer.headers["content-type"].startswith("text/html")


def test_assets_are_kept_for_ever_and_come_compressed(window: TestClient) -> None:
    path = "/assets/index-B2sKx81d.js"
    for accepted, encoding, length in [
        ("br, gzip", "br", 5), ("gzip", "gzip", 5), ("identity", None, 5), ("br;q=0, gzip", "gzip", 5),
        ("br;q=0.0,gzip;q=0", None, 5),
    ]:  # fmt: skip
        answer = window.head(path, headers={"accept-encoding": accepted})
        assert answer.headers.get("content-encoding") == encoding, accepted
        assert int(answer.headers["content-length"]) == length
        assert answer.headers["content-type"].startswith("text/javascript")
        assert "immutable" in answer.headers["cache-control"]
        assert answer.headers["vary"] == "Accept-Encoding"
    for plain in ("/mark.svg", "/marks/house-marking.svg"):  # no hash in these names
        assert window.get(plain).headers["cache-control"] == "no-cache"


def test_a_script_that_is_gone_is_no_page(window: TestClient) -> None:
    answer = window.get("/assets/index-00000000.js")
    assert answer.status_code == 404
    assert "Load the page again" in answer.json()["sentence"]


@pytest.mark.parametrize(
    "path",
    [
        "/../secret.txt", "/%2e%2e/secret.txt", "/..%2fsecret.txt", "/assets/../../secret.txt",
        "/assets/..%5c..%5csecret.txt", "/%2e%2e%5csecret.txt", "//secret.txt", "/assets/%00.js", "/notes.py",
        "/.hidden.js", "/C:/secret.txt", "/assets/index-B2sKx81d.js.br",
    ],
)  # fmt: skip
def test_nothing_outside_is_sent(window: TestClient, path: str) -> None:
    answer = window.get(path)
    assert "outside" not in answer.text
    assert "not for windows" not in answer.text
    assert answer.content != b"as br"


def test_a_link_out_of_the_folder_is_not_followed(window: TestClient, built: Path, tmp_path: Path) -> None:
    try:
        (built / "link.txt").symlink_to(tmp_path / "secret.txt")
    except OSError:
        pytest.skip("this system lets nobody make links")
    assert "outside" not in window.get("/link.txt").text


def test_an_unknown_route_is_a_problem(window: TestClient) -> None:
    for path in ("/api", "/api/none", "/api/none/at/all"):
        answer = window.get(path)
        assert answer.status_code == 404
        assert answer.json()["code"] == "not-found"


def test_without_pages_it_says_how_to_make_them(house: House, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with TestClient(
        make_app(house, tmp_path / "empty"), base_url=house.origin, follow_redirects=False
    ) as window:
        window.get("/", params={"key": house.key})
        answer = window.get("/")
    assert answer.status_code == 503
    assert "make app" in answer.text


@pytest.mark.skipif(not BUILT.is_dir(), reason="the front end has not been built here")
def test_every_file_of_the_build_is_served(house: House) -> None:
    with TestClient(make_app(house), base_url=house.origin, follow_redirects=False) as window:
        window.get("/", params={"key": house.key})
        for file in BUILT.rglob("*"):
            if file.is_file() and file.suffix not in (".br", ".gz"):
                path = "/" + file.relative_to(BUILT).as_posix()
                answer = window.get(path, headers={"accept-encoding": "identity"})
                assert (answer.status_code, answer.content) == (200, file.read_bytes()), path
