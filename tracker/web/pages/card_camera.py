"""What the camera crew says of a card: into a camera, out of it, formatted there, roll names."""

from __future__ import annotations

from typing import Any

from tracker.services import acts_camera, rolls_meant
from tracker.services.logging import Logged
from tracker.services.service import Service, Who
from tracker.web.pages import card_asks as asks
from tracker.web.pages import card_sense as sense
from tracker.web.pages.card_act import (
    ANY_ROLL,
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


def _rename(service: Service, who: Who, card: str, *, at: Any, tap: str, **said: Any) -> Logged:
    return rolls_meant.rename(service, who, card, said["roll_id"], said["new_name"], tap=tap)


IN_THE_CAMERA = (
    Act(
        "load",
        "load",
        "It went into a camera",
        "Log it as loaded",
        acts_camera.load,
        (Field("camera", "Camera", "free camera", needed=True), FORMATTED, NAME, SLOT, LOADED_AS),
        sense.at_hand,
        asks.load,
        tries=True,
        cautions=(CAMERA_ONLY,),
    ),
    Act(
        "swap",
        "swap",
        "It went into a camera, and another card came out",
        "Log the swap",
        acts_camera.swap,
        (
            Field("out", "Which card came out?", "comes out", needed=True),
            FORMATTED,
            NAME,
            SLOT,
            LOADED_AS,
        ),
        lambda card: sense.at_hand(card) and any(line.inside for line in card.cameras),
        asks.load,
        tries=True,
        cautions=("The card that comes out is unmounted before it is pulled.", CAMERA_ONLY),
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
        tries=True,
        cautions=(UNMOUNT, TAPE),
    ),
    Act(
        "rename-roll",
        "rename_roll",
        "A roll has another name",
        "Log the name",
        _rename,
        (ANY_ROLL, Field("new_name", "Its name, as the camera has it", needed=True)),
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
    asks.wipe,
    tries=True,
    cautions=(CAMERA_ONLY,),
)
