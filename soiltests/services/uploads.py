"""A lab's file as a table of text cells: CSV, TSV, XLSX or pasted."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from plots.tables import (
    LARGEST_FILE,
    LONGEST_CELL,
    MOST_CELLS_A_ROW,
    MOST_ROWS,
    Unreadable,
    decoded,
    rows_of,
    unguarded,
)

MOST_UNPACKED = 200 * 1024 * 1024
MOST_TIMES_PACKED = 200


def table_of(content: bytes, *, name: str = "") -> list[list[str]]:
    """The rows of a file, whatever kind of table it is; raises `Unreadable` with the reason and what is allowed."""
    if len(content) > LARGEST_FILE:
        raise Unreadable(
            f"The file is {len(content) / 1e6:.0f} MB large; allowed are up to {LARGEST_FILE // 2**20} MB."
        )
    if content.startswith(b"PK\x03\x04"):
        return _rows_of_workbook(content)
    return rows_of(decoded(content))


def _rows_of_workbook(content: bytes) -> list[list[str]]:
    _check_archive(content)
    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        rows = []
        for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
            if number > MOST_ROWS:
                raise Unreadable(f"The table has more than {MOST_ROWS:,} rows; bring it in in parts.")
            cells = [_cell(value, number, column) for column, value in enumerate(row[:MOST_CELLS_A_ROW], start=1)]
            # Remarks stand before the head; below it "#7" is a sample's name.
            if any(cells) and (rows or not cells[0].startswith("#")):
                rows.append(cells)
    except Unreadable:
        raise
    except (InvalidFileException, KeyError, ValueError, IndexError, zipfile.BadZipFile, OSError, TypeError) as error:
        raise Unreadable(f"The spreadsheet cannot be read ({type(error).__name__}). Save it as CSV.") from None
    except Exception as error:  # an XML parser's own errors, of several libraries; none may reach the page
        raise Unreadable(f"The spreadsheet cannot be read ({type(error).__name__}). Save it as CSV.") from None
    if not rows:
        raise Unreadable("The first sheet of the spreadsheet is empty.")
    return rows


def _check_archive(content: bytes) -> None:
    """Refuse an archive that would unpack to far more than it says, before unpacking it."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            entries = archive.infolist()
    except zipfile.BadZipFile:
        raise Unreadable("The file is a damaged zip or spreadsheet file.") from None
    if not any(entry.filename == "xl/workbook.xml" for entry in entries):
        raise Unreadable("This is a zip file, not a spreadsheet. Take the table out of it first.")
    unpacked = sum(entry.file_size for entry in entries)
    if unpacked > MOST_UNPACKED or unpacked > MOST_TIMES_PACKED * max(len(content), 1000):
        raise Unreadable(f"The spreadsheet unpacks to {unpacked / 1e6:,.0f} MB, far more than a lab report holds.")


def _cell(value: Any, row: int, column: int) -> str:
    if value is None:
        return ""
    if isinstance(value, dt.datetime):
        return value.date().isoformat()
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    text = unguarded(str(value).strip())
    if len(text) > LONGEST_CELL:
        raise Unreadable(f"Row {row}, column {column} holds {len(text):,} letters; allowed are {LONGEST_CELL:,}.")
    return text.replace("\x00", "")
