"""Keys, accounts, sign-ins and the event log."""

from collections.abc import Mapping
from datetime import datetime

from service.auth.tokens import ApiToken
from service.store.unit import Unit
from service.store.values import LogEntry, Page, Person, SignIn


class People(Unit):
    """Tokens, accounts, sign-ins and the append-only event log."""

    def put_token(self, token: ApiToken) -> None:
        """Keep a new token; raises AlreadyThere when the name is taken."""
        raise NotImplementedError

    def find_token(self, digest: str) -> ApiToken | None:
        """Find a token by its digest; None where there is none."""
        raise NotImplementedError

    def tokens(self) -> tuple[ApiToken, ...]:
        """List tokens by name."""
        raise NotImplementedError

    def revoke_token(self, name: str, now: datetime) -> bool:
        """Revoke a token; False when it was revoked before. Raises NotFound."""
        raise NotImplementedError

    def put_person(self, person: Person) -> None:
        """Keep an account, replacing an earlier state of it."""
        raise NotImplementedError

    def person(self, login: str) -> Person | None:
        """Find an account; None where there is none."""
        raise NotImplementedError

    def people(self) -> tuple[Person, ...]:
        """List accounts by login."""
        raise NotImplementedError

    def put_sign_in(self, sign_in: SignIn) -> None:
        """Keep a new sign-in."""
        raise NotImplementedError

    def find_sign_in(self, digest: str) -> SignIn | None:
        """Find a sign-in by the digest of its cookie; None where there is none."""
        raise NotImplementedError

    def end_sign_in(self, digest: str) -> None:
        """End one sign-in."""
        raise NotImplementedError

    def end_sign_ins(self, *, login: str = "", expired_by: datetime | None = None) -> int:
        """End all sign-ins of a person, or all that expired by a time; gives their count."""
        raise NotImplementedError

    def log_event(
        self,
        *,
        at: datetime,
        who: str,
        what: str,
        subject: str,
        before: str = "",
        after: str = "",
        source: str = "",
    ) -> None:
        """Append a line to the event log; there is no way to change or remove one."""
        raise NotImplementedError

    def log_entries(
        self, *, who: str = "", what: str = "", subject: str = "", limit: int = 100, cursor: str = ""
    ) -> Page[LogEntry]:
        """List the event log, newest first."""
        raise NotImplementedError

    def preferences(self) -> Mapping[str, str]:
        """Give the fleet's settings that people change on pages, by name."""
        raise NotImplementedError

    def put_preference(self, name: str, value: str) -> None:
        """Keep one of the fleet's settings."""
        raise NotImplementedError
