"""Numbers of charts travel packed in base 64; tests that look for numbers read them back."""

from __future__ import annotations

import base64
import json
import re

import numpy as np


def unpacked(packed):
    """Read the numbers of a figure, as the drawing library does."""
    values = np.frombuffer(base64.b64decode(packed["bdata"]), f"<{packed['dtype']}")
    return values.reshape([int(n) for n in packed["shape"].split(",")]) if "shape" in packed else values


def packed_numbers(text):
    """Return all packed numbers within a text of JSON."""
    found = re.findall(r'"dtype":\s*"(f[48])",\s*"bdata":\s*"([^"]*)"', text)
    packed = [{"dtype": kind, "bdata": json.loads(f'"{data}"')} for kind, data in found]
    return [value for one in packed for value in unpacked(one).tolist()]
