"""What a server is started with."""

from __future__ import annotations

from dataclasses import dataclass, field

from compare.readers.jobfile import Layer


@dataclass(frozen=True)
class Settings:
    """What every view of a running server shares.

    Attributes
    ----------
    plant : Layer
        Values of the plant; empty for the table of assumptions alone.
    secret : bytes
        Key of cookies and of sealed client links; the same for all workers of a server.
    """

    plant: Layer = field(default_factory=lambda: Layer("table of assumptions"))
    secret: bytes = b""
