"""Letters to programs: JSON over HTTP, signed, to listed hosts only.

Headers and signature are those of Standard Webhooks 1.0.0 (www.standardwebhooks.com), the
symmetric scheme `v1`: HMAC-SHA256 over id, time stamp and body.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import json
import secrets
import time
from collections.abc import Callable, Mapping

from tracker.reminders.delivery.outside import PATIENCE_S, ask, entry_for, target_of
from tracker.reminders.letters import Letter, NotAccepted

MARK = "whsec_"
SECRET_BYTES = 32
"""The scheme asks for 24 to 64 bytes."""
AGAIN = frozenset({401, 403, 404, 408, 409, 421, 423, 425, 429})
"""Refusals that can be put right at the other end while we try again; so can any 5xx."""
BETWEEN = frozenset({502, 504})
"""With these something between us answers, and knows not what became of it."""


class Webhook:
    """Sends letters to the addresses of programs.

    listed: the hosts that may be sent to, each with the secret that signs for it. now: seconds
    since 1970 (UTC).
    """

    kind = "webhook"

    def __init__(
        self,
        listed: Mapping[str, str],
        *,
        now: Callable[[], float] = time.time,
        patience_s: float = PATIENCE_S,
    ) -> None:
        self._listed = listed
        self._now = now
        self._patience_s = patience_s

    def send(self, letter: Letter) -> None:
        """Post a letter. Errors: NotAccepted."""
        target = target_of(letter.to)
        secret = self._listed[entry_for(target, self._listed)]
        body = body_of(letter)
        stamp = str(int(self._now()))
        headers = {
            "Content-Type": "application/json",
            "User-Agent": "Cardwright",
            "webhook-id": letter.id,
            "webhook-timestamp": stamp,
            "webhook-signature": signature(secret, letter.id, stamp, body),
            "Connection": "close",
        }
        status = ask(target, self._listed, headers=headers, body=body, patience_s=self._patience_s)
        if not 200 <= status < 300:
            again = status in AGAIN or status >= 500
            reason = f"{target.entry} {_in_words(status)}."
            raise NotAccepted(reason, permanent=not again, unsure=status in BETWEEN)


def _in_words(status: int) -> str:
    if 300 <= status < 400:
        return f"sent us elsewhere (status {status}), which is not followed"
    return f"refused it (status {status})"


def body_of(letter: Letter) -> bytes:
    """A letter as JSON: the same over all tries."""
    told = {
        "type": "notice",
        "data": {
            "id": letter.id,
            "title": letter.title,
            "body": letter.body,
            "url": letter.url,
            "danger": letter.danger,
        },
    }
    return json.dumps(told, ensure_ascii=False, separators=(",", ":")).encode()


def signature(secret: str, letter_id: str, stamp: str, body: bytes) -> str:
    """The signature of a body, as its header has it. Errors: NotAccepted if the secret is none."""
    signed = f"{letter_id}.{stamp}.".encode() + body
    made = hmac.new(key_of(secret), signed, hashlib.sha256).digest()
    return f"v1,{base64.b64encode(made).decode()}"


def key_of(secret: str) -> bytes:
    """The bytes of a secret. Errors: NotAccepted."""
    try:
        key = base64.b64decode(secret.removeprefix(MARK), validate=True)
    except (binascii.Error, ValueError):
        key = b""
    if not 24 <= len(key) <= 64:
        raise NotAccepted(
            "The secret that signs is none: expected whsec_ and 24 to 64 bytes in base64. "
            "Whoever runs the service can set it anew: cardwright channels set webhook HOST"
        )
    return key


def new_secret() -> str:
    """A new secret, as both ends have to know it."""
    return MARK + base64.b64encode(secrets.token_bytes(SECRET_BYTES)).decode()
