"""What to do next, as sums on plain values: one module a question. Nothing here reads rows."""
