"""`cardwright channels`: how reminders leave this machine; secrets go in, and are never shown."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, get_args

import click

from tracker.channels import (
    NAMED,
    PORTS,
    Channels,
    Encryption,
    change_channels,
    host_entry,
    read_channels,
)
from tracker.cli.working import data_option, json_option
from tracker.config import BadSettings, Setting, settings
from tracker.domain.errors import CardwrightError
from tracker.reminders.delivery.by_name import opened, scheme_of
from tracker.reminders.delivery.made import channels_from
from tracker.reminders.delivery.outside import target_of
from tracker.reminders.delivery.webhook import key_of, new_secret
from tracker.reminders.letters import Letter, NotAccepted
from tracker.services.service import new_id

SECRET = {("mail", "password")}
"""Settings of which is only shown that they are set. Webhooks and addresses are secrets all."""
KINDS = ("mail", "webhook", "apprise")
SECTION_OF = {
    "mail": "mail",
    "webhook": "webhooks",
    "apprise": "addresses",
    "sign-of-life": "sign_of_life",
    "page": "page",
}


class NotSent(CardwrightError):
    """A test was not accepted; it says why."""


@click.group()
def channels() -> None:
    """How reminders go out: mail, webhooks, phones and chats; and a sign of life."""


@channels.group("set")
def set_() -> None:
    """Set a channel up, or change it."""


@set_.command()
@click.option("--host", help="The mail server's name.")
@click.option("--port", type=click.IntRange(1, 65_535), help=f"Its port; usual are {PORTS}.")
@click.option("--encryption", type=click.Choice(get_args(Encryption)), help="starttls is usual.")
@click.option("--sender", help="The address that reminders come from.")
@click.option("--user", help="If the server wants one; the password is then asked for.")
@click.option("--password", help="Better left out: what is typed here, others may see.")
@data_option
@json_option
def mail(
    host: str | None,
    port: int | None,
    encryption: str | None,
    sender: str | None,
    user: str | None,
    password: str | None,
    data: Path | None,
    as_json: bool,
) -> int:
    """Set up the server that takes mail. What is not given stays as it is."""
    if user is not None and password is None:
        password = click.prompt("Password", hide_input=True)
    said = {
        "host": host, "port": None if port is None else str(port), "encryption": encryption,
        "sender": sender, "user": user, "password": password,
    }  # fmt: skip
    given = {key: value for key, value in said.items() if value is not None}
    if not given:
        raise click.UsageError("say what is to be set, as --host and --sender")
    change_channels(_folder(data), "mail", given)
    return _done({"set": "mail"}, "Mail is set up. Try it: cardwright channels test mail", as_json)


@set_.command()
@click.argument("host")
@click.option("--secret", help="The secret that signs, if there is one already.")
@data_option
@json_option
def webhook(host: str, secret: str | None, data: Path | None, as_json: bool) -> int:
    """Let letters go to programs on HOST, as hooks.example.org or 192.168.1.20:8080.

    A private address is only sent to if it is set itself, beside the name that leads there.
    """
    made = secret or new_secret()
    try:
        key_of(made)
    except NotAccepted as error:
        raise BadSettings(f"--secret: {error}") from None
    entry = host_entry(host)
    change_channels(_folder(data), "webhooks", {entry: made})
    told: dict[str, Any] = {"set": "webhook", "host": entry}
    words = f"{entry} may be sent to."
    if secret is None:
        told["secret"] = made
        words += f" Its secret, shown this once, by which the receiver knows us: {made}"
    return _done(told, words, as_json)


@set_.command()
@click.argument("name")
@click.argument("address", required=False)
@data_option
@json_option
def apprise(name: str, address: str | None, data: Path | None, as_json: bool) -> int:
    """Set the ADDRESS behind NAME, in the form of the apprise library.

    It is asked for if it is left out, which is better: what is typed here, others may see.
    """
    given = address or click.prompt("Address", hide_input=True)
    if not name.strip() or "://" in name:
        raise BadSettings("NAME: expected a name of your own, as 'crew phone', and no address.")
    if opened(given) is None:
        raise BadSettings(
            "ADDRESS: found none that the apprise library knows; expected one as service://..., as "
            "its documentation has them."
        )
    change_channels(_folder(data), "addresses", {name: given})
    told = {"set": "apprise", "name": name, "service": scheme_of(given)}
    return _done(told, f"{name} is set: {scheme_of(given)}.", as_json)


@set_.command("sign-of-life")
@click.argument("address")
@click.option("--post", is_flag=True, help="Ask by POST; without it by GET.")
@data_option
@json_option
def sign_of_life(address: str, post: bool, data: Path | None, as_json: bool) -> int:
    """Ask ADDRESS after each good tick of the clock, so that others notice when we are gone."""
    try:
        target = target_of(address)
    except NotAccepted as error:
        raise BadSettings(f"ADDRESS: {error}") from None
    values = {"address": address, "method": "POST" if post else "GET"}
    change_channels(_folder(data), "sign_of_life", values)
    told = {"set": "sign-of-life", "host": target.entry}
    return _done(told, f"A sign of life goes to {target.entry}.", as_json)


@set_.command()
@click.argument("address")
@data_option
@json_option
def page(address: str, data: Path | None, as_json: bool) -> int:
    """Say at which ADDRESS, as http://cart.local:8642/, people reach us; letters link to it."""
    change_channels(_folder(data), "page", {"address": address})
    return _done({"set": "page", "address": address}, f"Letters link to {address}.", as_json)


@channels.command()
@click.argument("what", type=click.Choice([*SECTION_OF]))
@click.argument("name", required=False)
@data_option
@json_option
def remove(what: str, name: str | None, data: Path | None, as_json: bool) -> int:
    """Take one out: mail, webhook HOST, apprise NAME, sign-of-life, page."""
    section = SECTION_OF[what]
    folder = _folder(data)
    if section in NAMED:
        change_channels(folder, section, dict.fromkeys(NAMED[section]))
        return _done({"removed": what}, f"{what} is taken out.", as_json)
    if name is None:
        raise click.UsageError(f"say which {what}")
    key = host_entry(name) if what == "webhook" else name
    if key not in read_channels(folder).given.get(section, {}):
        raise BadSettings(f"There is no {what} {key} here.")
    change_channels(folder, section, {key: None})
    return _done({"removed": what, "name": key}, f"{what} {key} is taken out.", as_json)


@channels.command()
@data_option
@json_option
def show(data: Path | None, as_json: bool) -> int:
    """Show what is set up and where each value came from; of secrets, only that they are set."""
    rows = _rows(read_channels(_folder(data)))
    if as_json:
        click.echo(json.dumps({"settings": rows}, ensure_ascii=False, indent=1))
        return 0
    for row in rows:
        click.echo(f"{row['channel']}, {row['name']}: {row['value']} (from {row['from']})")
    if not rows:
        click.echo("Nothing is set up: reminders stand on the page alone.")
    return 0


def _rows(set_up: Channels) -> list[dict[str, str]]:
    channel_of = {section: what for what, section in SECTION_OF.items()}
    return [
        {
            "channel": channel_of[section],
            "name": key,
            "value": _shown(section, key, one),
            "from": one.origin,
        }
        for section, values in set_up.given.items()
        for key, one in values.items()
    ]


def _shown(section: str, key: str, one: Setting) -> str:
    """What may be seen of a value."""
    if section == "addresses":
        return f"set, {scheme_of(one.value)}"
    if (section, key) == ("sign_of_life", "address"):
        try:
            return f"set, {target_of(one.value).entry}"
        except NotAccepted:
            return "set, and no address"
    return "set" if section == "webhooks" or (section, key) in SECRET else one.value


@channels.command()
@click.argument("kind", type=click.Choice(KINDS))
@click.argument("to")
@data_option
@json_option
def test(kind: str, to: str, data: Path | None, as_json: bool) -> int:
    """Send a test letter by KIND (mail, webhook, apprise) to TO."""
    channel = channels_from(read_channels(_folder(data)))[kind]
    words = "This is a test of Cardwright. Nothing has to be done."
    reason = None
    try:
        channel.send(Letter(new_id(), to, "A test of Cardwright", words))
    except NotAccepted as error:
        reason = error.reason
    if as_json:
        click.echo(json.dumps({"accepted": reason is None, "reason": reason}, ensure_ascii=False))
    if reason is not None:
        raise NotSent(f"Not accepted: {reason}")
    if not as_json:
        click.echo("Accepted. Whether it arrived, only who receives it can tell.")
    return 0


def _folder(data: Path | None) -> Path:
    found = settings(data)
    if not found.folder.is_dir():
        raise BadSettings(f"There is no folder {found.folder} ({found.data.origin}).")
    return found.folder


def _done(told: dict[str, Any], words: str, as_json: bool) -> int:
    click.echo(json.dumps(told, ensure_ascii=False) if as_json else words)
    return 0
