"""What others may try against the desk: each is refused, the page goes on, and nothing is left behind.

What is asked for follows the standards: cookies by RFC 6265 (and its successor draft for SameSite), fetch metadata by
the W3C's Fetch Metadata Request Headers, policies by CSP level 3. Rebinding is what a wrong Host shows.
"""

import gzip
import http.client
import io
import re
import socket
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

from tests.desk.running import MODELS, Client, benches, serving


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """One server for all attacks, each of which must leave it well."""
    home = tmp_path_factory.mktemp("desk")
    with serving(home) as client:
        yield client.enter()
    assert client.left() == []


@pytest.fixture(autouse=True)
def _is_alive(client: Client) -> Iterator[None]:
    """After an attack the page answers."""
    yield
    assert client.http.get("/api/alive").status_code == 204


@pytest.fixture
def desk(client: Client) -> Iterator[str]:
    """The address of a desk, of which nothing is left in the end."""
    desk = client.desk()
    yield desk
    assert client.http.delete(desk).status_code == 204
    assert uploads_left(client) == []


def port_of(client: Client) -> int:
    return int(client.base.rsplit(":", 1)[1])


def uploads_left(client: Client) -> list[str]:
    return [name for name in client.left() if "upload-" in name]


def fresh(client: Client, **headers: str) -> httpx.Client:
    """A browser that was never let in."""
    return httpx.Client(base_url=client.base, headers=headers)


# ---- who may come in -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", ["/", "/page/plotly.min.js", "/api/start", "/api/alive", "/nowhere"])
def test_nothing_without_the_cookie(client: Client, path: str) -> None:
    """Without the token's cookie there is no page, no script, no figure."""
    with fresh(client) as stranger:
        answer = stranger.get(path)
    assert answer.status_code == 403
    assert "terminal" in answer.text


def test_the_token_works_once(client: Client) -> None:
    """The address that was opened opens nothing any longer, nor does a guess."""
    for address in (
        client.address,
        f"{client.base}/enter?token=guess",
        f"{client.base}/enter",
        f"{client.base}/enter?token=",
    ):
        with fresh(client) as second:
            answer = second.get(address)
        assert answer.status_code == 403
        assert "set-cookie" not in answer.headers


def test_the_cookie_is_bound(tmp_path: Path) -> None:
    """It is out of reach of scripts and other sites, and carries the port, which cookies do not know."""
    with serving(tmp_path) as other:
        answer = other.http.get(other.address)
        cookie = answer.headers["set-cookie"]
        assert cookie.startswith(f"stationer-{port_of(other)}=")
        assert {"httponly", "samesite=strict", "path=/"} <= {part.strip().lower() for part in cookie.split(";")}
        assert len(cookie.split("=")[1].split(";")[0]) >= 43  # 256 bits in base64


@pytest.mark.parametrize("host", ["stationer.example", "localhost", "127.0.0.1", "127.0.0.1:1", "[::1]", ""])
def test_a_name_that_points_here_is_refused(client: Client, host: str) -> None:
    """A page whose name somebody has pointed to this machine sends its own name as Host."""
    value = host if ":" in host or not host else f"{host}:{port_of(client)}" if host != "127.0.0.1" else host
    for path in ("/api/start", client.address.removeprefix(client.base)):
        answer = client.http.get(path, headers={"host": value})
        assert answer.status_code in {400, 403}
        assert "hull" not in answer.text


@pytest.mark.parametrize("origin", ["https://stationer.example", "http://127.0.0.1:1", "http://localhost", "null"])
def test_another_origin_is_refused(client: Client, origin: str) -> None:
    """Even with the cookie, neither reading nor changing."""
    assert client.http.get("/api/start", headers={"origin": origin}).status_code == 403
    assert client.http.post("/api/desks", headers={"origin": origin}).status_code == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_page_is_refused(client: Client, site: str) -> None:
    """A page of another site, or of another port of this machine, which counts as the same site."""
    for path in ("/", "/api/start", "/page/plotly.min.js"):
        assert client.http.get(path, headers={"sec-fetch-site": site}).status_code == 403
    assert client.http.get("/api/alive", headers={"sec-fetch-site": "same-origin"}).status_code == 204


def test_a_form_of_another_site_is_refused(client: Client) -> None:
    """A form is sent with cookies by browsers that know no SameSite; they send its Origin, or none."""
    cookie = "; ".join(f"{name}={value}" for name, value in client.http.cookies.items())
    form = {"content-type": "application/x-www-form-urlencoded", "cookie": cookie}
    with fresh(client, **form) as browser:
        assert browser.post("/api/desks", content="a=b").status_code == 403
        assert (
            browser.post("/api/desks", content="a=b", headers={"origin": "https://stationer.example"}).status_code
            == 403
        )
        assert browser.post("/api/desks", headers={"origin": client.base}).status_code == 201  # the check can tell


@pytest.mark.parametrize("path", ["/", "/api/start", "/page/plotly.min.js", "/nowhere", "/enter?token=x"])
def test_every_answer_is_guarded(client: Client, path: str) -> None:
    """Scripts from here alone, no frames, no guessing of types, no referrer; refusals too."""
    for answer in (client.http.get(path), client.http.get(path, headers={"origin": "https://stationer.example"})):
        policy = dict(part.strip().split(" ", 1) for part in answer.headers["content-security-policy"].split(";"))
        assert policy["script-src"] == "'self'"
        assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'"
        assert "unsafe-eval" not in answer.headers["content-security-policy"]
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert answer.headers["cross-origin-resource-policy"] == "same-origin"
        assert "access-control-allow-origin" not in answer.headers


def test_it_listens_on_this_machine_alone(client: Client) -> None:
    """The socket is bound to the loopback address: of all sockets with this port none is on another."""
    port = f":{port_of(client):04X}"
    rows = [
        line.split() for table in ("tcp", "tcp6") for line in Path(f"/proc/net/{table}").read_text().splitlines()[1:]
    ]
    listening = [row[1] for row in rows if row[1].endswith(port) and row[3] == "0A"]
    assert listening == [f"0100007F{port}"]


def test_nobody_else_can_read_its_files(client: Client) -> None:
    """The folder is closed to other users of the machine."""
    (folder,) = client.home.glob("stationer-desk-*")
    assert folder.stat().st_mode & 0o077 == 0


# ---- names ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "../../evil.stl",
        "..\\..\\evil.stl",
        "/etc/evil.stl",
        "C:\\evil.stl",
        "evil\0.stl",
        "a\r\nb: c/evil.stl",
        "~/evil.stl",
    ],
)
def test_names_of_files_are_no_paths(client: Client, desk: str, name: str) -> None:
    """A hull is stored under a name of ours, in the desk's folder, whatever it is called."""
    assert client.drop(desk, MODELS / "skerrywing.stl", name).status_code == 202
    state = client.wait_ready(desk)
    assert state["hull"]["state"] == "ready"
    assert re.fullmatch(r"evil.?\.stl", state["hull"]["file"])
    assert [path for path in client.left() if "evil" in path] == []
    assert all(re.fullmatch(r"stationer-desk-\w+/desk-\d+/upload-1\.stl", path) for path in uploads_left(client))


@pytest.mark.parametrize("name", ["", ".stl", "hull", "hull.exe", "hull.stl/", "hull.zip", "x" * 5000, ".."])
def test_names_of_other_files_are_refused(client: Client, desk: str, name: str) -> None:
    """What is no hull is not stored, and the answer says what is expected."""
    answer = client.http.put(f"{desk}/hull", params={"name": name}, content=b"MZ")
    if answer.status_code == 202:  # a hull without a name but its ending is tried and refused as a hull
        assert client.wait_ready(desk)["hull"]["state"] == "failed"
    else:
        assert answer.status_code == 415
        assert ".stl" in answer.json()["message"]
        assert uploads_left(client) == []


def test_a_job_file_names_no_file_of_this_machine(client: Client, desk: str) -> None:
    """The file that a job names is never opened: it must be dropped."""
    text = f'[hull]\nfile = "{MODELS / "skerrywing.stl"}"\n[foam]\nthickness = 40\n[output]\nfolder = "/tmp/evil"\n'
    answer = client.http.put(f"{desk}/hull", params={"name": "job.toml"}, content=text.encode())
    assert answer.status_code == 202
    assert (answer.json()["hull"], answer.json()["wanted"]) == (None, "skerrywing.stl")
    assert answer.json()["settings"] == {"foam": {"thickness": 40}}


@pytest.mark.parametrize(
    "path",
    ["/page/../routes.py", "/page/%2e%2e/routes.py", "/page/..%2froutes.py", "/page//etc/passwd", "/page/index.html/..",
     "/api/desks/../../x", "{desk}/files/..%2f..%2flock", "{desk}/files/%2e%2e", "{desk}/lock", "{desk}/upload-1.stl",
     "{desk}/sheets/..%2f1.svg", "{desk}/blocks/-1"],
)  # fmt: skip
def test_addresses_are_no_paths(client: Client, desk: str, path: str) -> None:
    """Only what is listed is handed out."""
    connection = http.client.HTTPConnection("127.0.0.1", port_of(client))
    cookie = "; ".join(f"{name}={value}" for name, value in client.http.cookies.items())
    connection.request("GET", path.format(desk=desk), headers={"Cookie": cookie})
    answer = connection.getresponse()
    assert answer.status in {400, 404}
    assert b"root:" not in answer.read()
    connection.close()


# ---- bombs ---------------------------------------------------------------------------------------------------------


LAUGHS = '<!DOCTYPE x [<!ENTITY a0 "ha">' + "".join(
    f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12)
) + "]>"  # fmt: skip
"""Entities that grow tenfold eleven times, as bombs of XML do."""


MEBIBYTES = 768
"""Size of what comes out of a compressed bomb, over the half gibibyte that is allowed."""


def zip_bomb() -> bytes:
    """A 3MF file whose model is spaces and nothing else."""
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("3D/3dmodel.model", "w", force_zip64=True) as model,
    ):
        for _ in range(MEBIBYTES):
            model.write(b" " * (1 << 20))
    return stream.getvalue()


BOMBS: dict[str, Callable[[], bytes]] = {
    "hull.3mf": zip_bomb,
    "hull.stl.gz": lambda: gzip.compress(b"\0" * (MEBIBYTES << 20), 1),
    "hull.dae": f'<?xml version="1.0"?>{LAUGHS}<COLLADA>&a11;</COLLADA>'.encode,
    "hull.svg": f'<?xml version="1.0"?>{LAUGHS}<svg xmlns="http://www.w3.org/2000/svg"><text>&a11;</text></svg>'.encode,
    "nested.svg": lambda: b"<svg>" + b"<g>" * 200_000 + b"</g>" * 200_000 + b"</svg>",
    "hull.stl": lambda: b" " * 80 + (0xFFFFFFFF).to_bytes(4, "little") + b"\0" * 5000,
    "hull.csv": lambda: b"1," * 5_000_000,
}


@pytest.mark.parametrize("name", BOMBS)
def test_bombs_are_refused(client: Client, desk: str, name: str, tmp_path: Path) -> None:
    """A file that would grow without end gets its sentence, and the bench stays small."""
    path = tmp_path / name
    path.write_bytes(BOMBS[name]())
    assert client.drop(desk, path).status_code == 202
    state = client.wait_ready(desk)
    assert state["hull"]["state"] == "failed"
    words = state["hull"]["fault"]["message"]
    assert name in words
    assert "upload-" not in words
    assert "does not know" not in words
    peaks = [int(re.search(r"VmHWM:\s+(\d+)", text)[1]) for text in statuses(client)]  # type: ignore[index]
    assert max(peaks) < 1_300_000  # kB; the limits of the command line allow half a gigabyte of bytes


def statuses(client: Client) -> list[str]:
    """What the system says of the server and its benches."""
    numbers = [client.process.pid, *benches(client.process.pid)]
    paths = [Path(f"/proc/{number}/status") for number in numbers]
    return [path.read_text() for path in paths if path.exists()]


@pytest.mark.parametrize(
    "text",
    [b"a." * 5000 + b"b = 1", b"[" * 100_000, b"x = " + b"[" * 50_000, b"\xff\xfe", b"[hull]\nfile = 1", b"[hull]\n",
     b'[hull]\nfile = "a.stl"\n[foam]\nthickness = -1\n', b'[hull]\nfile = "a.stl"\n[evil]\nx = 1\n', b"#" * 1_000_001],
)  # fmt: skip
def test_absurd_job_files_are_refused(client: Client, desk: str, text: bytes) -> None:
    """A job file at fault gets a sentence that names it, or the key."""
    answer = client.http.put(f"{desk}/hull", params={"name": "absurd.toml"}, content=text)
    assert answer.status_code in {413, 422}
    assert re.search(r"absurd\.toml|hull|thickness|evil", answer.json()["message"])
    assert str(client.home) not in answer.text
    assert uploads_left(client) == []


@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"{", b"[" * 100_000, b" " * 300_000, b'{"settings": 1}', b'{"settings": {"foam": [1]}}',
     b'{"settings": {"hull": {"file": "/etc/passwd", "unit": {"a": 1}}}}',
     b'{"settings": {"boards": [' + b"{}," * 400 + b"{}]}}", b'{"settings": {"foam": {"thickness": NaN}}}',
     b'{"settings": {"foam": {"thickness": 1e999}}}', b'{"settings": {"foam": {"breaks": [[[[[[1]]]]]]}}}'],
)  # fmt: skip
def test_absurd_settings_are_refused(client: Client, desk: str, body: bytes) -> None:
    """Settings that cannot be are refused, and those before stay."""
    answer = client.http.put(f"{desk}/settings", content=body)
    assert answer.status_code in {400, 413, 422}
    assert answer.json()["message"]
    assert client.http.get(desk).json()["settings"] == {}


# ---- floods --------------------------------------------------------------------------------------------------------


def test_two_gigabytes_are_refused_at_once(client: Client, desk: str) -> None:
    """By the length that is stated, before a byte is read."""
    head = f"PUT {desk}/hull?name=hull.stl HTTP/1.1\r\nHost: 127.0.0.1:{port_of(client)}\r\nOrigin: {client.base}\r\n"
    cookie = "; ".join(f"{name}={value}" for name, value in client.http.cookies.items())
    with socket.create_connection(("127.0.0.1", port_of(client)), timeout=30) as line:
        line.sendall(f"{head}Cookie: {cookie}\r\nContent-Length: {2 << 30}\r\n\r\n".encode())
        answer = b"".join(iter(lambda: line.recv(65536), b"")).decode()  # to the end: the server closes the line
    assert " 413 " in answer.splitlines()[0]
    assert "larger than 64 MiB" in answer


def test_two_gigabytes_of_unknown_length_are_cut_off(client: Client, desk: str) -> None:
    """Where no length is stated, the bytes are counted, and what was stored is removed."""
    sent = 0

    def endless() -> Iterator[bytes]:
        nonlocal sent
        for _ in range(2048):
            sent += 1 << 20
            yield b"\0" * (1 << 20)

    try:
        answer = client.http.put(f"{desk}/hull", params={"name": "hull.stl"}, content=endless())
        assert answer.status_code == 413
    except httpx.TransportError:
        pass  # the server has closed the line, which is an answer, too
    assert sent < 256 << 20
    assert uploads_left(client) == []


def test_an_upload_that_breaks_off_leaves_nothing(client: Client, desk: str) -> None:
    """A browser that goes away in the middle."""
    head = f"PUT {desk}/hull?name=hull.stl HTTP/1.1\r\nHost: 127.0.0.1:{port_of(client)}\r\nOrigin: {client.base}\r\n"
    cookie = "; ".join(f"{name}={value}" for name, value in client.http.cookies.items())
    with socket.create_connection(("127.0.0.1", port_of(client)), timeout=30) as line:
        line.sendall(f"{head}Cookie: {cookie}\r\nContent-Length: 1000000\r\n\r\n".encode() + b"\0" * 1000)
    answer = client.drop(desk, MODELS / "skerrywing.stl")
    while answer.status_code == 503:  # until the server has noticed
        answer = client.drop(desk, MODELS / "skerrywing.stl")
    assert client.wait_ready(desk)["hull"]["state"] == "ready"
    assert len(uploads_left(client)) == 1


@pytest.mark.slow
def test_two_hundred_uploads_at_once(client: Client, desk: str) -> None:
    """Some are taken, the others are told to come again; the page answers meanwhile."""
    content = (MODELS / "skerrywing.stl").read_bytes()
    cookies = dict(client.http.cookies)

    def drop(_number: int) -> int:
        with httpx.Client(
            base_url=client.base, headers={"origin": client.base}, cookies=cookies, timeout=120
        ) as browser:
            return browser.put(f"{desk}/hull", params={"name": "hull.stl"}, content=content).status_code

    with ThreadPoolExecutor(200) as pool:
        sent = [pool.submit(drop, number) for number in range(200)]
        assert client.http.get("/api/alive").status_code == 204
        statuses = Counter(answer.result() for answer in sent)
    assert set(statuses) <= {202, 503}
    assert statuses[202] >= 1
    assert client.wait_ready(desk)["hull"]["state"] == "ready"
    assert len(uploads_left(client)) == 1


def test_there_are_only_so_many_desks(client: Client) -> None:
    """The thirteenth tab is told so; once one is closed there is room again."""
    most = client.http.get("/api/start").json()["max_desks"]
    made: list[str] = []
    answer = client.http.post("/api/desks")
    while answer.status_code == 201 and len(made) <= most:
        made.append(f"/api/desks/{answer.json()['desk']}")
        answer = client.http.post("/api/desks")
    assert answer.status_code == 503
    assert str(most) in answer.json()["message"]
    client.http.delete(made.pop())
    made.append(client.desk())
    for desk in made:
        client.http.delete(desk)
