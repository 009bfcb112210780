"""One card: what it is, what it holds, what may be done with it, what happened."""

from __future__ import annotations
