"""All channels, made from what is set up. A channel that is not set up says so."""

from __future__ import annotations

from tracker.channels import Channels
from tracker.reminders.delivery.by_name import Apprise
from tracker.reminders.delivery.mail import Mail
from tracker.reminders.delivery.outside import ask, target_of
from tracker.reminders.delivery.page import Page
from tracker.reminders.delivery.webhook import Webhook
from tracker.reminders.letters import Channel, Letter, NotAccepted


class NotSetUp:
    """Stands where a channel is not set up: no letter is taken, and none is lost."""

    def __init__(self, kind: str) -> None:
        self.kind = kind

    def send(self, letter: Letter) -> None:
        """Errors: NotAccepted, always; the letter is kept and tried again."""
        raise NotAccepted(
            f"There is no {self.kind} set up. Whoever runs the service can do it: "
            f"cardwright channels set {self.kind}"
        )


def channels_from(settings: Channels) -> dict[str, Channel]:
    """A channel of each kind."""
    mail = Mail(settings.mail) if settings.mail else NotSetUp("mail")
    made: tuple[Channel, ...] = (
        mail,
        Webhook(settings.webhooks),
        Apprise(settings.addresses),
        Page(),
    )
    return {channel.kind: channel for channel in made}


def give_sign_of_life(settings: Channels) -> None:
    """Tell the address outside that we are there, if there is one. Errors: NotAccepted."""
    life = settings.sign_of_life
    if life is None:
        return
    target = target_of(life.address)
    status = ask(target, {target.entry}, method=life.method, headers={"User-Agent": "Cardwright"})
    if not 200 <= status < 300:
        raise NotAccepted(f"{target.entry} answered with status {status}.")
