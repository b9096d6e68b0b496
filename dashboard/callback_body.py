"""Check the body of a callback before Dash sees it.

The page's own code always sends bodies that pass. Anything else was made by hand, and gets an
answer that says so instead of an error inside Dash.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from math import isfinite
from typing import Any

_DEEPEST = 40
_LARGEST_WHOLE = 10**21  # a browser writes larger ones with an exponent
# what a browser counts or writes itself is of one kind, whatever the callback
_TEXTS = ("hash", "href", "pathname", "search")
_COUNTS = ("n_blur", "n_clicks", "n_submit")
_WILD = ("ALL", "ALLSMALLER", "MATCH")


class BodyError(ValueError):
    """A body that no page of this server sends; the message names no content of it."""


def check_body(body: Any, callbacks: Mapping[str, Mapping[str, Any]]) -> None:
    """Check a callback's body against the callbacks of its app.

    Parameters
    ----------
    body : object
        The parsed JSON.
    callbacks : mapping
        ``callback_map`` of the Dash app.

    Raises
    ------
    BodyError
        If it does not fit one of them.
    """
    _check_values(body)
    if not isinstance(body, dict):
        raise BodyError("the body is no object")
    callback = callbacks.get(body["output"]) if isinstance(body.get("output"), str) else None
    if callback is None or "callback" not in callback:  # one without runs in the browser
        raise BodyError("there is no such callback")
    families: dict[str, list[Any]] = {}
    if not callback.get("no_output"):
        _check_outputs(body.get("outputs"), callback["output"], families)
    _check_references(body.get("inputs"), callback["inputs"], "inputs", families)
    _check_references(body.get("state", []), callback["state"], "state", families)
    _check_triggers(body.get("changedPropIds", []), callback["inputs"])


def _check_values(body: Any) -> None:
    """Refuse what JSON allows and no page sends: endless nesting, numbers and texts that nothing can hold."""
    level = [body]
    for _ in range(_DEEPEST):
        below: list[Any] = []
        for value in level:
            if isinstance(value, dict):
                below += value.keys()
                below += value.values()
            elif isinstance(value, list):
                below += value
            elif isinstance(value, str):
                if not value.isascii():
                    _check_text(value)
            elif isinstance(value, float):
                if not isfinite(value):
                    raise BodyError("a number is not finite")
            elif isinstance(value, int) and abs(value) > _LARGEST_WHOLE:
                raise BodyError("a number is too large")
        if not below:
            return
        level = below
    raise BodyError("the body is nested too deeply")


def _check_text(text: str) -> None:
    try:
        text.encode()
    except UnicodeEncodeError:
        raise BodyError("a text is not Unicode") from None


def _check_outputs(sent: Any, own: Any, families: dict[str, list[Any]]) -> None:
    if not isinstance(own, (list, tuple)):
        own, sent = [own], [sent]
    specs = [{"id": output.component_id_str(), "property": output.component_property} for output in own]
    _check_references(sent, specs, "outputs", families)


def _check_references(sent: Any, specs: Iterable[Mapping[str, str]], what: str, families: dict[str, list[Any]]) -> None:
    """Check ids and properties, and that lists of one family of components name the same ones."""
    other = BodyError(f"the {what} are not those of the callback")
    specs = list(specs)
    if not isinstance(sent, list) or len(sent) != len(specs):
        raise other
    for reference, spec in zip(sent, specs, strict=True):
        fits, several = _matcher(spec["id"])
        if several != isinstance(reference, list):
            raise other
        for one in reference if several else [reference]:
            if not isinstance(one, dict) or not isinstance(one.get("property"), str) or not fits(one.get("id")):
                raise other
            if _plain(one["property"]) != _plain(spec["property"]):
                raise other
            _check_kind(_plain(one["property"]), one.get("value"))
        if several:
            members = [one["id"] for one in reference]
            if families.setdefault(spec["id"], members) != members:
                raise other


def _check_kind(prop: str, value: Any) -> None:
    text = prop in _TEXTS and not isinstance(value, str)
    count = prop in _COUNTS and not isinstance(value, (int, float))
    if value is not None and (text or count):
        raise BodyError(f"{prop} is of another kind")


def _check_triggers(sent: Any, specs: Iterable[Mapping[str, str]]) -> None:
    if not isinstance(sent, list):
        raise BodyError("the triggers are no list")
    own = [(_matcher(spec["id"])[0], spec["property"]) for spec in specs]
    for trigger in sent:
        if not isinstance(trigger, str):
            raise BodyError("a trigger is no text")
        name, _, prop = trigger.rpartition(".")
        identity: Any = name
        if name.startswith("{"):
            try:
                identity = json.loads(name)
            except (ValueError, RecursionError):
                raise BodyError("a trigger is no input of the callback") from None
        if not any(prop == property_ and fits(identity) for fits, property_ in own):
            raise BodyError("a trigger is no input of the callback")


def _matcher(identity: str) -> tuple[Callable[[Any], bool], bool]:
    """Return a test for an id sent by the page, and whether the callback takes a list of them."""
    if not identity.startswith("{"):
        return (lambda sent: sent == identity), False
    pattern: dict[str, Any] = json.loads(identity)
    wild = {key: value[0] for key, value in pattern.items() if isinstance(value, list) and value[0] in _WILD}

    def fits(sent: Any) -> bool:
        return (
            isinstance(sent, dict)
            and sent.keys() == pattern.keys()
            and all(
                isinstance(value, (str, int, float)) if key in wild else value == pattern[key]
                for key, value in sent.items()
            )
        )

    return fits, any(value in ("ALL", "ALLSMALLER") for value in wild.values())


def _plain(name: str) -> str:
    return name.partition("@")[0]  # outputs shared by several callbacks carry a mark behind an @
