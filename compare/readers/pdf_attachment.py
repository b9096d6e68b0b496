"""A file that was embedded in a PDF, read in a process of its own: PDFs of quotes come back from anybody."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from compare.errors import FileError
from compare.readers.limited_process import Remedies, run_limited, serve_limited

MOST_BYTES = 50_000_000
"""Size of a PDF that is opened."""

_MOST_ATTACHED = 4_000_000
_SECONDS, _MEGABYTES = 20.0, 700.0
_REMEDY = "take the PDF as it was made, not one that was printed or saved anew"
_REMEDIES = Remedies(memory=_REMEDY, time=_REMEDY, broken=_REMEDY)


def read_attached(path: Path, name: str) -> bytes:
    """Return the bytes of a file embedded in a PDF.

    Parameters
    ----------
    path : Path
        The PDF.
    name : str
        Name of the embedded file.

    Raises
    ------
    FileError
        If the PDF can't be read, or has no such file in it.
    """
    where = str(path)
    try:
        size = path.stat().st_size
        folder = path.is_dir()
    except OSError as error:
        raise FileError(f"the file can't be read ({error.strerror})", where=where, remedy="check the path") from None
    if folder:
        raise FileError("this is a folder, not a PDF", where=where, remedy="name the file in it")
    if size > MOST_BYTES:
        raise FileError("the PDF is over 50 MB", where=where, remedy=_REMEDY)
    with tempfile.TemporaryDirectory(prefix="evenrun-") as answers:
        job = {"folder": answers, "path": str(path.absolute()), "name": name}
        run_limited(
            "compare.readers.pdf_attachment",
            job,
            seconds=_SECONDS,
            megabytes=_MEGABYTES,
            where=where,
            remedies=_REMEDIES,
        )
        found, fault = Path(answers, "found"), Path(answers, "fault")
        if fault.exists():
            raise FileError(fault.read_text(encoding="utf-8")[:200], where=where, remedy=_REMEDY)
        return found.read_bytes()


def serve(job: dict[str, Any]) -> None:
    """Do what :func:`read_attached` asks, in the process that was started for it."""
    serve_limited(job, _extract)


def _extract(job: dict[str, Any]) -> None:
    import pikepdf  # noqa: PLC0415 - only in the process that reads

    answers = Path(job["folder"])
    try:
        with pikepdf.open(job["path"]) as pdf:
            names = {spec.filename: spec for spec in pdf.attachments.values()}
            spec = names.get(job["name"])
            content = None if spec is None else spec.get_file().read_bytes()
    except pikepdf.PasswordError:
        _fault(answers, "the PDF has a password")
    except (pikepdf.PdfError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        _fault(answers, "this is no PDF that can be read")
    else:
        if content is None:
            _fault(answers, "this PDF has no quote of ours in it")
        elif len(content) > _MOST_ATTACHED:
            _fault(answers, "the quote in this PDF is too large to be one of ours")
        else:
            (answers / "found").write_bytes(content)


def _fault(answers: Path, text: str) -> None:
    (answers / "fault").write_text(text, encoding="utf-8")
