"""Log in, stay in for a working day, log out: the pages and the guard before everything else."""

from __future__ import annotations

import logging
import re
import time
from datetime import timedelta
from typing import TYPE_CHECKING

from flask import Flask, Response, make_response, redirect, render_template, request, session, url_for
from flask_limiter import Limiter, RateLimitExceeded
from flask_login import LoginManager, UserMixin, current_user, login_user, logout_user
from flask_wtf import FlaskForm  # type: ignore[import-untyped]
from werkzeug.wrappers import Response as Answer
from wtforms import PasswordField, StringField  # type: ignore[import-untyped]
from wtforms.validators import DataRequired, Length  # type: ignore[import-untyped]

from dashboard.callers import caller
from dashboard.users import plain_name

if TYPE_CHECKING:
    from dashboard.users import Users

SESSION = timedelta(hours=12)
"""How long a session lasts from the log-in on, used or not."""

PER_ADDRESS = "6 per minute;30 per hour"
"""Failed log-ins allowed from one address."""

PER_NAME = "10 per 15 minutes"
"""Failed log-ins allowed for one name, from wherever."""

OPEN_PREFIX = "/client/"
"""Sealed links below it are opened without an account."""

_FORMS = ("try_login", "logout")
_FORM_BYTES = 16_000
_OPEN = ("health", "login", *_FORMS)
_log = logging.getLogger("evenrun.login")


class _Form(FlaskForm):  # type: ignore[misc]
    name = StringField(validators=[DataRequired(), Length(max=200)])
    password = PasswordField(validators=[DataRequired(), Length(max=2000)])


class _Member(UserMixin):  # type: ignore[misc]
    def __init__(self, name: str, mark: str) -> None:
        self.name = name
        self.id = f"{mark}:{name}"


def add_login(server: Flask, users: Users) -> None:
    """Put every path of a server, save the open ones, behind a log-in.

    Parameters
    ----------
    server : Flask
        It must have its secret key already, and nothing mounted yet: the guard stands first.
    users : Users
        Who may log in.
    """
    server.config.update(
        PERMANENT_SESSION_LIFETIME=SESSION,
        SESSION_REFRESH_EACH_REQUEST=False,
        WTF_CSRF_TIME_LIMIT=int(SESSION.total_seconds()),
    )
    manager = LoginManager()
    manager.session_protection = None  # would tie the session to the address, which changes on the road
    manager.init_app(server)
    limiter = Limiter(caller, app=server, storage_uri="memory://", strategy="moving-window")

    @manager.user_loader
    def member(identity: str) -> _Member | None:
        mark, _, name = identity.partition(":")
        began = session.get("began")
        if not isinstance(began, (int, float)) or not 0 <= time.time() - began <= SESSION.total_seconds():
            return None
        return _Member(name, mark) if users.mark(name) == mark else None

    @server.before_request
    def guard() -> Answer | None:
        rule = request.url_rule
        if request.endpoint in _FORMS:
            request.max_content_length = _FORM_BYTES
        if rule is not None and (rule.endpoint in _OPEN or rule.rule.startswith(OPEN_PREFIX)):
            return None
        if current_user.is_authenticated:
            return None
        if request.method in ("GET", "HEAD") and not request.path.startswith(("/_", "/assets/")):
            return redirect(url_for("login", next=_safe(request.full_path.removesuffix("?"))))
        return Response("Log in first.\n", 401, content_type="text/plain; charset=utf-8")

    @server.get("/login")
    def login() -> Answer:
        if current_user.is_authenticated:
            return redirect(_next())
        return _page()

    @server.post("/login", endpoint="try_login")
    @limiter.limit(PER_ADDRESS, deduct_when=_failed)
    @limiter.limit(PER_NAME, key_func=_name, deduct_when=_failed)
    def try_login() -> Answer:
        form = _Form()
        if not form.validate():
            if form.csrf_token.errors:
                return _page("This page was open too long, or cookies are off. Please try again.", 400)
            return _page("Give name and password.", 400)
        name = users.verify(form.name.data, form.password.data)
        if name is None:
            # what was typed as a name is logged only if it is one: it may be a password in the wrong box
            typed = plain_name(form.name.data)
            _log.warning(
                "log-in failed: %s, from %s", typed if users.mark(typed) else "unknown name", request.remote_addr
            )
            return _page("Name or password is wrong.", 401)
        session.clear()  # nothing set before the log-in lives on after it
        session.permanent = True
        session["began"] = time.time()
        login_user(_Member(name, users.mark(name) or ""))
        _log.info("log-in: %s, from %s", name, request.remote_addr)
        return redirect(_next())

    @server.route("/logout", methods=["GET", "POST"])
    def logout() -> Answer:
        if not current_user.is_authenticated:
            return redirect(url_for("login"))
        form = FlaskForm()
        # a form of our own page proves itself by the browser's word or by its token
        if request.method == "POST" and (request.headers.get("Sec-Fetch-Site") == "same-origin" or form.validate()):
            logout_user()
            session.clear()
            return redirect(url_for("login"))
        return make_response(render_template("logout.html", form=form))

    @server.errorhandler(RateLimitExceeded)
    def too_many(_: RateLimitExceeded) -> Answer:
        limit = limiter.current_limit
        seconds = max(1, limit.reset_at - int(time.time())) if limit else 60
        minutes = max(1, round(seconds / 60))
        _log.warning("log-in refused after too many failures, from %s", request.remote_addr)
        answer = _page(f"Too many failed attempts. Try again in {minutes} minute{'s' if minutes > 1 else ''}.", 429)
        answer.headers["Retry-After"] = str(seconds)
        return answer


def _page(problem: str = "", status: int = 200) -> Answer:
    form = _Form()
    return make_response(render_template("login.html", form=form, problem=problem, next=_next()), status)


def _next() -> str:
    return _safe(request.args.get("next", ""))


def _safe(address: str) -> str:
    """Return an address within this server, or its first page.

    Browsers take a backslash for a slash, two slashes for another host, and drop control characters.
    """
    return address if re.fullmatch(r"/(?![/\\])[^\\\x00-\x20\x7f]*", address) else "/"


def _failed(answer: Response) -> bool:
    return answer.status_code == 401


def _name() -> str:
    return plain_name(request.form.get("name", "")) or "unknown"
