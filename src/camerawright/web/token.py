"""The token that a browser needs where the pages can be reached from other machines.

It is made anew at each start and printed in the terminal. A browser that brought it once keeps it in a cookie until it
is closed. It keeps strangers out who can reach the address; over plain HTTP it does not keep out who can read the
network.
"""

import secrets
from hmac import compare_digest
from html import escape
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qsl, quote, urlencode

from starlette.datastructures import Headers
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.types import Scope

NAME: Final = "token"
COOKIE: Final = "camerawright-token"
_LETTERS: Final = "abcdefghjkmnpqrstuvwxyz23456789"
"""None that is taken for another: it may have to be typed on a telephone."""
_GROUPS, _GROUP = 3, 4  # 31**12: about 59 bits


def new_token() -> str:
    """A token that nobody can guess: ``k7mq-2xha-9dfr``."""
    return "-".join("".join(secrets.choice(_LETTERS) for _ in range(_GROUP)) for _ in range(_GROUPS))


def answer_to_stranger(scope: Scope, token: str) -> Response | None:
    """What a request gets instead of its page; None where it brings the token in its cookie.

    One that brings the token in its address gets the cookie, and is sent on to the address without it.
    """
    if _is_token(_in_cookie(Headers(scope=scope)), token):
        return None
    query = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
    given = [text for name, text in query if name == NAME]
    if scope["method"] == "GET" and given and _is_token(given[-1], token):
        rest = urlencode([(name, text) for name, text in query if name != NAME])
        path = "/" + quote(scope["path"].lstrip("/"))  # `//` would lead to another site
        answer = RedirectResponse(f"{path}?{rest}" if rest else path, 303)
        answer.set_cookie(COOKIE, token, httponly=True, samesite="lax")
        return answer
    return _asks(is_wrong=bool(given))


def _is_token(given: str, token: str) -> bool:
    """Whether it is the token, as it may be typed: in capitals, with spaces."""
    return compare_digest(given.strip().casefold().replace(" ", "-").encode(errors="replace"), token.encode())


def _in_cookie(headers: Headers) -> str:
    try:
        cookies = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return ""
    return cookies[COOKIE].value if COOKIE in cookies else ""


def _asks(*, is_wrong: bool) -> Response:
    """The one page that a stranger sees."""
    said = "That is not the token. " if is_wrong else ""
    asks = f"{said}Type the token that the terminal showed when the workshop was started."
    return HTMLResponse(
        '<!doctype html><html lang="en"><meta name="viewport" content="width=device-width"><title>camerawright</title>'
        f'<form method="get" action="/"><p><label for="token">{escape(asks)}</label></p>'
        f'<p><input id="token" name="{NAME}" autocomplete="off" autocapitalize="none" required> '
        "<button>Open the workshop</button></p></form></html>",
        401,
        headers={"Cache-Control": "no-store"},
    )
