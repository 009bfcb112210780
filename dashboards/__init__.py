"""Figures for Plotly: rows in, figure out, as plain data. No pages, no queries.

A figure is {"data", "layout"} as Plotly takes it. Colours are those of Okabe and Ito (2008; from
memory), told apart by colour-blind eyes, on light paper and dark; the page gives paper and ink.
"""
