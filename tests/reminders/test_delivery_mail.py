"""Letters by mail, against real servers on this machine."""

from __future__ import annotations

import logging
import ssl
from collections.abc import Iterator
from dataclasses import replace
from email import message_from_bytes
from email.message import EmailMessage, Message
from email.policy import default
from pathlib import Path
from socket import socket
from threading import Event

import pytest
import trustme
from hypothesis import given
from hypothesis import strategies as st

from tests.reminders.servers import HERE, Post, dying_mail_server, mail_server, talking
from tracker.channels import MailServer
from tracker.reminders.delivery.mail import Mail, message_of
from tracker.reminders.letters import Letter, NotAccepted

LETTER = Letter(
    id="0191f0c8-2b1e-7cc0-8000-000000000001",
    to="kim@pier.example",
    title="2 things: S-014 was not copied",
    body="S-014 has been out of camera A for 3 h. Copy it: é.",
    url="http://cart.example/c/7K3Q",
    danger=True,
)


def mail_to(port: int, **other: object) -> Mail:
    server = MailServer(HERE, port, "none", "cards@pier.example", timeout_s=5)
    return Mail(replace(server, **other))  # type: ignore[arg-type]


def refused(mail: Mail, letter: Letter = LETTER) -> NotAccepted:
    with pytest.raises(NotAccepted) as told:
        mail.send(letter)
    return told.value


def read(raw: bytes) -> EmailMessage:
    message: Message = message_from_bytes(raw, policy=default)
    assert isinstance(message, EmailMessage)
    return message


@pytest.fixture(scope="module")
def authority() -> trustme.CA:
    return trustme.CA()


@pytest.fixture(scope="module")
def certified(authority: trustme.CA) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    authority.issue_cert(HERE).configure_cert(context)
    return context


@pytest.fixture
def trusted(
    authority: trustme.CA, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    file = tmp_path / "authority.pem"
    authority.cert_pem.write_to_path(str(file))
    monkeypatch.setenv("SSL_CERT_FILE", str(file))
    yield


def test_a_letter_arrives_as_plain_text_with_its_link_and_its_id() -> None:
    post = Post()
    with mail_server(post) as port:
        mail_to(port).send(LETTER)
    [envelope] = post.taken
    assert isinstance(envelope.content, bytes)
    message = read(envelope.content)
    assert (envelope.mail_from, envelope.rcpt_tos) == ("cards@pier.example", ["kim@pier.example"])
    assert message["Subject"] == LETTER.title
    assert message["Message-ID"] == f"<{LETTER.id}@pier.example>"
    assert message["Importance"] == "high"
    assert message["Auto-Submitted"] == "auto-generated"
    assert message.get_content_type() == "text/plain"
    assert message.get_content().splitlines() == [LETTER.body, "", LETTER.url]


@pytest.mark.parametrize(
    ("rcpt", "data", "permanent"),
    [
        ("450 mailbox busy", "250 OK", False),
        ("550 no such mailbox", "250 OK", True),
        ("250 OK", "451 try later", False),
        ("250 OK", "554 not wanted here", True),
    ],
)
def test_what_a_server_refuses_for_good_is_not_tried_again(
    rcpt: str, data: str, permanent: bool
) -> None:
    post = Post(rcpt, data)
    with mail_server(post) as port:
        told = refused(mail_to(port))
    assert (told.permanent, told.unsure) == (permanent, False)
    said = data if rcpt.startswith("250") else rcpt
    assert said in told.reason
    assert not post.taken


def test_a_server_that_dies_after_it_took_a_letter_has_taken_it() -> None:
    mails: list[bytes] = []
    with talking(dying_mail_server(mails, answer_first=True)) as port:
        mail_to(port).send(LETTER)
    assert len(mails) == 1


def test_a_server_that_dies_before_it_answered_is_asked_again_under_the_same_id() -> None:
    mails: list[bytes] = []
    with talking(dying_mail_server(mails, answer_first=False)) as port:
        for _ in range(2):
            told = refused(mail_to(port))
            assert (told.permanent, told.unsure) == (False, True)
            assert "broke off" in told.reason
    ids = {read(mail)["Message-ID"] for mail in mails}
    assert (len(mails), ids) == (2, {f"<{LETTER.id}@pier.example>"})


def test_a_server_that_says_nothing_is_given_up_and_tried_again() -> None:
    with talking(lambda _: None) as port:
        told = refused(mail_to(port, timeout_s=0.05))
    assert (told.permanent, told.unsure, told.reason) == (
        False,
        False,
        f"{HERE}: the mail server did not answer in time.",
    )


def test_a_server_that_answers_byte_by_byte_cannot_hold_us() -> None:
    done = Event()

    def dripping(caller: socket) -> None:
        while not done.wait(0.02):
            caller.sendall(b"2")

    with talking(dripping) as port:
        told = refused(mail_to(port, timeout_s=0.1))
        done.set()
    assert told.permanent is False


def test_nobody_listening_is_tried_again() -> None:
    with talking(lambda _: None) as port:
        pass
    told = refused(mail_to(port))
    assert (told.permanent, "cannot be reached" in told.reason) == (False, True)


@pytest.mark.usefixtures("trusted")
def test_a_letter_goes_over_starttls_with_user_and_password(certified: ssl.SSLContext) -> None:
    post = Post()
    with mail_server(post, starttls=certified) as port:
        mail_to(port, encryption="starttls", user="pier", password="gull-4711").send(LETTER)
    assert len(post.taken) == 1


@pytest.mark.usefixtures("trusted")
def test_a_letter_goes_over_tls_from_the_start(certified: ssl.SSLContext) -> None:
    post = Post()
    with mail_server(post, tls=certified) as port:
        mail_to(port, encryption="tls").send(LETTER)
    assert len(post.taken) == 1


@pytest.mark.usefixtures("trusted")
def test_a_wrong_password_is_tried_again_and_never_told(
    certified: ssl.SSLContext, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    with mail_server(Post(), starttls=certified) as port:
        mail = mail_to(port, encryption="starttls", user="pier", password="heron-0815")
        told = refused(mail)
    assert told.permanent is False
    assert "does not know this user and password (535)" in told.reason
    # What the server itself logs in this process is its own.
    ours = [one.getMessage() for one in caplog.records if not one.name.startswith("mail.")]
    assert "heron-0815" not in told.reason + repr(mail.__dict__) + "".join(ours)


@pytest.mark.usefixtures("trusted")
def test_a_password_that_mail_cannot_carry_is_told_as_that(certified: ssl.SSLContext) -> None:
    with mail_server(Post(), starttls=certified) as port:
        told = refused(mail_to(port, encryption="starttls", user="pier", password="möwe"))
    assert "letters that mail cannot carry" in told.reason
    assert "möwe" not in told.reason


def test_a_server_with_a_strange_certificate_gets_nothing(certified: ssl.SSLContext) -> None:
    post = Post()
    with mail_server(post, starttls=certified) as port:
        told = refused(mail_to(port, encryption="starttls"))
    assert (told.permanent, "no certificate to be trusted" in told.reason) == (False, True)
    assert not post.taken


def test_nothing_goes_readable_where_encryption_is_set() -> None:
    post = Post()
    with mail_server(post) as port:
        told = refused(mail_to(port, encryption="starttls"))
    assert (told.permanent, "STARTTLS" in told.reason) == (False, True)
    assert not post.taken


@given(title=st.text(max_size=200), body=st.text(max_size=200))
def test_no_title_and_no_text_makes_a_header(title: str, body: str) -> None:
    plain = message_of(replace(LETTER, title="T", body="B"), "cards@pier.example")
    try:
        message = message_of(replace(LETTER, title=title, body=body), "cards@pier.example")
    except NotAccepted as refusal:
        assert refusal.permanent
        return
    again = read(message.as_bytes())
    assert set(again.keys()) == {*plain.keys(), "Content-Transfer-Encoding"}
    assert again["To"] == LETTER.to


def test_a_title_of_several_lines_is_one() -> None:
    message = message_of(replace(LETTER, title="1 thing\r\nBcc: all@pier.example"), "a@b.example")
    assert (message["Subject"], message["Bcc"]) == ("1 thing Bcc: all@pier.example", None)


@pytest.mark.parametrize(
    "to",
    [
        "kim@pier.example\nBcc: all@pier.example",
        "kim@pier.example\r\nRCPT TO:<all@pier.example>",
        "kim@pier.example, all@pier.example",
        "Kim <kim@pier.example>",
        "kim",
        "kim@",
        "",
        "@pier.example",
    ],
)
def test_what_is_not_one_address_is_refused_for_good(to: str) -> None:
    with pytest.raises(NotAccepted) as told:
        message_of(replace(LETTER, to=to), "cards@pier.example")
    assert (told.value.permanent, "is no mail address" in told.value.reason) == (True, True)
