"""When an act makes sense for a card, as the facts stand."""

from __future__ import annotations

from tracker.services.card_lines import CardPage


def in_camera(card: CardPage) -> bool:
    """Whether it is in a camera, as far as the facts say."""
    return card.state.opened is not None


def at_hand(card: CardPage) -> bool:
    """Whether it can go into a camera: it is out, or probably out, and in the pool."""
    gone = card.status in ("missing", "retired", "set aside")
    return not gone and (not in_camera(card) or card.probably_out)


def in_pool(card: CardPage) -> bool:
    """Whether it has not left for good."""
    return card.status != "retired"


def owing(card: CardPage) -> bool:
    """Whether a roll on it that is out of the camera must be backed up."""
    return any(line.owes and not line.open for line in card.rolls)


def bare(card: CardPage) -> bool:
    """Whether a roll of it that is closed is not backed up, on the card or not."""
    return any(not line.open and not line.covered for line in (*card.rolls, *card.earlier))


def rolls(card: CardPage) -> bool:
    """Whether it ever held a roll."""
    return bool(card.rolls or card.earlier)


def closed(card: CardPage) -> bool:
    """Whether it ever held a roll that is out of the camera."""
    return any(not line.open for line in (*card.rolls, *card.earlier))


def copies(card: CardPage) -> bool:
    """Whether any copy of it is known."""
    return any(line.copies for line in (*card.rolls, *card.earlier))


def clearable(card: CardPage) -> bool:
    """Whether it only waits for a data manager to clear it."""
    return card.status == "backed up" and not card.reasons and not card.stops


def against(card: CardPage) -> bool:
    """Whether only the backup rule stands in the way, so that people may decide against it."""
    wanting = [reason for reason in card.reasons if reason.roll is not None]
    way = len(wanting) == len(card.reasons) and not in_camera(card)
    return bool(wanting) and way and card.status not in ("cleared", "retired", "missing")


def guessed(card: CardPage) -> bool:
    """Whether the name of a roll on it was guessed."""
    return any(line.roll.guessed for line in card.rolls)
