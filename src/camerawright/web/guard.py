"""What every request passes and every answer carries: whom we answer, whose forms we take, what a page may load.

The pages have no log-in: they belong to whoever sits at this machine. Where other machines can reach them, a browser
must bring the token that was printed at the start. Another site's page, opened in the same browser, must neither read
them (by renaming itself to our address: the Host is checked) nor write to them (by posting a form here: the origin is
checked). Fetch Metadata (W3C) says where a request comes from; older browsers say so by `Origin` [rfc-6454].
"""

from collections.abc import Iterable
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from camerawright.web.token import answer_to_stranger

LOOPBACK: Final = frozenset({"localhost", "127.0.0.1", "::1"})
SAFE: Final = frozenset({"GET", "HEAD"})
HEADERS: Final = {
    "Content-Security-Policy": (
        "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}


class Guard:
    """Middleware around the whole application.

    Parameters
    ----------
    hosts
        Names or addresses under which it may be called, besides this machine's own.
    token
        What a browser must bring; "" where only this machine can reach the pages.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str] = (), token: str = "") -> None:
        self._app, self._token = app, token
        self._hosts = LOOPBACK | {host.casefold().strip("[]") for host in hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass on and put the headers on the answer."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if host_name(headers.get("host", "")) not in self._hosts:
            told = "The workshop does not answer to this address: call it by localhost, or start it with that host.\n"
            await PlainTextResponse(told, 421)(scope, receive, send)
        elif scope["method"] not in SAFE and not is_own(headers):
            told = "Another site's page sent this: nothing was entered. Enter it on the workshop's own page.\n"
            await PlainTextResponse(told, 403)(scope, receive, send)
        elif self._token and (answer := answer_to_stranger(scope, self._token)):
            await answer(scope, receive, _with_headers(send))
        else:
            await self._app(scope, receive, _with_headers(send))


def host_name(host: str) -> str:
    """The name or address in a Host header, without port and brackets."""
    try:
        return (urlsplit(f"//{host}").hostname or "").casefold()
    except ValueError:
        return ""


def is_own(headers: Headers) -> bool:
    """Whether a request that changes something comes from our own page, or from no page at all."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in {"same-origin", "none"}
    origin = headers.get("origin")
    return origin is None or _place(origin) == headers.get("host", "").casefold()


def _place(origin: str) -> str:
    """The host and port of an origin; "" for what is no address."""
    try:
        return urlsplit(origin).netloc.casefold()
    except ValueError:
        return ""


def _with_headers(send: Send) -> Send:
    async def send_with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return send_with_headers
