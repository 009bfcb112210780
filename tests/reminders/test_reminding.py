"""The clocks on a production: what is decided goes out by itself, by a real mail server."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from email import message_from_bytes
from pathlib import Path
from socket import socket
from threading import Event

import pytest

from tests.reminders import servers
from tests.reminders.post import Post
from tests.reminders.servers import HERE, mail_server, receiver, talking
from tracker.bootstrap import reminding
from tracker.channels import change_channels
from tracker.config import BadSettings, Setting, Settings
from tracker.reminders.notices import heartbeat
from tracker.web.app import create_app


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(Setting(str(tmp_path), "--data"))


def mailing(settings: Settings, port: int) -> None:
    said = {"host": HERE, "port": str(port), "encryption": "none", "sender": "cards@pier.example"}
    change_channels(settings.folder, "mail", said)


def until(true: Callable[[], object]) -> None:
    """Wait for what another thread does."""
    for _ in range(1_500):
        if true():
            return
        Event().wait(0.02)
    pytest.fail("it never comes")


def test_danger_goes_out_by_itself_and_once(told: Post, settings: Settings) -> None:
    told.shot()
    told.missing()
    here = servers.Post()
    with mail_server(here) as port:
        mailing(settings, port)
        change_channels(settings.folder, "page", {"address": "http://cart.example:8642/"})
        with reminding(told.service, settings):
            until(lambda: told.states().count("sent") == 3)
        with reminding(told.service, settings):
            until(lambda: heartbeat(told.service).alive)
    mails = [
        message_from_bytes(one.content) for one in here.taken if isinstance(one.content, bytes)
    ]
    assert sorted(mail["To"] for mail in mails) == [
        f"{name}@harbour.example" for name in ("kim", "lee", "noor")
    ]
    assert all("http://cart.example:8642/" in str(mail.get_payload()) for mail in mails)


def test_a_mail_server_that_hangs_holds_up_no_tick(told: Post, settings: Settings) -> None:
    told.shot()
    told.missing()
    let_go = Event()

    def hanging(caller: socket) -> None:
        let_go.wait()
        caller.close()

    with talking(hanging) as port:
        mailing(settings, port)
        with reminding(told.service, settings) as clock:
            until(lambda: "leased" in told.states())
            before = heartbeat(told.service).last
            told.clock.wait(1)
            clock.soon()
            until(lambda: heartbeat(told.service).last != before)
            assert "leased" in told.states()
            let_go.set()


def test_a_sign_of_life_is_given_after_each_good_tick(told: Post, settings: Settings) -> None:
    with receiver() as here:
        address = f"http://{HERE}:{here.port}/alive"
        change_channels(settings.folder, "sign_of_life", {"address": address})
        with reminding(told.service, settings) as clock:
            until(lambda: here.received)
            clock.soon()
            until(lambda: len(here.received) == 2)
    assert {(one.method, one.path) for one in here.received} == {("GET", "/alive")}


def test_where_no_sign_of_life_can_be_given_the_clock_goes_on(
    told: Post, settings: Settings, caplog: pytest.LogCaptureFixture
) -> None:
    with talking(lambda _: None) as port:
        pass
    address = f"http://{HERE}:{port}/gull-4711"
    change_channels(settings.folder, "sign_of_life", {"address": address})
    with reminding(told.service, settings):
        until(lambda: "No sign of life could be given" in caplog.text)
        until(lambda: heartbeat(told.service).alive)
    assert "gull-4711" not in caplog.text


def test_a_file_that_others_can_read_starts_no_clock(told: Post, settings: Settings) -> None:
    mailing(settings, 25)
    (settings.folder / "channels.toml").chmod(0o644)
    with (
        pytest.raises(BadSettings, match="can be read by others"),
        reminding(told.service, settings),
    ):
        pass


def test_health_fails_after_three_missed_ticks(told: Post) -> None:
    client = create_app(told.service, lambda _: None).test_client()
    told.tick()
    for minutes, status in ((2, 200), (2, 503)):
        told.clock.wait(minutes)
        answer = client.get("/healthz")
        assert (answer.status_code, json.loads(answer.text)) == (status, {"ok": status == 200})
    told.tick()
    assert client.get("/healthz").status_code == 200
    told.clock.now -= timedelta(hours=1)
    assert client.get("/healthz").status_code == 503
