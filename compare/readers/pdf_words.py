"""Split the content of a PDF page into commands, one at a time, so that a large page needs little memory."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any

_WORDS = re.compile(
    rb"%[^\r\n]*"
    rb"|/([^\x00\t\n\f\r ()<>\[\]{}/%]*)"
    rb"|([^\x00\t\n\f\r ()<>\[\]{}/%]+)"
    rb"|\((?:[^()\\]++|\\.)*+\)|\("
    rb"|<<|>>|<[0-9A-Fa-f\s]*+>",
    re.DOTALL,
)
_BRACKET = re.compile(rb"\\.|[()]", re.DOTALL)
_END_OF_IMAGE = re.compile(rb"[\x00\t\n\f\r ]EI(?=[\x00\t\n\f\r /]|\Z)")
_ESCAPED = re.compile(rb"#([0-9A-Fa-f]{2})")
_MOST_OPERANDS = 4096
"""More operands than any command takes are noise, and would fill the memory."""


def commands(data: bytes) -> Iterator[tuple[bytes, list[Any]]]:
    """Give each command of a content with its operands, an image within the content as ``EI``.

    Parameters
    ----------
    data : bytes

    Yields
    ------
    command : bytes
    operands : list
        Numbers as floats, NaN where they can't be read; names as texts without their slash. Texts,
        brackets and what else is not needed for lines are passed over. The list is used again.
    """
    operands: list[Any] = []
    position: int | None = 0
    while position is not None:
        start, position = position, None
        for match in _WORDS.finditer(data, start):
            which = match.lastindex
            if which == 2:
                word = match[2]
                if word[0] in b"+-.0123456789":
                    try:
                        operands.append(float(word))
                    except ValueError:
                        operands.append(math.nan)
                    if len(operands) > _MOST_OPERANDS:
                        operands.clear()
                elif word == b"ID":
                    yield b"EI", []
                    operands.clear()
                    end = _END_OF_IMAGE.search(data, match.end())
                    position = end.end() if end else None
                    break
                else:
                    yield word, operands
                    operands.clear()
            elif which == 1:
                operands.append(_name(match[1]))
            elif data[match.start()] == 0x28 and match.end() - match.start() == 1:
                position = _after_text(data, match.end())
                break


def _name(raw: bytes) -> str:
    if b"#" in raw:
        raw = _ESCAPED.sub(lambda m: bytes([int(m[1], 16)]), raw)
    try:
        return raw.decode()
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def _after_text(data: bytes, position: int) -> int | None:
    """Return the place after a text with brackets in it, None where it never ends."""
    depth = 1
    for match in _BRACKET.finditer(data, position):
        depth += {b"(": 1, b")": -1}.get(match[0], 0)
        if depth == 0:
            return match.end()
    return None
