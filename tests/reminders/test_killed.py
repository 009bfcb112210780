"""Killed between a mail server's yes and our own note of it: the letter comes twice at most."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from datetime import timedelta
from email import message_from_bytes
from pathlib import Path
from typing import Any

import pytest

from tests.reminders import servers
from tests.reminders.post import post
from tests.reminders.servers import HERE, mail_server
from tracker.bootstrap import opened
from tracker.channels import change_channels, read_channels
from tracker.config import Setting, Settings
from tracker.reminders.delivery.made import channels_from
from tracker.reminders.outbox import LEASE, deliver
from tracker.services.service import Service, utc_now
from tracker.store import migrate
from tracker.store.engine import open_store

ROOT = Path(__file__).parents[2]
PATIENCE_S = 60


class Killing(servers.Post):
    """Takes a mail, and kills whoever sent it before they can hear so."""

    sender: subprocess.Popen[str] | None = None

    async def handle_DATA(self, *given: Any) -> str:
        answer = await super().handle_DATA(*given)
        if self.sender is not None:
            self.sender.send_signal(signal.SIGKILL)
        return answer


@pytest.fixture
def settings(tmp_path: Path) -> Iterator[Settings]:
    """The folder of a production: S-014 is missing with footage, and Kim is told by mail."""
    store = open_store(tmp_path / "cardwright.db")
    migrate.upgrade(store)
    told = post(store, "Kim")
    told.shot()
    told.missing()
    store.close()
    yield Settings(Setting(str(tmp_path), "--data"))


def begin(settings: Settings) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "tracker", "clock", "--data", str(settings.folder)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def hand_on(service: Service, settings: Settings) -> int:
    """A round of the outbox; how many it sent."""
    return deliver(service, channels=channels_from(read_channels(settings.folder))).sent


@pytest.mark.skipif(os.name == "nt", reason="there is no such signal to send")
def test_killed_after_the_server_said_yes_it_goes_once_more_and_never_again(
    settings: Settings,
) -> None:
    here = Killing()
    with mail_server(here) as port:
        said = {"host": HERE, "port": str(port), "encryption": "none", "sender": "a@pier.example"}
        change_channels(settings.folder, "mail", said)
        here.sender = begin(settings)
        _, err = here.sender.communicate(timeout=PATIENCE_S)
        assert (here.sender.returncode, err, len(here.taken)) == (-signal.SIGKILL, "", 1)
        here.sender = None
        with opened(settings) as service:
            # Until the lease is over another worker leaves it to whoever took it.
            hand_on(service, settings)
            assert len(here.taken) == 1
            service.clock = lambda: utc_now() + LEASE + timedelta(seconds=1)
            assert hand_on(service, settings) == 1
            assert hand_on(service, settings) == 0
    mails = [
        message_from_bytes(one.content) for one in here.taken if isinstance(one.content, bytes)
    ]
    assert len(mails) == 2
    assert len({mail["Message-ID"] for mail in mails}) == 1
    assert {mail["To"] for mail in mails} == {"kim@harbour.example"}
