"""The command `cardwright`, and what its exit codes mean.

0 fine, 1 danger found, 2 the command was used wrongly, 3 it cannot run.
"""

from __future__ import annotations

import sys

import click

from tracker.cli import lists, people
from tracker.cli.backup import backup, restore, restore_test
from tracker.cli.card import card
from tracker.cli.channels import channels
from tracker.cli.clock import clock
from tracker.cli.demo import demo
from tracker.cli.doctor import doctor
from tracker.cli.erase import erase
from tracker.cli.figures import figures
from tracker.cli.init import init
from tracker.cli.journal import audit, checkpoint, export
from tracker.cli.log import log
from tracker.cli.now import now
from tracker.cli.remind import remind
from tracker.cli.roll import drive, roll
from tracker.cli.serve import serve
from tracker.cli.upgrade import upgrade
from tracker.config import BadSettings
from tracker.domain.errors import CardwrightError

DANGER_FOUND = 1
USAGE = 2
CANNOT_RUN = 3


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="cardwright")
def commands() -> None:
    """What is on every card, where its copies are, and what each card needs next.

    Exit codes: 0 fine, 1 danger found, 2 used wrongly, 3 cannot run.
    """


for command in (
    init,
    lists.cards,
    lists.cameras,
    lists.drives,
    log,
    now,
    card,
    roll,
    drive,
    remind,
    channels,
    clock,
    people.set_up,
    people.token,
    audit,
    checkpoint,
    export,
    backup,
    restore,
    restore_test,
    upgrade,
    doctor,
    erase,
    serve,
    figures,
    demo,
):
    commands.add_command(command)


def main(args: list[str] | None = None) -> None:
    """Run a command and leave with its exit code; a person never sees a traceback."""
    try:
        code = commands.main(args, prog_name="cardwright", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        code = USAGE
    except click.Abort:
        click.echo("Stopped.", err=True)
        code = CANNOT_RUN
    except BadSettings as error:
        click.echo(f"Error: {error}", err=True)
        code = USAGE
    except CardwrightError as error:
        click.echo(str(error), err=True)
        code = CANNOT_RUN
    except OSError as error:
        click.echo(f"Cannot run: {error}", err=True)
        code = CANNOT_RUN
    sys.exit(code if isinstance(code, int) else 0)
