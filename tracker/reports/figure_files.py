"""Figures as files that open without the service: a page for each, its numbers, and Plotly."""

from __future__ import annotations

import json
import shutil
from collections.abc import Sequence
from html import escape
from importlib.util import find_spec
from pathlib import Path

from tracker.reports.figures import Drawn

PLOTLY = "plotly.min.js"

_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title} · {production}</title>
<script src="{plotly}"></script>
</head>
<body>
<h1>{title} · {production}</h1>
<p>{says}</p>
<div id="figure" role="img" aria-label="{title}: {says}"></div>
<p><a href="{name}.csv">The numbers (CSV)</a> · <a href="index.html">All figures</a></p>
<script>
const figure = {figure};
Plotly.newPlot("figure", figure.data, figure.layout, {{responsive: true, displaylogo: false}});
</script>
</body>
</html>
"""
_INDEX = """<!doctype html>
<html lang="en">
<head><meta charset="utf-8"><title>Figures · {production}</title></head>
<body>
<h1>Figures · {production}</h1>
<ul>
{lines}
</ul>
</body>
</html>
"""


def plotly_file() -> Path:
    """What draws figures, in its installed package. Errors: FileNotFoundError."""
    package = find_spec("plotly")
    if package is None or package.origin is None:
        raise FileNotFoundError("the package plotly is not installed: install Cardwright anew")
    return Path(package.origin).parent / "package_data" / PLOTLY


def write_figures(drawn: Sequence[Drawn], folder: Path, production: str) -> list[Path]:
    """Write figures into a folder, which is made if it is not there. What was written, in order.

    Errors: OSError.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = [folder / "index.html"]
    lines = []
    for one in drawn:
        page, table = folder / f"{one.name}.html", folder / f"{one.name}.csv"
        page.write_text(_page(one, production), encoding="utf-8")
        table.write_text(one.csv(), encoding="utf-8", newline="")
        written += [page, table]
        lines.append(f'<li><a href="{page.name}">{escape(one.title)}</a>: {escape(one.says)}</li>')
    index = _INDEX.format(production=escape(production), lines="\n".join(lines))
    written[0].write_text(index, encoding="utf-8")
    shutil.copyfile(plotly_file(), folder / PLOTLY)
    return [*written, folder / PLOTLY]


def _page(one: Drawn, production: str) -> str:
    # No text of anybody may end the script: a slash after < is written as JSON allows.
    figure = json.dumps(one.figure).replace("<", "\\u003c")
    return _PAGE.format(
        title=escape(one.title), says=escape(one.says), production=escape(production),
        name=one.name, plotly=PLOTLY, figure=figure,
    )  # fmt: skip
