"""The page's threat table over a real socket. Each row's guard is also taken away: then the attack must go through.

What is expected comes from RFC 9110 (status codes), RFC 6455 (WebSocket) and the Fetch standard's same-origin rules.
"""

from __future__ import annotations

import base64
import json
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.faults.page_server import JOB, Running, heard, parsed, running

from steadfold.page import guards
from steadfold.page.app import static_files
from steadfold.page.guards import policy
from steadfold.page.house import new_key
from steadfold.page.shelf import CAD_NAME, NAME, NotHere, inside


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("shed")) as found:
        yield found


def upgrade(page: Running, host: str | None = None, origin: str | None = None, key: bool = True) -> int:
    """The status of an attempt to open the notices of a job."""
    lines = [
        f"GET {page.job().replace('/api/jobs', '/notices')} HTTP/1.1",
        f"Host: {host or page.house.host}",
        f"Origin: {origin or page.house.origin}",
        "Upgrade: websocket",
        "Connection: Upgrade",
        "Sec-WebSocket-Version: 13",
        f"Sec-WebSocket-Key: {base64.b64encode(b'0123456789abcdef').decode()}",
    ]
    if key:
        lines.append(f"Cookie: {page.cookie}")
    with socket.create_connection((page.house.address, page.house.port), timeout=10) as talk:
        talk.sendall("\r\n".join([*lines, "", ""]).encode())
        return parsed(talk.recv(65536))[0]


EDIT = json.dumps(
    {"revision": "x", "say": "width", "changes": [{"way": ["part", 0, "width"], "value": "1 m"}]}
).encode()

Attack = Callable[[Running], int]
ATTACKS: dict[str, tuple[str, Attack, int]] = {
    "a name that points at this machine": (
        "exact_host", lambda p: p.ask(headers={"Host": f"evil.example:{p.house.port}"})[0], 421,
    ),
    "a Host without our port": ("exact_host", lambda p: p.ask(headers={"Host": p.house.address})[0], 421),
    "a WebSocket for a name that points at this machine": (
        "exact_host", lambda p: upgrade(p, host=f"evil.example:{p.house.port}"), 421,
    ),
    "a doubled Origin": (
        "single_headers",
        lambda p: p.ask(
            "POST", f"{p.job()}/edit", {"Origin": f"{p.house.origin}\r\nOrigin: http://evil.example"}, EDIT
        )[0],
        400,
    ),
    "an edit from another site": (
        "own_origin", lambda p: p.ask("POST", f"{p.job()}/edit", {"Origin": "http://evil.example"}, EDIT)[0], 403,
    ),
    "an edit from another port of this machine": (
        "own_origin", lambda p: p.ask("POST", f"{p.job()}/edit", {"Origin": "http://127.0.0.1:1"}, EDIT)[0], 403,
    ),
    "an edit that a browser says is cross-site": (
        "own_origin", lambda p: p.ask("POST", f"{p.job()}/edit", {"Sec-Fetch-Site": "cross-site"}, EDIT)[0], 403,
    ),
    "a WebSocket of another site": ("own_origin", lambda p: upgrade(p, origin="http://evil.example"), 403),
    "a form of another site": (
        "json_only", lambda p: p.ask("POST", f"{p.job()}/edit", {"Content-Type": "text/plain"}, EDIT)[0], 415,
    ),
    "another user of this machine": ("has_key", lambda p: p.ask(path=p.job(), key=False)[0], 401),
    "a wrong key": ("has_key", lambda p: p.ask(path=p.job(), headers={"Cookie": p.cookie[:-1] + "_"})[0], 401),
    "a wrong key in the link": ("has_key", lambda p: p.ask(path="/?key=guess", key=False)[0], 401),
    "a WebSocket of another user": ("has_key", lambda p: upgrade(p, key=False), 401),
}  # fmt: skip


@pytest.mark.parametrize("name", ATTACKS)
def test_the_attack_is_refused(page: Running, name: str) -> None:
    _, attack, status = ATTACKS[name]
    assert attack(page) == status
    assert page.ask(path="/")[0] == 200, "the page no longer answers its owner"


@pytest.mark.parametrize("guard", sorted({guard for guard, _, _ in ATTACKS.values()}))
def test_without_its_guard_the_attack_goes_through(tmp_path: Path, guard: str) -> None:
    with running(tmp_path, without=(guard,)) as bare:
        for name, (by, attack, status) in ATTACKS.items():
            if by == guard:
                assert attack(bare) != status, f"{name} is refused by something else than {guard}"


def test_a_doubled_host_is_refused(page: Running) -> None:
    twice = f"{page.house.host}\r\nHost: {page.house.host}"
    assert page.ask(headers={"Host": twice})[0] == 400


def test_an_attempt_to_edit_leaves_the_job_as_it_was(page: Running) -> None:
    for _, attack, _ in ATTACKS.values():
        attack(page)
    assert (page.folder / "rack.toml").read_text(encoding="utf-8") == JOB


def test_the_owner_gets_in_by_the_link_and_the_key_leaves_the_address(page: Running) -> None:
    status, headers, _ = page.ask(path=f"/?key={page.house.key}", key=False)
    assert (status, headers["location"]) == (303, "/")
    cookie = headers["set-cookie"].lower()
    assert page.cookie.lower() in cookie
    assert "httponly" in cookie and "samesite=strict" in cookie
    assert str(page.house.port) in cookie.split("=")[0]


def test_the_link_leads_nowhere_else(page: Running) -> None:
    for where in ("//evil.example/x", "http://evil.example", "..%2f..%2fetc", "0123456789/a%0d%0aX-Evil:1"):
        _, headers, _ = page.ask(path=f"/?key={page.house.key}&job={where}", key=False)
        assert headers["location"] == "/"
        assert "x-evil" not in headers


def test_a_key_has_192_bits_and_is_new_each_time() -> None:
    keys = {new_key() for _ in range(50)}
    assert len(keys) == 50
    assert all(len(base64.urlsafe_b64decode(key)) * 8 == 192 for key in keys)


def test_only_this_machine_is_listened_on(page: Running) -> None:
    """Every other address of 127.0.0.0/8 is another one: a socket bound to all would answer there too."""
    with pytest.raises(OSError), socket.create_connection(("127.0.0.2", page.house.port), timeout=2):
        pass


def test_bound_to_every_address_the_other_one_answers() -> None:
    """The twin: so the test above can fail."""
    from steadfold.page.serve import listening

    with listening("0.0.0.0", 0, exact=True) as everywhere:
        socket.create_connection(("127.0.0.2", everywhere.getsockname()[1]), timeout=2).close()


# --- paths ---

CROOKED = (
    "..%2f..%2fetc%2fpasswd", "%2e%2e%2frack.toml", "..%5crack.toml", "rack.toml%00.toml", "%2e%2e/%2e%2e/rack.toml",
    ".hidden.toml", "rack.toml%2f..%2frack.toml", "rack.txt", "%c0%ae%c0%ae/rack.toml", "link.toml", "CON%3a.toml",
)  # fmt: skip


@pytest.mark.parametrize("name", CROOKED)
def test_a_crooked_path_finds_nothing(page: Running, name: str) -> None:
    outside = page.folder.parent / "outside.toml"
    outside.write_text(JOB, encoding="utf-8")
    link = page.folder / "link.toml"
    if not link.is_symlink():
        link.symlink_to(outside)
    status, _, body = page.ask(path=page.job(name))
    assert status == 404
    assert b"oar" not in body


@pytest.mark.parametrize(
    "path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static//etc/passwd", "/static/..%5capp.py"]
)
def test_only_the_pages_own_files_are_given_away(page: Running, path: str) -> None:
    status, _, body = page.ask(path=path)
    assert status == 404 and b"import" not in body


def test_a_folder_nobody_named_is_not_opened(page: Running) -> None:
    assert page.ask(path="/api/jobs/0123456789/rack.toml")[0] == 404


def test_without_the_pattern_and_the_resolving_a_path_leads_out(tmp_path: Path) -> None:
    """The twin: plain joining finds the file outside, by dots and by a link."""
    home = tmp_path / "home"
    home.mkdir()
    (tmp_path / "outside.toml").write_text(JOB)
    (home / "link.toml").symlink_to(tmp_path / "outside.toml")
    for name in ("../outside.toml", "link.toml"):
        assert (home / name).read_text() == JOB
        with pytest.raises(NotHere):
            inside(home, name)
    with pytest.raises(NotHere):
        inside(home, "../outside.toml", CAD_NAME)


@pytest.mark.parametrize("name", ["a\n.toml", "a\x00.toml", "a/b.toml", "..toml", " .toml", "x" * 200 + ".toml", ""])
def test_a_name_with_other_signs_is_no_name(name: str) -> None:
    assert NAME.fullmatch(name) is None


# --- large bodies ---


def oversize(page: Running) -> int:
    """A body that says of itself that it is too large."""
    return page.ask("POST", f"{page.job()}/edit", {"Content-Length": str(guards.LARGEST_BODY + 1)}, b"{}")[0]


def chunked(page: Running) -> int:
    """A body in chunks that never says how large it will be."""
    head = [
        f"POST {page.job()}/edit HTTP/1.1", f"Host: {page.house.host}", f"Origin: {page.house.origin}",
        f"Cookie: {page.cookie}", "Content-Type: application/json", "Transfer-Encoding: chunked", "Connection: close",
    ]  # fmt: skip
    with socket.create_connection((page.house.address, page.house.port), timeout=20) as talk:
        talk.sendall("\r\n".join([*head, "", ""]).encode())
        piece = b"10000\r\n" + b" " * 0x10000 + b"\r\n"
        try:
            for _ in range(guards.LARGEST_BODY // 0x10000 + 2):
                talk.sendall(piece)
            talk.sendall(b"0\r\n\r\n")
        except OSError:
            pass
        return parsed(heard(talk))[0]


@pytest.mark.parametrize("attack", [oversize, chunked])
def test_a_large_body_is_refused(page: Running, attack: Callable[[Running], int]) -> None:
    assert attack(page) == 413
    assert page.ask()[0] == 200


def test_without_counting_a_large_body_is_taken(tmp_path: Path) -> None:
    with running(tmp_path, bodies=False) as bare:
        assert chunked(bare) == 400, "it was taken whole, and only then was no JSON"


def ended_by_frame(page: Running) -> bool:
    """Whether a WebSocket message of 2 MiB ends the connection."""
    lines = [
        f"GET {page.job().replace('/api/jobs', '/notices')} HTTP/1.1", f"Host: {page.house.host}",
        f"Origin: {page.house.origin}", "Upgrade: websocket", "Connection: Upgrade", "Sec-WebSocket-Version: 13",
        "Sec-WebSocket-Key: MDEyMzQ1Njc4OWFiY2RlZg==", f"Cookie: {page.cookie}",
    ]  # fmt: skip
    size = 2 << 20
    with socket.create_connection((page.house.address, page.house.port), timeout=6) as talk:
        talk.sendall("\r\n".join([*lines, "", ""]).encode())
        assert b" 101 " in talk.recv(65536)
        talk.settimeout(2.0)
        try:
            talk.sendall(b"\x81\xff" + size.to_bytes(8, "big") + b"\0\0\0\0" + b"x" * size)
            while told := talk.recv(65536):
                if (1009).to_bytes(2, "big") in told:
                    return True
        except TimeoutError:
            return False
        except OSError:
            return True
        return True


def test_a_large_websocket_frame_ends_the_connection(page: Running) -> None:
    """RFC 6455, 7.4.1: 1009 is a message too big to process."""
    assert ended_by_frame(page)
    assert page.ask()[0] == 200


def test_without_the_limit_a_large_frame_is_taken(tmp_path: Path) -> None:
    with running(tmp_path, frame=64 << 20) as bare:
        assert not ended_by_frame(bare)


# --- injection ---


def test_nothing_foreign_and_nothing_inline_may_run(page: Running) -> None:
    """W3C Content Security Policy, level 3: no unsafe source, no other origin."""
    for path in ("/", page.job(), "/static/page.css", "/nothing-here"):
        _, headers, _ = page.ask(path=path)
        rules = headers["content-security-policy"]
        assert "unsafe" not in rules and "http:" not in rules and "https:" not in rules and "*" not in rules
        assert "default-src 'none'" in rules and "frame-ancestors 'none'" in rules
        assert headers["x-content-type-options"] == "nosniff"


def test_a_refusal_is_sealed_too(page: Running) -> None:
    _, headers, _ = page.ask(headers={"Host": "evil.example"})
    assert "default-src 'none'" in headers["content-security-policy"]


def test_only_the_import_map_itself_is_allowed_inline() -> None:
    index = static_files()["index.html"][0].decode()
    assert index.count("<script") == 2 and "onclick" not in index and "style=" not in index
    assert policy(index) != policy(index.replace("three.module.js", "evil.module.js"))


def test_the_pages_own_code_never_makes_markup_or_code_from_text() -> None:
    """What a job says reaches the page as text only."""
    forbidden = ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function", "DOMParser")
    for name, (content, _) in static_files().items():
        if name.endswith(".js") and not name.startswith("three/"):
            assert [word for word in forbidden if word in content.decode()] == [], name


# --- requests that never end, and very many of them ---


def half_a_request(page: Running) -> socket.socket:
    talk = socket.create_connection((page.house.address, page.house.port), timeout=10)
    talk.sendall(b"GET / HTTP/1.1\r\nHost: ")
    return talk


def test_half_a_request_is_given_up(page: Running) -> None:
    with half_a_request(page) as talk:
        talk.settimeout(8.0)
        assert talk.recv(1) == b""


def test_without_a_limit_half_a_request_stays(tmp_path: Path) -> None:
    with running(tmp_path, patience_s=None) as bare, half_a_request(bare) as talk:
        talk.settimeout(2.5)
        with pytest.raises(TimeoutError):
            talk.recv(1)


def test_a_second_half_request_on_a_kept_connection_is_given_up_too(page: Running) -> None:
    with socket.create_connection((page.house.address, page.house.port), timeout=10) as talk:
        talk.sendall(f"GET / HTTP/1.1\r\nHost: {page.house.host}\r\nCookie: {page.cookie}\r\n\r\n".encode())
        while b"</html>" not in talk.recv(65536):
            pass
        talk.sendall(b"GET / HT")
        talk.settimeout(8.0)
        assert talk.recv(1) == b""


def test_two_hundred_connections_do_not_keep_the_owner_out(page: Running) -> None:
    held = [half_a_request(page) for _ in range(200)]
    try:
        assert page.ask()[0] == 200
    finally:
        for talk in held:
            talk.close()


MALFORMED = (
    b"\x00\xff\xfe", b"{", b"[" * 100_000, b'{"changes": ' + b"[" * 5000 + b"]" * 5000 + b"}", b"null", b"[]",
    b'{"changes": []}', b'{"changes": [{"way": ["part", 0, "width"], "value": NaN}], "revision": "x", "say": "x"}',
    b'{"changes": [{"way": [{}], "value": 1}], "revision": "x", "say": "x"}',
)  # fmt: skip


@pytest.mark.parametrize("body", MALFORMED)
def test_a_malformed_edit_is_refused(page: Running, body: bytes) -> None:
    status, _, said = page.ask("POST", f"{page.job()}/edit", body=body)
    assert status in (400, 409, 422)
    assert b"Traceback" not in said
    assert (page.folder / "rack.toml").read_text(encoding="utf-8") == JOB
    assert page.ask()[0] == 200
