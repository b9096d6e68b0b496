"""Rows of the store as a list shows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal, NamedTuple, cast

Status = Literal["open", "won", "lost"]


@dataclass(frozen=True)
class Mark:
    """What became of a quote, as somebody marked it.

    Attributes
    ----------
    status : {"open", "won", "lost"}
        What became of it.
    price_per_1000 : float or None
        Price it was won or lost at [currency per 1,000 cartons].
    note : str
        Why, in the user's words.
    when : datetime
        When it was marked.
    """

    status: Status
    price_per_1000: float | None
    note: str
    when: datetime

    @classmethod
    def of(cls, cells: Sequence[Any]) -> Mark:
        """Return a mark from the cells of its row, which were held to their digest before."""
        status, price, note, when = cells
        return cls(cast("Status", status.decode()), price, note.decode(), datetime.fromisoformat(when.decode()))


@dataclass(frozen=True)
class QuoteRow:
    """A quote in a list.

    Attributes
    ----------
    number, client, job : str
        What it is called.
    made_on, valid_until : date
        Day it was made, and last day its prices hold.
    currency : str
        Currency of its prices.
    run_length : float
        Run length of the job [cartons per order].
    die_price, laser_price : float or None
        Prices per 1,000 at that run length [currency]; None for a route that can't make the job.
    mark : Mark or None
        The last mark; None where nobody has said anything, which counts as open.
    """

    number: str
    client: str
    job: str
    made_on: date
    valid_until: date
    currency: str
    run_length: float
    die_price: float | None
    laser_price: float | None
    mark: Mark | None

    @property
    def status(self) -> Status:
        """What became of it."""
        return "open" if self.mark is None else self.mark.status

    @classmethod
    def of(cls, cells: Sequence[Any], mark: Mark | None) -> QuoteRow:
        """Return a quote from the cells of its row, which were held to their digest before."""
        number, client, job, made_on, valid_until, currency, run_length, die_price, laser_price, _, _ = cells
        return cls(
            number=number.decode(),
            client=client.decode(),
            job=job.decode(),
            made_on=date.fromisoformat(made_on.decode()),
            valid_until=date.fromisoformat(valid_until.decode()),
            currency=currency.decode(),
            run_length=run_length,
            die_price=die_price,
            laser_price=laser_price,
            mark=mark,
        )


class Found(NamedTuple):
    """What a search found.

    Attributes
    ----------
    rows : tuple of QuoteRow
        Quotes, the newest first.
    damaged : tuple of str
        Numbers of quotes that were found, but whose rows are damaged.
    """

    rows: tuple[QuoteRow, ...]
    damaged: tuple[str, ...]
