"""Who is answered, and what every answer says to the browser.

The server stands on the loopback, where any web page that is open in a browser here can knock. So every request has to
show the token, to have asked for exactly this host and port (a name made to point here is another host), and not to
come from another page: other ports of this machine are "same-site" to a browser, and are refused as well.
"""

from __future__ import annotations

import hmac
import json
import math
import secrets
from collections.abc import Mapping
from typing import Any

from aiohttp import web

HOST = "127.0.0.1"
NAMES = (HOST, "localhost")
TOKEN_HEADER = "X-Molding-Token"
TOKEN_BYTES = 24
FRAMING = "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
"""What the page's own policy, which is in its meta, cannot say or may say again."""
HEADERS = {
    "Content-Security-Policy": f"default-src 'none'; {FRAMING}",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "X-Frame-Options": "DENY",
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "Server": "molding",
}


class RefusedError(Exception):
    """A request that gets a status and one plain line."""

    def __init__(self, status: int, line: str, headers: Mapping[str, str] | None = None) -> None:
        super().__init__(line)
        self.status = status
        self.line = line
        self.headers = dict(headers or {})


def new_token() -> str:
    """192 bits from the system, in letters that an address may hold."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def admit(request: web.BaseRequest, port: int, token: str) -> None:
    """Let a request of our own page pass. Raises RefusedError for any other."""
    hosts = [f"{name}:{port}" for name in NAMES]
    asked = request.headers.getall("Host", [])
    if len(asked) != 1 or asked[0].lower() not in hosts:
        raise RefusedError(403, "refused: this was asked of another host")
    origins = request.headers.getall("Origin", [])
    if origins and origins != [f"http://{asked[0].lower()}"]:
        raise RefusedError(403, "refused: this was asked by another page")
    if any(site not in ("none", "same-origin") for site in request.headers.getall("Sec-Fetch-Site", [])):
        raise RefusedError(403, "refused: this was asked by another page; open the printed address by itself")
    shown = request.headers.get(TOKEN_HEADER) or request.query.get("token") or ""
    if not hmac.compare_digest(shown.encode("utf-8", "surrogatepass"), token.encode()):
        raise RefusedError(403, "refused: open the address that molding printed, with all of its token")


def answer(status: int, body: bytes, kind: str, headers: Mapping[str, str] | None = None) -> web.Response:
    """An answer with the headers that all have."""
    return web.Response(status=status, body=body, headers={**HEADERS, "Content-Type": kind, **(headers or {})})


def plain(refused: RefusedError) -> web.Response:
    """A refusal: one line of text, after which the connection ends."""
    response = answer(refused.status, f"{refused.line}\n".encode(), "text/plain; charset=utf-8", refused.headers)
    response.force_close()
    return response


def from_json(data: bytes | bytearray) -> object:
    """What a JSON text says, every number a float; None where it is no JSON or holds a number that is none."""
    try:
        return json.loads(data, parse_int=_number, parse_float=_number, parse_constant=_number)
    except (ValueError, RecursionError):
        return None


def _number(written: str) -> float:
    value = float(written)
    if not math.isfinite(value):
        raise ValueError(f"{written[:20]} is no number that can be used")
    return value


def as_json(status: int, data: Mapping[str, Any]) -> web.Response:
    """Data for the page."""
    return answer(status, json.dumps(data, allow_nan=False).encode(), "application/json")
