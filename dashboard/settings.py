"""What a server is started with."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from pathlib import Path

from compare.readers.jobfile import Layer


def _one_time_secret() -> bytes:
    return secrets.token_bytes(32)


@dataclass(frozen=True, eq=False)  # one server, one object: it is a key of what was computed
class Settings:
    """What every view of a running server shares.

    Attributes
    ----------
    plant : Layer
        Values of the plant; empty for the table of assumptions alone.
    secret : bytes
        Key of cookies and of sealed client links; the same for all workers of a server
        (:func:`dashboard.secret.server_secret`). Without one, a key for this process alone.
    store : Path or None
        Store of quotes; the one of the user that runs the server, if left out.
    """

    plant: Layer = field(default_factory=lambda: Layer("table of assumptions"))
    secret: bytes = field(default_factory=_one_time_secret, repr=False)
    store: Path | None = None
