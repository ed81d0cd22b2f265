"""The guard in conftest.py refuses the outside and lets the loopback through.

192.0.2.0/24 and 2001:db8::/32 belong to nobody: RFC 5737 and RFC 3849 keep them for documentation.
"""

from __future__ import annotations

import socket
import urllib.request
from collections.abc import Callable

import pytest

Refused = pytest.fail.Exception


def udp(family: int = socket.AF_INET) -> socket.socket:
    return socket.socket(family, socket.SOCK_DGRAM)


@pytest.mark.parametrize(
    "reach",
    [
        lambda: socket.create_connection(("192.0.2.1", 80), timeout=1),
        lambda: udp().connect(("192.0.2.1", 9)),
        lambda: udp().sendto(b"x", ("192.0.2.1", 9)),
        lambda: udp().sendmsg([b"x"], [], 0, ("192.0.2.1", 9)),
        lambda: udp().bind(("0.0.0.0", 0)),
        lambda: udp().bind(("", 0)),
        lambda: udp(socket.AF_INET6).connect(("2001:db8::1", 9)),
        lambda: socket.getaddrinfo("example.invalid", 80),
        lambda: socket.gethostbyname("example.invalid"),
        lambda: urllib.request.urlopen("http:" + "//example.invalid/", timeout=1),
    ],
    ids=[
        "tcp",
        "udp",
        "sendto",
        "sendmsg",
        "all-interfaces",
        "unset",
        "ipv6",
        "lookup",
        "old-lookup",
        "http",
    ],
)
def test_outside_is_refused(reach: Callable[[], object]) -> None:
    with pytest.raises(Refused, match="without a network"):
        reach()


def test_code_that_tolerates_a_broken_network_cannot_hide_it() -> None:
    def forgiving() -> None:
        try:
            udp().connect(("192.0.2.1", 9))
        except Exception:
            return

    with pytest.raises(Refused):
        forgiving()


def test_loopback_is_open() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        with socket.create_connection(server.getsockname(), timeout=5) as client:
            client.sendall(b"flush")
            accepted, _ = server.accept()
        with accepted:
            assert accepted.recv(16) == b"flush"


@pytest.mark.skipif(not hasattr(socket, "AF_UNIX"), reason="this system has no local sockets")
def test_local_sockets_are_open() -> None:
    left, right = socket.socketpair()
    with left, right:
        left.sendall(b"flush")
        assert right.recv(16) == b"flush"
