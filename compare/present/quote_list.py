"""Quotes that are kept, as a table."""

from __future__ import annotations

from collections.abc import Sequence

from rich.table import Table

from compare.present.numbers import figures, whole
from compare.present.terminal import plain_table
from compare.quotes.store_rows import QuoteRow


def quote_table(rows: Sequence[QuoteRow]) -> Table:
    """Return quotes as a table, prices per 1,000 cartons."""
    table = plain_table("quote", "made", "client", "job", "cartons", "die", "laser", "", "status", texts=4)
    for row in rows:
        prices = (figures(p) if p is not None else "no" for p in (row.die_price, row.laser_price))
        price = row.mark.price_per_1000 if row.mark else None
        status = row.status if price is None else f"{row.status} at {figures(price)}"
        made = row.made_on.isoformat()
        table.add_row(row.number, made, row.client, row.job, whole(row.run_length), *prices, row.currency, status)
    return table
