"""One tree of errors and one kind of finding.

An error says what is wrong, where, and what to do about it, in one line. A finding is a coded
remark about input that could still be used.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal


class EvenrunError(Exception):
    """Base of every error that Evenrun raises on purpose.

    Parameters
    ----------
    what : str
        What is wrong, as a clause without a full stop.
    where : str, optional
        The file, dotted name or row it was found in.
    remedy : str, optional
        What the user can do about it.
    """

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        # what a user typed may hold line breaks; a message is one line
        what, where, remedy = (" ".join(text.split()) for text in (what, where, remedy))
        self.what, self.where, self.remedy = what, where, remedy
        line = f"{where}: {what}" if where else what
        super().__init__(f"{line}; {remedy}" if remedy else line)


class InputError(EvenrunError, ValueError):
    """A value, or a set of values together, that can't be used."""


class UnknownNameError(InputError, LookupError):
    """A name that is not in the vocabulary."""


class FileError(EvenrunError, OSError):
    """A file that can't be read or written."""


class FactorError(InputError):
    """Emission factors that may not stand in one sum."""


@dataclass(frozen=True)
class Finding:
    """A coded remark about input that could still be used.

    Attributes
    ----------
    code : str
        Stable short code, such as ``die.press_force``.
    message : str
        One sentence for the user, with the remedy.
    where : str
        Dotted name, file or route it belongs to.
    kind : {"note", "caution", "not possible"}
        ``not possible`` takes the route out of the comparison.
    at : tuple of (float, float)
        Places on the drawing it is about [mm], empty where it is about none.
    """

    code: str
    message: str
    where: str = ""
    kind: Literal["note", "caution", "not possible"] = "note"
    at: tuple[tuple[float, float], ...] = ()


def unknown_name(name: str, known: Iterable[str], *, where: str, what: str = "name") -> UnknownNameError:
    """Build the error for a name that is not known, naming its nearest neighbours."""
    options = sorted(known)
    near = get_close_matches(name, options, n=3, cutoff=0.6)
    if not near:  # a right last part under a wrong group is the commonest slip
        tail = name.rsplit(".", 1)[-1]
        near = [o for o in options if o.rsplit(".", 1)[-1] == tail][:3]
    if near:
        remedy = "did you mean " + " or ".join(near) + "?"
    elif len(options) <= 60:
        remedy = "there is: " + ", ".join(options)
    else:
        remedy = "'evenrun assumptions' lists them all"
    return UnknownNameError(f"there is no {what} '{name}'", where=where, remedy=remedy)
