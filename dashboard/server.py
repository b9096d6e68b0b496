"""The web server: everything around the views that must hold whatever they show."""

from __future__ import annotations

import errno
import gc
import ipaddress
import logging
import signal
import socket
import sys
import threading
import traceback
from collections.abc import Callable
from http import HTTPStatus
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from dash.exceptions import DependencyException, InvalidResourceError
from dash.fingerprint import check_fingerprint
from flask import Flask, Request, Response, request
from flask_compress import Compress
from flask_compress.flask_compress import DictCache
from werkzeug.exceptions import BadRequest, HTTPException, RequestEntityTooLarge
from werkzeug.middleware.proxy_fix import ProxyFix
from werkzeug.wrappers import Response as Answer

from compare.errors import InputError
from dashboard.callback_body import BodyError, check_body
from dashboard.secret import derived_key
from dashboard.uploads import BOOK_BYTES, UPLOAD_BYTES

if TYPE_CHECKING:
    from dash import Dash

    from dashboard.settings import Settings
    from dashboard.users import Users

    Mount = Callable[[Flask, Settings], tuple[Dash, Dash]]

BODY_BYTES = 2_000_000
"""Largest body of a request [bytes], but for that of an upload."""

_UPLOAD_BODIES = {
    "drawing-upload": UPLOAD_BYTES * 4 // 3 + 10_000,
    "book-upload": BOOK_BYTES * 4 // 3 + 30_000,
}
"""Largest body of an upload [bytes], by the component that sends it."""

_UPLOAD_BODY = max(_UPLOAD_BODIES.values())

THREADS = 4
"""Requests worked on at once: enough for two cores, of which Python's threads share one."""

_YEAR = 31_536_000

_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}

_POLICY = (
    "default-src 'self'; script-src 'self' {hashes}; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
    "font-src 'self' data:; connect-src 'self'; object-src 'none'; base-uri 'self'; form-action 'self'; "
    "frame-ancestors 'none'"
)

_log = logging.getLogger("evenrun.server")


def make_server(
    settings: Settings, *, users: Users | None = None, behind_proxy: bool = False, mount: Mount | None = None
) -> Flask:
    """Return the WSGI application.

    Parameters
    ----------
    settings : Settings
        What every view shares.
    users : Users, optional
        Who may log in. Without users, and not behind a proxy, it answers this machine only.
    behind_proxy : bool
        Whether a reverse proxy stands before it that sets ``X-Forwarded-For``, ``-Proto`` and
        ``-Host`` and speaks HTTPS to the browsers.
    mount : callable, optional
        Puts the views on it: (server, settings) -> (the plant's app, the clients' app).
    """
    if mount is None:
        import dashboard.app  # noqa: PLC0415 - the views load much

        mount = dashboard.app.mount
    server = Flask("dashboard", static_folder=None)
    server.secret_key = derived_key(settings.secret, "cookies")
    server.config.update(
        MAX_CONTENT_LENGTH=_UPLOAD_BODY,
        SESSION_COOKIE_NAME="__Host-evenrun" if behind_proxy else "evenrun",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SECURE=behind_proxy,
        # not Strict: a link to a view, opened from a mail, would find its reader logged out
        SESSION_COOKIE_SAMESITE="Lax",
    )
    if behind_proxy:
        server.wsgi_app = ProxyFix(server.wsgi_app, x_for=1, x_proto=1, x_host=1)  # type: ignore[method-assign]

    @server.get("/health")
    def health() -> Response:
        return _plain("ok", 200)

    if users is not None:
        from dashboard.login import add_login  # noqa: PLC0415 - only a server with users needs it

        add_login(server, users)
    elif not behind_proxy:
        server.before_request(_this_machine_only)
    apps = mount(server, settings)
    server.extensions["evenrun"] = apps
    _check_callbacks(server, apps)
    _finish_answers(server, apps)
    for kind in (Exception, DependencyException, InvalidResourceError):  # Dash sets an own handler for the last
        server.register_error_handler(kind, _explain)
    return server


def serve(
    settings: Settings,
    host: str = "127.0.0.1",
    port: int = 8050,
    *,
    users: Users | None = None,
    behind_proxy: bool = False,
    debug: bool = False,
    mount: Mount | None = None,
) -> None:
    """Serve until stopped, and say where as soon as it listens.

    Parameters
    ----------
    settings : Settings
        What every view shares.
    host : str
        Address or name to listen on.
    port : int
        Port; 0 takes any free one.
    users, behind_proxy, mount
        As in :func:`make_server`.
    debug : bool
        Whether the page shows Dash's developer panel and the log holds whole messages.

    Raises
    ------
    InputError
        If the address can't be listened on, or is not of this machine alone and neither users
        nor a proxy protect it.
    """
    address = _address(host)
    local = ipaddress.ip_address(address).is_loopback
    if not local and users is None and not behind_proxy:
        raise InputError(
            f"{host} can be reached from other machines, and nobody would have to log in",
            where="--host",
            remedy="give --users, or --behind-proxy if a proxy asks who it is",
        )
    if debug and not local:
        raise InputError(
            f"{host} can be reached from other machines", where="--debug", remedy="use it on 127.0.0.1 only"
        )
    if not 0 <= port <= 65535:
        raise InputError(f"there is no port {port}", where="--port", remedy="give 1 to 65535, or 0 for any free one")
    listener = _listen(address, port)

    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(name)s: %(message)s", stream=sys.stderr)
    logging.getLogger("evenrun").setLevel(logging.INFO)
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # a queue of one is no news

    from waitress.server import create_server  # noqa: PLC0415

    with listener:
        server = make_server(settings, users=users, behind_proxy=behind_proxy, mount=mount)
        if debug:
            server.debug = True
            for app in server.extensions["evenrun"]:
                app.enable_dev_tools(debug=True, dev_tools_hot_reload=False, dev_tools_prune_errors=False)
        warm_up(server)
        web = create_server(
            server,
            sockets=[listener],
            threads=THREADS,
            ident=None,
            max_request_body_size=2 * _UPLOAD_BODY,
            max_request_header_size=65_536,
            clear_untrusted_proxy_headers=not behind_proxy,
            log_socket_errors=False,
        )
        if threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
        port = listener.getsockname()[1]
        print(f"Evenrun is on http://{f'[{address}]' if ':' in address else address}:{port}", flush=True)
        if not local and not behind_proxy:
            print(
                "Passwords and figures travel unencrypted: put a proxy with HTTPS before it.",
                file=sys.stderr,
                flush=True,
            )
        try:
            web.run()  # returns on Ctrl-C and on SIGTERM
        finally:
            web.close()


def warm_up(server: Flask) -> None:
    """Let Dash finish what it leaves to the first request, before several come at once."""
    server.test_client().get("/health")
    gc.collect()
    gc.freeze()  # what is loaded stays: without this every full collection walks through it anew


def _address(host: str) -> str:
    """Return the one address that a host name stands for, the IPv4 one if there are several."""
    try:
        found = socket.getaddrinfo(host, None, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE) if host else []
    except (OSError, UnicodeError):
        found = []
    if not found:
        raise InputError(
            f"there is no address '{host}'", where="--host", remedy="give 127.0.0.1 or an address of this machine"
        )
    return str(min(found, key=lambda one: one[0] != socket.AF_INET)[4][0])


def _listen(address: str, port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET6 if ":" in address else socket.AF_INET)
    try:
        if sys.platform != "win32":  # there it would share the port with a server that runs
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((address, port))
        listener.listen(128)
    except OSError as error:
        listener.close()
        if error.errno == errno.EADDRINUSE:
            raise InputError(
                f"port {port} is in use",
                where="--port",
                remedy="stop what uses it, or give another; 0 takes any free one",
            ) from None
        if error.errno in (errno.EACCES, errno.EPERM):
            raise InputError(
                f"port {port} needs special rights", where="--port", remedy="give one above 1023"
            ) from None
        raise InputError(
            f"can't listen on {address} ({error.strerror})",
            where="--host",
            remedy="give 127.0.0.1 or an address of this machine",
        ) from None
    return listener


def _this_machine_only() -> Answer | None:
    """Refuse other machines, and pages of other sites that call this machine by a name of their own."""
    if request.endpoint == "health":
        return None
    try:
        here = ipaddress.ip_address(request.remote_addr or "").is_loopback and _names_loopback(request.host)
    except ValueError:
        here = False
    return None if here else _plain("This server has no users and answers its own machine only.", 403)


def _names_loopback(host: str) -> bool:
    name = urlsplit(f"//{host}").hostname or ""
    return name == "localhost" or name.endswith(".localhost") or ipaddress.ip_address(name).is_loopback


def _check_callbacks(server: Flask, apps: tuple[Dash, Dash]) -> None:
    by_endpoint = {f"{app.config.routes_pathname_prefix}_dash-update-component": app for app in apps}

    @server.before_request
    def check() -> None:
        app = by_endpoint.get(request.endpoint or "")
        large = (request.content_length or 0) > BODY_BYTES
        if large and app is None:
            raise RequestEntityTooLarge
        if app is None or request.method != "POST":
            return
        try:
            body = request.get_json()
            if large and (request.content_length or 0) > _most(body):
                raise RequestEntityTooLarge
            check_body(body, app.callback_map)
        except RecursionError:
            raise BadRequest("The body is nested too deeply.") from None
        except BodyError as error:
            raise BadRequest(f"This is no call of this page: {error}.") from None


def _most(body: object) -> int:
    """Return how large a body may be; an upload's own callback may have a larger one."""
    inputs = body.get("inputs") if isinstance(body, dict) else None
    ids = [i.get("id") for i in inputs if isinstance(i, dict)] if isinstance(inputs, list) else []
    return max([_UPLOAD_BODIES.get(one, 0) for one in ids if isinstance(one, str)], default=0) or BODY_BYTES


def _explain(error: Exception) -> Answer:
    """Turn an error into a plain answer: its kind, and no word of the program's insides."""
    if isinstance(error, HTTPException):
        if error.code is None or error.code < 400 or error.response is not None:
            return error.get_response()
        answer = error.get_response()
        said = error.description if type(error) is BadRequest else ""
        answer.set_data((said or f"{error.code} {error.name}.") + "\n")
        answer.content_type = "text/plain; charset=utf-8"
        return answer
    if isinstance(error, (DependencyException, InvalidResourceError)):
        return _plain("404 Not Found.", HTTPStatus.NOT_FOUND)
    if isinstance(error, InputError):
        return _plain(str(error), HTTPStatus.BAD_REQUEST)
    # neither the body nor the address, which hold a plant's figures; nor the message, which may quote them
    frames = "".join(traceback.format_tb(error.__traceback__))
    said = f": {error}" if _debugging() else ""
    _log.error("%s %s failed\n%s%s%s", request.method, request.path, frames, type(error).__name__, said)
    return _plain("Something went wrong in the server; its log says more.", HTTPStatus.INTERNAL_SERVER_ERROR)


def _debugging() -> bool:
    from flask import current_app  # noqa: PLC0415

    return bool(current_app.debug)


def _plain(text: str, status: int) -> Response:
    return Response(text + "\n", status, content_type="text/plain; charset=utf-8")


def _finish_answers(server: Flask, apps: tuple[Dash, Dash]) -> None:
    """Set the headers of every answer, and compress: files of the page once, the rest each time."""
    server.config.update(
        COMPRESS_REGISTER=False,
        COMPRESS_ALGORITHM=["br", "gzip"],
        COMPRESS_BR_LEVEL=5,
        COMPRESS_LEVEL=4,
        COMPRESS_ZSTD_LEVEL=1,
        COMPRESS_MIN_SIZE=1000,
        COMPRESS_CACHE_BACKEND=DictCache,
        COMPRESS_CACHE_KEY=_file_key,
    )
    files = Compress(server)
    # what is made anew each time is compressed in a hurry: brotli would take as long as half a comparison
    server.config.update(COMPRESS_CACHE_BACKEND=None, COMPRESS_ALGORITHM=["zstd", "gzip"])
    each = Compress(server)
    policy = ""

    @server.after_request
    def finish(answer: Response) -> Response:
        nonlocal policy
        if not policy:  # Dash knows its inline scripts once all callbacks are there
            hashes = dict.fromkeys(one for app in apps for one in app.csp_hashes())
            policy = _POLICY.format(hashes=" ".join(hashes))
        answer.headers.update(_HEADERS)
        answer.headers["Content-Security-Policy"] = policy
        if not _is_file(request):
            answer.headers["Cache-Control"] = "no-store"
            # the page with the token is never compressed: its size must not tell of the token
            return answer if request.path == "/login" else each.after_request(answer)
        if answer.status_code != HTTPStatus.OK:
            if answer.status_code >= 400:
                answer.headers["Cache-Control"] = "no-store"
            return answer
        if _is_versioned(request):
            answer.headers["Cache-Control"] = f"private, max-age={_YEAR}, immutable"
        else:
            answer.headers["Cache-Control"] = "private, no-cache"
        if request.method == "GET":
            answer.direct_passthrough = False
            answer.make_sequence()  # a stream would not be kept compressed
            return files.after_request(answer)
        return answer


def _is_file(asked: Request) -> bool:
    endpoint = asked.endpoint or ""
    return endpoint.endswith(("dash_assets.static", "_favicon.ico")) or "_dash-component-suites/" in endpoint


def _is_versioned(asked: Request) -> bool:
    """Whether the address changes with the file's content."""
    return bool(asked.args.get("m") or asked.args.get("v")) or check_fingerprint(asked.path)[1]


def _file_key(asked: Request) -> str:
    """Return one key per file, whatever version an address asks for, so that the cache can't be made to grow."""
    return check_fingerprint(asked.path)[0]
