"""A plant file with some of its values exchanged: what else is in it, comments too, stays as it was."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from compare.names import flatten


def plant_text(text: str, values: Mapping[str, float], remarks: Mapping[str, str], head: Sequence[str]) -> str:
    """Return the text of a plant file with values put in.

    Parameters
    ----------
    text : str
        The plant file as it is; empty for none.
    values : mapping
        Dotted name to number.
    remarks : mapping
        Dotted name to what is said behind its value.
    head : sequence of str
        Lines that stand at the top as comments.

    Returns
    -------
    str
        TOML. Where the file is written in a way that lines can't be put into, its values are written anew, without
        its comments.
    """
    before = flatten(tomllib.loads(text))
    # a value that is put in has not the range that stood beside the one before
    after = {n: v for n, v in before.items() if not any(n.startswith(f"{name}.") for name in values)} | dict(values)
    edited = _edited(text, values, remarks)
    try:
        kept = flatten(tomllib.loads(edited)) == after
    except tomllib.TOMLDecodeError:
        kept = False
    body = edited if kept else _anew(after, remarks)
    return "".join(f"# {_one_line(line)}\n" if line else "#\n" for line in head) + "\n" + body


def _edited(text: str, values: Mapping[str, float], remarks: Mapping[str, str]) -> str:
    lines = text.splitlines()
    for name, value in values.items():
        group, _, key = name.partition(".")
        written = _line(key, value, remarks.get(name, ""))
        head = next((i for i, line in enumerate(lines) if re.match(rf"\s*\[\s*{group}\s*\]\s*(#.*)?$", line)), None)
        if head is None:
            lines += ["", f"[{group}]", written] if lines else [f"[{group}]", written]
            continue
        end = next((i for i in range(head + 1, len(lines)) if lines[i].lstrip().startswith("[")), len(lines))
        place = next((i for i in range(head + 1, end) if re.match(rf"\s*{key}\s*=", lines[i])), None)
        if place is None:
            # behind the last value of its table, and before what introduces the next one
            while not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#"):
                end -= 1
            lines.insert(end, written)
        else:
            lines[place] = written
    return "\n".join(lines) + "\n"


def _anew(values: Mapping[str, Any], remarks: Mapping[str, str]) -> str:
    loose = {name: value for name, value in values.items() if "." not in name}
    lines = [_line(name, value) for name, value in loose.items()]
    for group in dict.fromkeys(name.partition(".")[0] for name in values if name not in loose):
        lines += ["", f"[{group}]"] if lines else [f"[{group}]"]
        for name, value in values.items():
            first, _, key = name.partition(".")
            if first == group and name not in loose:
                lines.append(_line(key, value, remarks.get(name, "")))
    return "\n".join(lines) + "\n"


def _line(key: str, value: Any, remark: str = "") -> str:
    # JSON writes texts as TOML does, but for one control character
    shown = json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f") if isinstance(value, str) else repr(value)
    shown = shown.lower() if isinstance(value, bool) else shown
    # parts of a range, such as hours_y.low, stay dotted
    name = key if re.fullmatch(r"[A-Za-z0-9_-]+(\.[a-z]+)?", key) else json.dumps(key)
    return f"{name} = {shown}" + (f"  # {_one_line(remark)}" if remark else "")


def _one_line(text: str) -> str:
    """Return a text that stays within a comment."""
    return "".join(c if c.isprintable() else "?" for c in text)
