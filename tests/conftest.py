"""What every test runs under: property tests that repeat exactly, and no network."""

from __future__ import annotations

import ipaddress
import math
import os
import socket
import sys
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

# The same examples every time, with no deadline, which would measure the machine. To look further:
#   HYPOTHESIS_PROFILE=explore .venv/bin/python -m pytest tests/...
settings.register_profile(
    "repeat",
    deadline=None,
    derandomize=True,
    database=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("explore", deadline=None, max_examples=2000, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "repeat"))

ADDRESS_EVENTS = {"socket.bind", "socket.connect", "socket.sendmsg", "socket.sendto"}
NAME_EVENTS = {"socket.getaddrinfo", "socket.gethostbyaddr", "socket.gethostbyname"}


def is_loopback(host: str | bytes) -> bool:
    """Whether an address or name stays on this machine. "" and 0.0.0.0 do not: they are every interface."""
    name = host.decode() if isinstance(host, bytes) else host
    try:
        return name == "localhost" or ipaddress.ip_address(name.partition("%")[0]).is_loopback
    except ValueError:
        return False


def refuse_network(event: str, args: tuple[Any, ...]) -> None:
    """Audit hook: fail the test that reaches for anything but a local socket or the loopback.

    It sees each socket that this process uses through Python, whichever library asks; child processes and
    sockets opened by compiled code are beyond it. `pytest.fail` raises no Exception, so code that puts up
    with a broken network cannot swallow it.
    """
    if event in ADDRESS_EVENTS:
        endpoint, address = args
        if endpoint.family == getattr(socket, "AF_UNIX", None) or address is None:  # None: connected before
            return
        allowed = endpoint.family in (socket.AF_INET, socket.AF_INET6) and is_loopback(address[0])
    elif event in NAME_EVENTS:
        address = args[0]
        allowed = not address or is_loopback(address)
    else:
        return
    if not allowed:
        pytest.fail(f"tests run without a network, but {event} was asked for {address!r}")


def pytest_configure() -> None:
    """Guard from before the first test module is imported."""
    sys.addaudithook(refuse_network)


@pytest.fixture
def to_the_reach(monkeypatch: pytest.MonkeyPatch) -> None:
    """The numbers hold further than what is refused for the saw's and the file's sake: as far as the geometry goes."""
    monkeypatch.setattr("preview.joinery.refusals.MOST_TURN_OUT", math.pi)
    monkeypatch.setattr("preview.joinery.refusals.FOLD_MARGIN", 1e-3)
