"""A service on a disk that fills up and on one that may not be written, and what came of it.

    unshare --mount python -m tests.durability.small_disk FOLDER

It mounts a small tmpfs over FOLDER, which nobody else sees, and prints what happened as JSON.
"""

from __future__ import annotations

import json
import logging
import os
import subprocess
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient
from sqlalchemy import select

from tests.durability.conftest import Place, begin_at
from tests.durability.crew import CARDS
from tracker.bootstrap import opened, web_app
from tracker.domain.errors import CardwrightError
from tracker.services.auditing import audit
from tracker.services.service import Service, new_id
from tracker.store import tables as t

DISK = "8m"
LEFT_BYTES = 1_500_000
ENOUGH = 400


def fact(text: str) -> dict[str, Any]:
    """A remark of some length."""
    at = datetime.now(UTC).isoformat()
    return {
        "id": new_id(), "event": "noted", "card": CARDS[0], "occurred_at": at, "text": text * 1000,
    }  # fmt: skip


@dataclass
class Desk:
    """Somebody who logs, and remembers what was acknowledged and what was not."""

    client: FlaskClient
    token: str

    def __post_init__(self) -> None:
        self.acknowledged: list[str] = []
        self.refused: list[dict[str, Any]] = []
        self.answers: list[tuple[int, str]] = []

    def log(self, said: dict[str, Any]) -> int:
        """The status of the answer."""
        answer = self.client.post(
            "/api/v1/facts", json=said, headers={"Authorization": f"Bearer {self.token}"}
        )
        if answer.status_code in (200, 201):
            self.acknowledged.append(said["id"])
        else:
            self.refused.append(said)
            self.answers.append((answer.status_code, answer.get_data(as_text=True)))
        return answer.status_code

    def looks(self) -> int:
        """The status of a question."""
        answer = self.client.get("/api/v1/now", headers={"Authorization": f"Bearer {self.token}"})
        return answer.status_code


def kept(service: Service) -> set[str]:
    """Every fact id in the journal."""
    with service.store.reading() as conn:
        return set(conn.scalars(select(t.Entry.fact_id)))


def full(folder: Path, place: Place) -> dict[str, Any]:
    """Log until the disk is full, start anew while it is, make room, and go on."""
    ballast = folder / "footage"
    with opened(place.settings) as service:
        desk = Desk(web_app(service).test_client(), place.token)
        room = os.statvfs(folder)
        ballast.write_bytes(b"\0" * (room.f_bavail * room.f_frsize - LEFT_BYTES))
        while desk.log(fact("a")) == 201 and len(desk.acknowledged) < ENOUGH:
            pass
        while_full = {
            "again": desk.log(fact("b")),
            "looks": desk.looks(),
            "missing": len(set(desk.acknowledged) - kept(service)),
        }
    try:
        with opened(place.settings) as service:
            started = f"{len(kept(service))} facts"
    except CardwrightError as error:
        started = str(error)
    ballast.unlink()
    with opened(place.settings) as service:
        again = Desk(web_app(service).test_client(), place.token)
        after = [again.log(said) for said in desk.refused]
        return {
            "acknowledged": len(desk.acknowledged),
            "answers": desk.answers,
            "while_full": while_full,
            "started": started,
            "missing": len(set(desk.acknowledged + again.acknowledged) - kept(service)),
            "after": after,
            "sound": audit(service).sound,
        }


def read_only(folder: Path, place: Place) -> dict[str, Any]:
    """Log, have the disk turned read-only underneath, look, start anew, have it turned back."""

    def turn(how: str) -> None:
        subprocess.run(["mount", "-o", f"remount,{how}", str(folder)], check=True)

    with opened(place.settings) as service:
        desk = Desk(web_app(service).test_client(), place.token)
        before = desk.log(fact("a"))
        # A disk can be turned only while nothing on it is open for writing.
        service.store.close()
        turn("ro")
        refused, looks = desk.log(fact("b")), desk.looks()
        service.store.close()
    try:
        with opened(place.settings):
            started = "it started"
    except CardwrightError as error:
        started = str(error)
    turn("rw")
    with opened(place.settings) as service:
        again = Desk(web_app(service).test_client(), place.token)
        return {
            "before": before,
            "refused": refused,
            "looks": looks,
            "answers": desk.answers,
            "started": started,
            "after": [again.log(said) for said in desk.refused],
            "missing": len(set(desk.acknowledged) - kept(service)),
            "sound": audit(service).sound,
        }


def main(folder: Path) -> None:
    """Mount, try, and tell."""
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={DISK}", "tmpfs", str(folder)], check=True)
    logging.disable(logging.CRITICAL)
    place = begin_at(folder / "data", None)
    print(json.dumps({"read_only": read_only(folder, place), "full": full(folder, place)}))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
