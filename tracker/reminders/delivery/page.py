"""Letters that need no sending: the page itself shows what was told."""

from __future__ import annotations

from tracker.reminders.letters import Letter


class Page:
    """Takes every letter; whoever looks finds it on the page."""

    kind = "page"

    def send(self, letter: Letter) -> None:
        """Nothing has to be done."""
