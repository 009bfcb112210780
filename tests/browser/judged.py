"""What every page is held to: axe finds nothing, fingers hit, nothing goes sideways."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

SMALL = """
(least) => [...document.querySelectorAll("a, button, summary, input, select, textarea")]
  .filter((one) => {
    const box = one.getBoundingClientRect();
    if (!box.width || getComputedStyle(one).visibility === "hidden" || box.right < 0) return false;
    if (one.matches("p a, li a, td a, dd a") && !one.closest("nav, .counts, .actions")) {
      // A link within a sentence is as high as its line (WCAG 2.2, 2.5.8, exception "Inline").
      // That of a card or a drive is hit by a finger all the same.
      const hit = least >= 48 && one.matches(".label");
      if (getComputedStyle(one).display === "inline" && !hit) return false;
    }
    const hit = one.matches("[type=radio], [type=checkbox]") && one.closest("label");
    const size = (hit || one).getBoundingClientRect();
    return size.height < least - 0.5 || size.width < least - 0.5;
  })
  .map((one) => one.outerHTML.slice(0, 120))
"""
SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def holds(page: Any, *, least: int = 48) -> None:
    """The page is fit for a phone. least: side of a target, in CSS pixels."""
    assert page.evaluate(SIDEWAYS) <= 0, "the page goes sideways"
    small = page.evaluate(SMALL, least)
    assert not small, small
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": RULES}})
    wrong = [
        (one["id"], [node["html"][:160] for node in one["nodes"]])
        for one in found.response["violations"]
    ]
    assert not wrong, wrong
