"""The digest by mail: text and HTML in one message, by the operator's own mail server."""

import smtplib
import ssl
from collections.abc import Callable
from email.message import EmailMessage
from email.utils import parseaddr
from typing import Final
from urllib.parse import unquote, urlsplit

from service.schedule.digest import Digest

TIMEOUT_S: Final = 30.0
"""How long a mail server may take to answer [s]; chosen by us."""

_PORTS: Final = {"smtp": 25, "smtp+starttls": 587, "smtps": 465}


def mailer(url: str, to: str, sender: str) -> Callable[[Digest], None] | None:
    """Give what mails digests, as the schedule wants it; None where server or addresses are not set.

    Parameters
    ----------
    url : str
        `smtp://`, `smtp+starttls://` or `smtps://`, with user and password where the server wants them.
    to : str
        Addresses with commas between.
    sender : str
        Address that it comes from.
    """
    if not url or not to:
        return None

    def mail(digest: Digest) -> None:
        send(url, message_of(digest, to, sender))

    return mail


def message_of(digest: Digest, to: str, sender: str) -> EmailMessage:
    """Make the message of a digest.

    Its id is the week's, so that a mail program that gets it twice, after a power cut between sending and
    noting it, can tell.
    """
    message = EmailMessage()
    message["Subject"] = digest.subject
    message["From"] = sender
    message["To"] = ", ".join(one.strip() for one in to.split(","))
    message["Message-ID"] = f"<digest.{digest.week}@{parseaddr(sender)[1].rpartition('@')[2]}>"
    message["Auto-Submitted"] = "auto-generated"
    message.set_content(digest.text)
    message.add_alternative(digest.html, subtype="html")
    return message


def send(url: str, message: EmailMessage) -> None:
    """Hand a message to a mail server.

    Raises
    ------
    OSError, smtplib.SMTPException
        The server does not answer, or does not take it for every address. Neither quotes the password.
    """
    parts = urlsplit(url)
    host, port = parts.hostname or "localhost", parts.port or _PORTS[parts.scheme]
    secure = ssl.create_default_context()
    with (
        smtplib.SMTP_SSL(host, port, timeout=TIMEOUT_S, context=secure)
        if parts.scheme == "smtps"
        else smtplib.SMTP(host, port, timeout=TIMEOUT_S)
    ) as server:
        if parts.scheme == "smtp+starttls":
            server.starttls(context=secure)
        if parts.username:
            server.login(unquote(parts.username), unquote(parts.password or ""))
        refused = server.send_message(message)
    if refused:
        raise smtplib.SMTPRecipientsRefused(refused)
