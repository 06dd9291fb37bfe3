"""Keys of forms: what was sent twice is done once."""

from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import delete, select, update

from service.store.columns import to_us
from service.store.tables import FORM_KEY
from service.store.unit import Unit, clean

KEPT_DAYS: Final = 30
"""Days after which a key is forgotten; chosen by us: a phone without signal has sent its form long before."""


class Forms(Unit):
    """Keys of forms that were sent, and where their senders were led."""

    def take_form_key(self, key: str, now: datetime, *, who: str) -> str | None:
        """Take the key of a form, so that nobody can take it again.

        Parameters
        ----------
        key : str
            As the page gave it out.
        now : datetime
            Aware. Keys taken long before are forgotten.
        who : str
            Login of the sender.

        Returns
        -------
        str or None
            None when the key is new: go on, and keep where the sender is led. Otherwise where the first
            sending led, empty where that was not kept.
        """
        forgotten = to_us(now - timedelta(days=KEPT_DAYS))
        self._connection.execute(delete(FORM_KEY).where(FORM_KEY.c.at_us < forgotten))
        statement = self._insert(FORM_KEY).values(key=clean(key), at_us=to_us(now), who=who)
        taken = statement.on_conflict_do_nothing().returning(FORM_KEY.c.key)
        if self._connection.execute(taken).first() is not None:
            return None
        found = self._connection.scalar(select(FORM_KEY.c.led_to).where(FORM_KEY.c.key == clean(key)))
        return str(found or "")

    def keep_form_answer(self, key: str, led_to: str) -> None:
        """Keep where the sender of a form was led, for whoever sends it again."""
        self._connection.execute(
            update(FORM_KEY).where(FORM_KEY.c.key == clean(key)).values(led_to=clean(led_to))
        )
