"""The help page and the glossary."""

from dataclasses import dataclass
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One word with its meaning."""

    word: Annotated[str, "The word."]
    meaning: Annotated[str, "What it means here."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Topic:
    """One group of words, or one part of the help."""

    anchor: Annotated[str, "Name to link to."]
    heading: Annotated[str, "Heading."]
    text: Annotated[str, "Introduction; may be empty."]
    terms: Annotated[tuple[Term, ...], "Words explained; may be empty."]


@dataclass(frozen=True, slots=True, kw_only=True)
class HelpView:
    """For anyone: how to read the pages, and what the words mean."""

    topics: Annotated[tuple[Topic, ...], "Parts in order."]
