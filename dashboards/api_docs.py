"""The API's description for people: every address, what it takes, what it answers."""

from dataclasses import dataclass
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One part of what a value may be."""

    text: Annotated[str, "Name of a kind, or an allowed value."]
    href: Annotated[str, "Where the kind is described; empty for a plain one."] = ""
    exact: Annotated[bool, "Whether the text is the value itself, letter by letter."] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiField:
    """One parameter or field."""

    name: Annotated[str, "Its name."]
    place: Annotated[str, "Where a parameter stands; empty for a field of a value."]
    kinds: Annotated[tuple[Kind, ...], "What it may be: any of these."]
    meaning: Annotated[str, "What it means; may be empty."]
    required: Annotated[bool, "Whether it must be there."]


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiBody:
    """One form in which a body may be sent."""

    media_type: Annotated[str, "Content type."]
    kinds: Annotated[tuple[Kind, ...], "What it holds."]
    meaning: Annotated[str, "What it means; may be empty."]


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiAnswer:
    """One answer."""

    status: Annotated[str, "Status code."]
    meaning: Annotated[str, "What it means."]
    media_types: Annotated[tuple[str, ...], "Content types."]
    codes: Annotated[tuple[str, ...], "Codes of problems that come with it."]


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiOperation:
    """One address with one method."""

    anchor: Annotated[str, "Its stable id."]
    method: Annotated[str, "In capitals."]
    path: Annotated[str, "With names in braces."]
    summary: Annotated[str, "What it does."]
    scope: Annotated[str, "Scope that a token needs; empty where none is asked for."]
    parameters: Annotated[tuple[ApiField, ...], "What stands in the address or the headers."]
    bodies: Annotated[tuple[ApiBody, ...], "What may be sent."]
    answers: Annotated[tuple[ApiAnswer, ...], "What comes back."]


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiValue:
    """One kind of value that bodies and answers hold."""

    name: Annotated[str, "Its name."]
    meaning: Annotated[str, "What it is; may be empty."]
    fields: Annotated[tuple[ApiField, ...], "What it is made of; empty for a plain value."]


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiDocsView:
    """For people who write programs against the service: what to send where, and what comes back."""

    summary: Annotated[str, "What the API is for."]
    operations: Annotated[tuple[ApiOperation, ...], "Every address with each of its methods."]
    values: Annotated[tuple[ApiValue, ...], "Every kind of value, by name."]
