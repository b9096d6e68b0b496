"""The application for a WSGI server, set by the environment: ``gunicorn dashboard.wsgi:app``.

EVENRUN_PLANT
    Plant file; without it the table of assumptions alone.
EVENRUN_USERS
    Users file.
EVENRUN_BEHIND_PROXY
    1 if a reverse proxy with HTTPS stands before it, else 0 (the default).
EVENRUN_STORE
    Store of quotes; without it the one of the server's account.
EVENRUN_SECRET_KEY
    Secret of the server; without it a file in the user's state folder.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from flask import Flask

from compare.errors import InputError
from compare.readers.jobfile import read_file
from dashboard.secret import server_secret
from dashboard.server import make_server, warm_up
from dashboard.settings import Settings
from dashboard.users import Users


def from_environment(environment: Mapping[str, str]) -> Flask:
    """Return the application that the variables ask for.

    Raises
    ------
    InputError, FileError
        If a variable or a file it names can't be used.
    """
    plant, users, store = (environment.get(f"EVENRUN_{name}") for name in ("PLANT", "USERS", "STORE"))
    behind_proxy = environment.get("EVENRUN_BEHIND_PROXY", "0")
    if behind_proxy not in ("0", "1"):
        raise InputError(f"it is {behind_proxy!r}", where="EVENRUN_BEHIND_PROXY", remedy="set it to 1 or 0")
    layer = read_file(Path(plant), kind="plant") if plant else Settings().plant
    server = make_server(
        Settings(plant=layer, secret=server_secret(), store=Path(store) if store else None),
        users=Users.load(Path(users)) if users else None,
        behind_proxy=behind_proxy == "1",
    )
    warm_up(server)
    return server


app = from_environment(os.environ)
