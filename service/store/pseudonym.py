"""A vehicle's number and VIN taken out of kept texts and values, another name put in their place."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

_NUMBER_ONLY = re.compile(r"[\d.,\s-]+")


@dataclass(frozen=True, slots=True)
class Pseudonym:
    """Says what a name becomes.

    Parameters
    ----------
    name : str
        The fleet's own number.
    vin : str
        Empty where none is known.
    other : str
        What stands for both from now on.

    Examples
    --------
    >>> hide = Pseudonym("V-17", "", "erased-1")
    >>> hide.text("V-17: trim rose; see V-17-T2 and V-170."), hide.value({"V-17": ["V-17", 17]})
    ('erased-1: trim rose; see erased-1-T2 and V-170.', {'erased-1': ['erased-1', 17]})
    """

    name: str
    vin: str
    other: str

    def text(self, text: str) -> str:
        """Give a text without the name.

        A name that is a bare number is told from other numbers by what follows it only: a colon at the
        start of the text, or the mark of a ticket.
        """
        if self.vin:
            text = re.sub(re.escape(self.vin), self.other, text, flags=re.IGNORECASE)
        if text == self.name:
            return self.other
        name = re.escape(self.name)
        if _NUMBER_ONLY.fullmatch(self.name):
            text = re.sub(rf"\A{name}(?=:)", self.other, text)
            return re.sub(rf"(?<![\w-]){name}(?=-T\d)", self.other, text)
        return re.sub(rf"(?<![A-Za-z0-9]){name}(?![A-Za-z0-9])", self.other, text)

    def value(self, value: Any) -> Any:
        """Give a value without the name, at any depth, keys included."""
        if isinstance(value, str):
            return self.text(value)
        if isinstance(value, Mapping):
            return {self.value(key): self.value(one) for key, one in value.items()}
        if isinstance(value, list | tuple):
            return [self.value(one) for one in value]
        return value
