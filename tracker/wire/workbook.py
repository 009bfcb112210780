"""Sheets of a spreadsheet file (XLSX) as CSV text, so that both are read by one reader."""

from __future__ import annotations

import csv
import io
import warnings
import zipfile
from datetime import date, datetime
from typing import Any

from tracker.wire.faults import BadInput, Fault

LARGEST = 50 * 10**6
LARGEST_UNPACKED = 500 * 10**6
MOST_ROWS = 200_000
MOST_COLUMNS = 200


def is_workbook(name: str) -> bool:
    """Whether a file is read as a workbook, by its name."""
    return name.lower().endswith(".xlsx")


def sheet_as_csv(data: bytes, name: str) -> str:
    """The first sheet, as CSV with a line for each row, blank ones too.

    Errors: BadInput if it is no workbook, or larger than is read (50 MB, 500 MB unpacked, 200,000
    rows, 200 columns). Formulas give the value that was saved with them.
    """
    if len(data) > LARGEST:
        raise _no(name, f"{len(data):,} bytes", f"at most {LARGEST:,} bytes")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(entry.file_size for entry in packed.infolist())
        if unpacked > LARGEST_UNPACKED:
            raise _no(name, f"{unpacked:,} bytes unpacked", f"at most {LARGEST_UNPACKED:,}")
        return _read(data, name)
    except BadInput:
        raise
    except Exception as error:
        # A damaged workbook fails in many ways inside the library; a person needs one answer.
        raise _no(name, f"a file that is no workbook ({type(error).__name__})", "XLSX") from None


def _read(data: bytes, name: str) -> str:
    from openpyxl import load_workbook  # noqa: PLC0415  (it is slow to import, and rarely needed)

    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    try:
        sheet = book.worksheets[0]
        for number, row in enumerate(sheet.iter_rows(values_only=True), 1):
            if number > MOST_ROWS or len(row) > MOST_COLUMNS:
                raise _no(name, "a larger sheet", f"{MOST_ROWS:,} rows, {MOST_COLUMNS} columns")
            writer.writerow([_cell(value) for value in row])
    finally:
        book.close()
    return out.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).replace("\r", " ").replace("\n", " ")


def _no(name: str, found: str, expected: str) -> BadInput:
    return BadInput([Fault(name, None, None, found, expected)])
