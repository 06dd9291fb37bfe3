"""Cost files: one line for each cause, planned and unplanned, with the date of the prices.

Columns: ``cause, planned_hours, unplanned_hours, planned_parts, unplanned_parts, downtime, labour_rate,
look_cost, currency, price_date, source``. `downtime`, `labour_rate`, `look_cost` and `source` may be missing.
"""

import re
from datetime import date
from typing import Final

from ingest.listing import BadItem, Item, load, read_listing, take_number, take_text, take_word
from ingest.parameters import CAUSES
from ingest.records import CostLine, Loaded

COLUMN_ORDER: Final = (
    "cause",
    "planned_hours",
    "unplanned_hours",
    "planned_parts",
    "unplanned_parts",
    "downtime",
    "labour_rate",
    "look_cost",
    "currency",
    "price_date",
    "source",
)
COLUMNS: Final = frozenset(COLUMN_ORDER)

MOST_HOURS: Final = 1_000.0
"""Most workshop hours of one repair [h]; chosen by us: more is a typing error."""

MOST_MONEY: Final = 1e9
"""Largest sum of one line [currency]; chosen by us."""

_CURRENCY: Final = re.compile(r"[A-Z]{3}")


def read_costs(body: bytes, kind: str) -> Loaded[CostLine]:
    """Read a cost file.

    Parameters
    ----------
    body : bytes
        The file.
    kind : {"csv", "json"}
        JSON is an array, one object, or ``{"costs": [...]}``.

    Raises
    ------
    UnknownKind, UnreadableBody
        The file as a whole cannot be read.

    Examples
    --------
    >>> text = b"cause,planned_hours,unplanned_hours,planned_parts,unplanned_parts,currency,price_date"
    >>> line = b"unmetered_air,1.2,2.5,40,60,EUR,2031-01-01"
    >>> read_costs(text + bytes([10]) + line, "csv").rows[0].unplanned_parts
    60.0
    """
    seen: set[str] = set()

    def build(item: Item) -> CostLine:
        line = _build(item)
        if line.cause in seen:
            raise BadItem("cost-repeated", "cause", f"{line.cause} stands twice in the file.")
        seen.add(line.cause)
        return line

    return load(read_listing(body, kind, "costs", COLUMNS), COLUMNS, build, vehicle="")


def _build(item: Item) -> CostLine:
    return CostLine(
        cause=take_word(item, "cause", CAUSES, required=True),
        planned_hours=_figure(item, "planned_hours", MOST_HOURS),
        unplanned_hours=_figure(item, "unplanned_hours", MOST_HOURS),
        planned_parts=_figure(item, "planned_parts", MOST_MONEY),
        unplanned_parts=_figure(item, "unplanned_parts", MOST_MONEY),
        downtime=take_number(item, "downtime", low=0.0, high=MOST_MONEY) or 0.0,
        labour_rate=take_number(item, "labour_rate", low=0.0, high=MOST_MONEY),
        look_cost=take_number(item, "look_cost", low=0.0, high=MOST_MONEY),
        currency=_currency(item),
        price_date=_price_date(item),
        source=take_text(item, "source"),
    )


def _figure(item: Item, name: str, high: float) -> float:
    number = take_number(item, name, low=0.0, high=high)
    if number is None:
        raise BadItem("missing-column", name, f"{name} is required; 0 where there is no such cost.")
    return number


def _currency(item: Item) -> str:
    text = take_text(item, "currency", required=True)
    if _CURRENCY.fullmatch(text) is None:
        raise BadItem(
            "unknown-word", "currency", f"currency must be three capital letters (ISO 4217), was {text!r}."
        )
    return text


def _price_date(item: Item) -> date:
    text = take_text(item, "price_date", required=True)
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadItem("bad-date", "price_date", f"price_date must be YYYY-MM-DD, was {text!r}.") from None
