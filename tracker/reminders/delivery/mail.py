"""Letters by mail: SMTP (RFC 5321), over TLS unless it is set otherwise.

A letter counts as taken once the server answered for the whole of it. What a server says for good
against the recipient or the letter is final; what it says against us or our settings is tried
again, since somebody can put it right.
"""

from __future__ import annotations

import smtplib
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from email.errors import MessageError
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import localtime

from tracker.channels import MailServer, is_mail_address
from tracker.reminders.delivery.outside import ending
from tracker.reminders.letters import Letter, NotAccepted

SPOKEN = 6
"""How many of its time-outs a whole delivery may take: a server could answer byte by byte."""
WE = "[127.0.0.1]"
"""As what we greet: we have no name in the DNS (RFC 5321, 4.1.4), and to ask for one takes 5 s."""
REASON_LENGTH = 200
"""How many characters of a server's own words are kept."""


class Mail:
    """Sends letters by a mail server."""

    kind = "mail"

    def __init__(self, server: MailServer) -> None:
        self._server = server

    def send(self, letter: Letter) -> None:
        """Hand a letter to the mail server. Errors: NotAccepted."""
        message = message_of(letter, self._server.sender)
        begun = False
        try:
            with self._connected() as smtp:
                begun = True
                smtp.send_message(message, self._server.sender, [letter.to])
        except smtplib.SMTPRecipientsRefused as error:
            code, said = error.recipients[letter.to]
            raise _refused(
                f"The mail server does not take mail to {letter.to}", code, said
            ) from None
        except smtplib.SMTPDataError as error:
            raise _refused(
                "The mail server does not take the letter", error.smtp_code, error.smtp_error
            ) from None
        except (smtplib.SMTPException, OSError, ValueError) as error:
            unsure = begun and _broke_off(error)
            raise NotAccepted(f"{self._server.host}: {_in_words(error)}", unsure=unsure) from None

    @contextmanager
    def _connected(self) -> Iterator[smtplib.SMTP]:
        """A server that we have signed in to."""
        server = self._server
        smtp = (
            smtplib.SMTP_SSL(
                local_hostname=WE,
                timeout=server.timeout_s,
                context=ssl.create_default_context(),
            )
            if server.encryption == "tls"
            else smtplib.SMTP(local_hostname=WE, timeout=server.timeout_s)
        )
        try:
            with ending(lambda: smtp.sock, SPOKEN * server.timeout_s):
                _greet(smtp, server)
                yield smtp
                # It has the letter. How it says goodbye does not matter any more.
                with suppress(smtplib.SMTPException, OSError):
                    smtp.quit()
        finally:
            smtp.close()


def _greet(smtp: smtplib.SMTP, server: MailServer) -> None:
    # The name is what a certificate is compared with; `connect` alone does not keep it.
    smtp._host = server.host  # type: ignore[attr-defined]
    code, said = smtp.connect(server.host, server.port)
    if code != 220:
        raise smtplib.SMTPConnectError(code, said)
    if server.encryption == "starttls":
        smtp.starttls(context=ssl.create_default_context())
    if server.user is not None and server.password is not None:
        smtp.login(server.user, server.password)


def message_of(letter: Letter, sender: str) -> EmailMessage:
    """A letter as a message. Errors: NotAccepted, for good, if it cannot be one."""
    if not is_mail_address(letter.to):
        raise NotAccepted(f"{letter.to!r} is no mail address.", permanent=True)
    message = EmailMessage(SMTP)
    try:
        # One line, whatever it holds: a line break would begin another header.
        message["Subject"] = " ".join(letter.title.split())
        message["From"] = Address("Cardwright", addr_spec=sender)
        message["To"] = Address(addr_spec=letter.to)
        message["Date"] = localtime()
        message["Message-ID"] = f"<{letter.id}@{sender.rpartition('@')[2]}>"
        # RFC 3834: no out-of-office answers to a machine.
        message["Auto-Submitted"] = "auto-generated"
        if letter.danger:
            message["Importance"] = "high"
        link = f"\n\n{letter.url}" if letter.url else ""
        message.set_content(f"{letter.body.rstrip()}{link}\n")
    except (ValueError, IndexError, MessageError):
        raise NotAccepted("The letter cannot be made a mail.", permanent=True) from None
    return message


def _refused(what: str, code: int, said: bytes | str) -> NotAccepted:
    return NotAccepted(f"{what}: {code} {_cleaned(said)}", permanent=500 <= code < 600)


def _broke_off(error: Exception) -> bool:
    """Whether no answer came, so that it may have taken the letter all the same."""
    # Each error of the library counts as one of the operating system's too.
    return isinstance(error, smtplib.SMTPServerDisconnected) or (
        isinstance(error, OSError) and not isinstance(error, smtplib.SMTPException)
    )


def _in_words(error: Exception) -> str:
    # The library tells a time-out while it waits for an answer as a lost connection.
    if isinstance(error, TimeoutError) or isinstance(error.__context__, TimeoutError):
        return "the mail server did not answer in time."
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"it has no certificate to be trusted ({error.verify_message})."
    if isinstance(error, smtplib.SMTPServerDisconnected):
        return "the mail server broke off."
    if isinstance(error, smtplib.SMTPAuthenticationError):
        return f"it does not know this user and password ({error.smtp_code})."
    if isinstance(error, smtplib.SMTPResponseException):
        return f"{error.smtp_code} {_cleaned(error.smtp_error)}"
    if isinstance(error, smtplib.SMTPNotSupportedError):
        return f"it cannot do what is set: {_cleaned(str(error))}"
    if isinstance(error, socket.gaierror):
        return "no mail server of this name can be found."
    if isinstance(error, ValueError):
        return "the user, the password or the recipient has letters that mail cannot carry."
    return "the mail server cannot be reached."


def _cleaned(said: bytes | str) -> str:
    """A server's words, on one line and not too long."""
    text = said.decode("utf-8", "replace") if isinstance(said, bytes) else said
    return " ".join(text.split())[:REASON_LENGTH]
