"""The page of the loader, who stands beside the camera with a phone."""

from __future__ import annotations
