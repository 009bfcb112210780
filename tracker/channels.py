"""What the channels need to send, and where each value came from.

An environment variable goes before `channels.toml` in the data folder. Secrets stand in that file,
so it is for its owner alone (mode 0600), and is refused when others can read it. On Windows, where
a mode says nothing of that, the folder's own rights must do.
"""

from __future__ import annotations

import ipaddress
import json
import os
import stat
import tempfile
import tomllib
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from email.errors import MessageError
from email.headerregistry import Address
from pathlib import Path
from typing import Literal, cast, get_args
from urllib.parse import urlsplit

from tracker.config import BadSettings, Setting

FILE = "channels.toml"
Encryption = Literal["starttls", "tls", "none"]
Method = Literal["GET", "POST"]
PORTS: Mapping[str, int] = {"starttls": 587, "tls": 465, "none": 25}
"""The usual ports of mail. Source: RFC 6409 and RFC 8314 for submission, RFC 5321 for relay."""
TIMEOUT_S = 20.0

NAMED = {
    "mail": ("host", "port", "encryption", "sender", "user", "password"),
    "sign_of_life": ("address", "method"),
    "page": ("address",),
}
"""The sections whose keys are known. In the others each key is a name of somebody's own."""
SECTIONS = ("mail", "webhooks", "addresses", "sign_of_life", "page")

Given = dict[str, dict[str, Setting]]
"""What was given: by section, then by key."""


@dataclass(frozen=True, slots=True)
class MailServer:
    """A server that takes mail, and as whom. sender: the address that mail comes from."""

    host: str
    port: int
    encryption: Encryption
    sender: str
    user: str | None = None
    password: str | None = field(default=None, repr=False)
    timeout_s: float = TIMEOUT_S


@dataclass(frozen=True, slots=True)
class SignOfLife:
    """An address outside that is asked after each good tick. Whoever knows it can ask it too."""

    address: str = field(repr=False)
    method: Method = "GET"


@dataclass(frozen=True, slots=True)
class Channels:
    """What is set up.

    mail: None if it is not. webhooks: the hosts that may be sent to, each with the secret that
    signs. addresses: by their names, addresses in the form of the apprise library. page:
    where people reach our pages, for links in letters. given: each value with where it came from.
    """

    mail: MailServer | None = None
    webhooks: Mapping[str, str] = field(default_factory=dict, repr=False)
    addresses: Mapping[str, str] = field(default_factory=dict, repr=False)
    sign_of_life: SignOfLife | None = None
    page: str | None = None
    given: Given = field(default_factory=dict, repr=False, compare=False)


def read_channels(folder: Path, environ: Mapping[str, str] | None = None) -> Channels:
    """What is set up for a data folder. Errors: BadSettings."""
    given = _from_file(folder / FILE)
    return _made(_with_environment(given, os.environ if environ is None else environ))


def change_channels(folder: Path, section: str, values: Mapping[str, str | None]) -> None:
    """Set values in the file, or take out those that are None; it is looked at before it is kept.

    Errors: BadSettings, and nothing is changed.
    """
    given = _from_file(folder / FILE)
    kept = given.setdefault(section, {})
    for key, value in values.items():
        kept.pop(key, None)
        if value is not None:
            kept[key] = Setting(value, str(folder / FILE))
    _made(_with_environment(given, os.environ))
    _write(folder / FILE, given)


def _with_environment(given: Given, env: Mapping[str, str]) -> Given:
    found = {section: dict(values) for section, values in given.items()}
    for section, keys in NAMED.items():
        for key in keys:
            if value := env.get(name := variable(section, key)):
                found.setdefault(section, {})[key] = Setting(value, name)
    return found


def variable(section: str, key: str) -> str:
    """The environment variable of a setting."""
    if section == "sign_of_life" and key == "address":
        return "CARDWRIGHT_SIGN_OF_LIFE"
    return f"CARDWRIGHT_{section}_{key}".upper()


def host_entry(text: str) -> str:
    """A host, with a port if one is given, as it stands in the list. Errors: BadSettings."""
    try:
        found = urlsplit(f"//{text}")
        host, port = found.hostname, found.port
    except ValueError:
        host = port = None
    if not host or found.path or found.query or found.fragment or "@" in text or " " in text:
        raise BadSettings(
            f"webhook: found {text!r}, expected a host alone, as hooks.example.org or "
            "192.168.1.20:8080."
        )
    return entry_of(host, port)


def entry_of(host: str, port: int | None) -> str:
    """A host and a port as they stand in the list; an IPv6 address in brackets."""
    name = host.lower().rstrip(".")
    with suppress(ValueError):
        ip = ipaddress.ip_address(name)
        name = f"[{ip}]" if ip.version == 6 else str(ip)
    return name if port is None else f"{name}:{port}"


def _from_file(file: Path) -> Given:
    try:
        with file.open("rb") as opened:
            _for_its_owner(file, os.fstat(opened.fileno()).st_mode)
            read = tomllib.load(opened)
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadSettings(f"{file} cannot be read: {error}") from None
    return {section: _section(file, section, values) for section, values in read.items()}


def _for_its_owner(file: Path, mode: int) -> None:
    if os.name != "nt" and mode & (stat.S_IRWXG | stat.S_IRWXO):
        raise BadSettings(
            f"{file} can be read by others (mode {stat.S_IMODE(mode):04o}), and secrets stand in "
            f"it. Keep it to yourself: chmod 600 '{file}'. If others may have read it, change the "
            "secrets too."
        )


def _section(file: Path, section: str, values: object) -> dict[str, Setting]:
    if section not in SECTIONS or not isinstance(values, dict):
        raise BadSettings(f"{file}: unknown {section}; known is {', '.join(SECTIONS)}.")
    for key, value in values.items():
        if section in NAMED and key not in NAMED[section]:
            known = ", ".join(NAMED[section])
            raise BadSettings(f"{file}, {section}: unknown {key}; known is {known}.")
        if not isinstance(value, str | int) or isinstance(value, bool):
            # What was found may be half a secret: it is not repeated.
            raise BadSettings(f"{file}, {section}.{key}: expected a text in quotes.")
    return {key: Setting(str(value), str(file)) for key, value in values.items()}


def _made(given: Given) -> Channels:
    """What was given, understood. Errors: BadSettings."""
    life = given.get("sign_of_life", {})
    method = life.get("method", Setting("GET", "")).value
    if method not in get_args(Method):
        raise BadSettings(f"sign_of_life, method: found {method!r}, expected GET or POST.")
    address = life.get("address")
    return Channels(
        mail=_mail(given.get("mail", {})),
        webhooks={
            host_entry(host): secret.value for host, secret in given.get("webhooks", {}).items()
        },
        addresses={name: one.value for name, one in given.get("addresses", {}).items()},
        sign_of_life=SignOfLife(address.value, cast(Method, method)) if address else None,
        page=_page(given.get("page", {}).get("address")),
        given=given,
    )


def _page(address: Setting | None) -> str | None:
    if address is None:
        return None
    found = urlsplit(address.value)
    if found.scheme not in ("http", "https") or not found.netloc or not address.value.isprintable():
        raise BadSettings(
            f"page, address: found {address.value!r}, expected one as http://cart.local:8642/."
        )
    return address.value


def _mail(given: Mapping[str, Setting]) -> MailServer | None:
    if not given:
        return None
    value = {key: one.value for key, one in given.items()}
    for key in ("host", "sender"):
        if not value.get(key):
            raise BadSettings(f"mail: {key} is missing. Say it: cardwright channels set mail.")
    encryption = value.get("encryption", "starttls")
    if encryption not in get_args(Encryption):
        known = ", ".join(get_args(Encryption))
        raise BadSettings(f"mail, encryption: found {encryption!r}, expected {known}.")
    port = value.get("port", str(PORTS[encryption]))
    if not port.isdecimal() or not 0 < int(port) < 65_536:
        raise BadSettings(f"mail, port: found {port!r}, expected a number from 1 to 65535.")
    if ("user" in value) != ("password" in value):
        raise BadSettings("mail: a user needs a password, and a password a user.")
    if encryption == "none" and "password" in value and not _is_here(value["host"]):
        raise BadSettings(
            "mail: without encryption anybody on the network could read the password. Use "
            "starttls or tls."
        )
    if not is_mail_address(value["sender"]):
        raise BadSettings(f"mail, sender: found {value['sender']!r}, expected a mail address.")
    return MailServer(
        value["host"], int(port), cast(Encryption, encryption), value["sender"],
        value.get("user"), value.get("password"),
    )  # fmt: skip


def _is_here(host: str) -> bool:
    """Whether a host is this machine itself."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def is_mail_address(text: str) -> bool:
    """Whether a text is one address, and nothing beside it that could get into a header."""
    try:
        found = Address(addr_spec=text)
    except (ValueError, IndexError, MessageError):
        return False
    return bool(found.username and found.domain) and text.isprintable() and " " not in text


def _write(file: Path, given: Given) -> None:
    """Write the file anew, for its owner alone, and in one piece."""
    lines = ["# Written by `cardwright channels`. Secrets stand here: keep it to yourself."]
    for section in SECTIONS:
        if values := given.get(section):
            lines += ["", f"[{section}]"]
            lines += [f"{_quoted(key)} = {_quoted(one.value)}" for key, one in values.items()]
    # Made with mode 0600 from the start: there is no moment in which others could open it.
    number, name = tempfile.mkstemp(prefix=f".{FILE}.", dir=file.parent)
    try:
        with os.fdopen(number, "w", encoding="utf-8") as kept:
            kept.write("\n".join(lines) + "\n")
            kept.flush()
            os.fsync(kept.fileno())
        Path(name).replace(file)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _quoted(text: str) -> str:
    """A text as TOML has it in quotes: as JSON does, but that DEL is escaped too."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
