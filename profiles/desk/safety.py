"""Who may talk to the desk: this machine's browser, opened by this user, on the desk's own page.

Host            must be the address itself: a name that somebody has pointed to this machine is refused
Origin          must be the page's own, and must be there for everything that changes anything
Sec-Fetch-Site  must be same-origin, or none for an address that was typed: other pages and ports are refused
token           in the address that the terminal opens; good for one use, which sets the cookie
cookie          for all else: HttpOnly, SameSite=Strict, with the port in its name
"""

import hmac
import secrets
from collections.abc import Iterable

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

ENTER = "/enter"

POLICY = "; ".join(
    (
        *("default-src 'none'", "script-src 'self'", "style-src 'self' 'unsafe-inline'"),  # plotly sets styles
        *("img-src 'self' data: blob:", "connect-src 'self'", "font-src 'self'", "worker-src 'self' blob:"),
        *("base-uri 'none'", "form-action 'self'", "frame-ancestors 'none'"),
    )
)

HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
"""On every answer."""

SAFE_METHODS = frozenset({"GET", "HEAD"})
"""They change nothing, so a browser need not say where they come from."""

NO_ENTRY = (
    "This page opens with the address that the terminal shows, and each address works once. "
    "Close the desk in the terminal and start it again for a new one."
)

WRONG_PLACE = "This request does not come from the desk's own page."


class Door:
    """The ASGI layer in front of everything."""

    def __init__(self, app: ASGIApp, port: int) -> None:
        self._app = app
        self.host = f"127.0.0.1:{port}"
        self.origin = f"http://{self.host}"
        self.cookie = f"stationer-{port}"
        self.token: str | None = secrets.token_urlsafe(32)
        self._secret = secrets.token_urlsafe(32)

    @property
    def address(self) -> str:
        """What opens the page, once."""
        return f"{self.origin}{ENTER}?token={self.token}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """As any ASGI application is called."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
            await send(message)

        answer = self._answer(scope)
        await (answer or self._app)(scope, receive, send_safely)

    def _answer(self, scope: Scope) -> Response | None:
        """An answer without the application; None where it may answer."""
        headers = Headers(scope=scope)
        fault = self._fault(scope["method"], headers)
        if fault:
            return _refusal(scope["path"], 403, fault)
        if scope["path"] == ENTER:
            return self._enter(scope["method"], scope["query_string"].decode("latin-1"))
        if not self._has_cookie(headers):
            return _refusal(scope["path"], 403, NO_ENTRY)
        return None

    def _fault(self, method: str, headers: Headers) -> str:
        if headers.getlist("host") != [self.host]:
            return WRONG_PLACE
        if headers.get("sec-fetch-site", "none") not in {"same-origin", "none"}:
            return WRONG_PLACE
        origins = headers.getlist("origin")
        if any(origin != self.origin for origin in origins) or (method not in SAFE_METHODS and not origins):
            return WRONG_PLACE
        return ""

    def _enter(self, method: str, query: str) -> Response:
        """The cookie for the token, which is then used up."""
        given = query.removeprefix("token=")
        if method != "GET" or self.token is None or not hmac.compare_digest(given.encode(), self.token.encode()):
            return _refusal(ENTER, 403, NO_ENTRY)
        self.token = None
        answer = RedirectResponse("/", status_code=303)
        answer.set_cookie(self.cookie, self._secret, path="/", httponly=True, samesite="strict")
        return answer

    def _has_cookie(self, headers: Headers) -> bool:
        return any(
            hmac.compare_digest(value.encode(), self._secret.encode()) for value in _cookies(headers, self.cookie)
        )


def _cookies(headers: Headers, name: str) -> Iterable[str]:
    for line in headers.getlist("cookie"):
        value = cookie_parser(line).get(name)
        if value is not None:
            yield value


def _refusal(path: str, status: int, words: str) -> Response:
    if path.startswith("/api/"):
        return JSONResponse({"message": words}, status, headers={"connection": "close"})
    return PlainTextResponse(f"{words}\n", status, headers={"connection": "close"})
