"""Dash as both apps use it: a page for each of its paths and no other, and no more in it than a page needs."""

from __future__ import annotations

import json
import re
from collections.abc import Collection
from typing import Any

from dash import Dash
from flask import make_response, render_template

_FOR_DEVELOPERS = (
    "dash_version",
    "python_version",
    "plotly_version",
    "ddk_version",
    "dash_version_url",
    "disable_version_check",
    "plotly_cloud_installed",
)
"""What Dash tells every page, and only its developer panel reads."""


class PageApp(Dash):
    """A Dash app that knows its paths.

    Parameters
    ----------
    pages : collection of str
        Paths below the app's own, without slashes around them; any other answers 404.
    home : str
        Where the page of a 404 leads to; nowhere if empty.
    given, named
        As of ``Dash``.
    """

    def __init__(self, *given: Any, pages: Collection[str], home: str = "", **named: Any) -> None:
        self._pages, self._home = frozenset(pages), home
        super().__init__(*given, **named)

    def index(self, *given: Any, path: str = "", **named: Any) -> Any:
        """Answer a path with the app's page, or with one that says that there is none."""
        if path.strip("/") not in self._pages:
            return make_response(render_template("missing.html", home=self._home), 404)
        return super().index(*given, path=path, **named)

    def interpolate_index(self, **pieces: str) -> str:  # type: ignore[override]  # as Dash's own example does it
        """Fill the page; what tells of versions and asks for Dash's own picture stays out of it."""
        told = re.sub(r"(?<=>)\{.*\}(?=</script>)", lambda found: _needed(found[0]), pieces["config"], flags=re.DOTALL)
        return super().interpolate_index(**{**pieces, "config": told, "favicon": '<link rel="icon" href="data:,">'})


def _needed(config: str) -> str:
    told = json.loads(config)
    if told["ui"]:  # the developer panel was asked for
        return config
    kept = {name: value for name, value in told.items() if name not in _FOR_DEVELOPERS}
    return json.dumps(kept, separators=(",", ":")).replace("<", "\\u003c")  # nothing in it can end the script element
