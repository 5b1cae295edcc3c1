"""Tables that come from outside as CSV or pasted text, and cells that go out.

What is read is plain text, cell by cell; what it means is decided by whoever asked for it. Cells that a spreadsheet
would take for a formula get a leading apostrophe on the way out, which is taken off again on the way in.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from charset_normalizer import from_bytes

LARGEST_FILE = 20 * 1024 * 1024
MOST_ROWS, MOST_CELLS_A_ROW, LONGEST_CELL = 20_000, 200, 2_000
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_BINARY_STARTS = {
    b"%PDF": "a PDF", b"\x89PNG": "a picture", b"\xff\xd8\xff": "a picture", b"GIF8": "a picture",
    b"\x1f\x8b": "a compressed file", b"\x7fELF": "a program", b"\xd0\xcf\x11\xe0": "an old Excel file (.xls)",
    b"PK\x03\x04": "a zip or spreadsheet file",
}  # fmt: skip


class Unreadable(ValueError):
    """The file cannot be read as a table; the message says why and what is allowed."""


def guarded(cell: str) -> str:
    """A text cell that no spreadsheet takes for a formula. Numbers are not text: never pass them through here."""
    return f"'{cell}" if cell.startswith(_FORMULA) or cell.startswith("'") else cell


def unguarded(cell: str) -> str:
    """The cell as it was before `guarded`."""
    return cell[1:] if cell.startswith("'") and (len(cell) == 1 or cell[1] in "=+-@\t\r'") else cell


def decoded(content: bytes) -> str:
    """The text of a file. Raises `Unreadable` for one that is too large, binary or in no known encoding."""
    if len(content) > LARGEST_FILE:
        raise Unreadable(
            f"The file is {len(content) / 1e6:.0f} MB large; allowed are up to {LARGEST_FILE // 2**20} MB."
        )
    for start, name in _BINARY_STARTS.items():
        if content.startswith(start):
            raise Unreadable(f"This is {name}, not a table. Save it as CSV and bring that in.")
    for encoding in ("utf-8-sig", "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8"):
        try:
            return _checked(content.decode(encoding))
        except UnicodeDecodeError:
            continue
    guess = from_bytes(content[:200_000]).best()
    if guess is None:
        raise Unreadable("The file is in no encoding that can be told. Save it as CSV in UTF-8.")
    try:
        return _checked(content.decode(guess.encoding))
    except UnicodeDecodeError:
        raise Unreadable("The file is in no encoding that can be told. Save it as CSV in UTF-8.") from None


def _checked(text: str) -> str:
    if "\x00" in text:
        raise Unreadable("The file holds NUL characters, as binary files do. Save it as CSV and bring that in.")
    return text


def rows_of(text: str) -> list[list[str]]:
    """The table's rows, blank lines and lines that begin with # left out.

    The delimiter is the one of comma, semicolon, tab and bar that cuts the lines most evenly. Raises `Unreadable` for
    too many rows or cells, or a cell that is too long.
    """
    lines = list(io.StringIO(text.replace("\r\n", "\n").replace("\r", "\n")))
    kept = "".join(line for line in lines if not line.lstrip().startswith("#"))
    if not kept.strip():
        raise Unreadable("The table is empty.")
    try:
        rows = list(csv.reader(io.StringIO(kept), delimiter=_delimiter(kept), strict=False))
    except csv.Error as error:
        raise Unreadable(f"The table cannot be read: {error}.") from None
    found = [[unguarded(cell.strip()) for cell in row] for row in rows if any(cell.strip() for cell in row)]
    _check_size(found)
    return found


def _check_size(rows: Sequence[Sequence[str]]) -> None:
    if len(rows) > MOST_ROWS:
        raise Unreadable(f"The table has {len(rows):,} rows; allowed are up to {MOST_ROWS:,}.")
    for number, row in enumerate(rows, start=1):
        if len(row) > MOST_CELLS_A_ROW:
            raise Unreadable(f"Row {number} has {len(row)} cells; allowed are up to {MOST_CELLS_A_ROW}.")
        for column, cell in enumerate(row, start=1):
            if len(cell) > LONGEST_CELL:
                raise Unreadable(
                    f"Row {number}, column {column} holds {len(cell):,} letters; allowed are {LONGEST_CELL:,}."
                )


def _delimiter(text: str) -> str:
    """The delimiter that gives the most columns in the most lines."""
    sample = [line for line in text.splitlines()[:50] if line.strip()]

    def evenness(delimiter: str) -> tuple[int, int]:
        widths = [len(row) for row in csv.reader(sample, delimiter=delimiter)]
        usual = max(set(widths), key=widths.count) if widths else 1
        return (widths.count(usual) if usual > 1 else 0, usual)

    return max((",", ";", "\t", "|"), key=evenness)


def csv_text(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """CSV with guarded text cells; numbers go out bare."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([guarded(cell) if isinstance(cell, str) else "" if cell is None else cell for cell in row])
    return out.getvalue()
