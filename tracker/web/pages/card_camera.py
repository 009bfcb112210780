"""What the camera crew says of a card: into a camera, out of it, formatted there, roll names."""

from __future__ import annotations

from typing import Any

from tracker.services import acts_camera
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.web.pages import card_sense as sense
from tracker.web.pages.card_act import (
    CAMERA_ONLY,
    FILE_SYSTEM,
    FORMATTED,
    LOADED_AS,
    NAME,
    ROLL,
    SLOT,
    TAPE,
    UNMOUNT,
    YES_NO,
    Act,
)
from tracker.web.pages.card_form import Field


def _pull(service: Service, who: Who, card: str, *, size: int | None, **said: Any) -> Logged:
    return acts_camera.pull(service, who, card, bytes_=size, **said)


IN_THE_CAMERA = (
    Act(
        "load",
        "load",
        "It went into a camera",
        "Log it as loaded",
        acts_camera.load,
        (Field("camera", "Camera", "free camera", needed=True), FORMATTED, NAME, SLOT, LOADED_AS),
        sense.at_hand,
        sense.wiping_loses,
        "Formatting it in the camera, or shooting on it, can lose that footage.",
        (CAMERA_ONLY,),
    ),
    Act(
        "swap",
        "swap",
        "It went into a camera, and another card came out",
        "Log the swap",
        acts_camera.swap,
        (Field("camera", "Camera", "full camera", needed=True), FORMATTED, NAME, SLOT, LOADED_AS),
        lambda card: sense.at_hand(card) and any(line.inside for line in card.cameras),
        sense.wiping_loses,
        "Formatting it in the camera, or shooting on it, can lose that footage.",
        ("The card that comes out is unmounted before it is pulled.", CAMERA_ONLY),
    ),
    Act(
        "pull",
        "pull",
        "It came out of the camera",
        "Log it as pulled",
        _pull,
        (
            Field(
                "unmounted",
                "Unmounted in the camera before pulling?",
                "pick",
                choices=(*YES_NO, ("", "not said")),
            ),
            Field(
                "size",
                "Size, as the camera shows it",
                "size",
                help="With its unit, such as 480 GB. Leave it out if nobody knows.",
            ),
            Field("clips", "Clips, as the camera shows them", "whole"),
        ),
        sense.in_camera,
        cautions=(UNMOUNT, TAPE),
    ),
    Act(
        "rename-roll",
        "rename_roll",
        "A roll has another name",
        "Log the name",
        acts_camera.rename_roll,
        (ROLL, Field("new_name", "Its name, as the camera has it", needed=True)),
        sense.rolls,
        timed=False,
    ),
    Act(
        "confirm-name",
        "confirm_name",
        "The name of a roll is right",
        "Confirm the name",
        acts_camera.confirm_name,
        (ROLL,),
        sense.guessed,
        timed=False,
    ),
)

FORMAT = Act(
    "format",
    "format_in_camera",
    "It was formatted in the camera",
    "Log it as formatted",
    acts_camera.format_in_camera,
    (Field("camera", "Camera", "free camera"), FILE_SYSTEM),
    sense.in_pool,
    sense.wiping_loses,
    "Formatting loses that footage. If it has not happened yet: do not format. If it has: "
    "stop, write nothing more to the card, and tell the people who decide.",
    (CAMERA_ONLY,),
)
