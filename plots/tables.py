"""Tables that come from outside as CSV or pasted text, and cells that go out.

What is read is plain text, cell by cell; what it means is decided by whoever asked for it. Cells that a spreadsheet
would take for a formula get a leading apostrophe on the way out, which is taken off again on the way in.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Sequence

LARGEST_FILE = 20 * 1024 * 1024
MOST_ROWS, MOST_CELLS_A_ROW, LONGEST_CELL = 20_000, 200, 2_000
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_BINARY_STARTS = {
    b"%PDF": "a PDF", b"\x89PNG": "a picture", b"\xff\xd8\xff": "a picture", b"GIF8": "a picture",
    b"\x1f\x8b": "a compressed file", b"\x7fELF": "a program", b"\xd0\xcf\x11\xe0": "an old Excel file (.xls)",
    b"PK\x03\x04": "a zip or spreadsheet file",
}  # fmt: skip
_SAVE_AS = "Save it as CSV in UTF-8 and bring that in."
_UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_WESTERN_SIGNS = frozenset("’‘“”–—…•°²³µ¼½¾±·«»´§©®\u00a0€£ªº¿¡×÷")
# What UTF-8 cut off in the middle, a neighbour's alphabet or an old Macintosh look like when read as Windows-1252.
_MISREAD = re.compile("[ÃÂ][\u0080-\u00bf€‚ƒ„…†‡ˆ‰Š‹ŒŽ‘’“”•–—˜™š›œžŸ]|â€|[À-ÿ]{4}|[a-zß-ÿ][ŠŽŒŸÀ-Þ]")


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
    return text_and_encoding(content)[0]


def text_and_encoding(content: bytes) -> tuple[str, str]:
    """The text of a file and the name of its encoding: UTF-8, UTF-16 with its mark, or Windows-1252.

    Which of the older encodings a file is in cannot be told from the file; one that does not read like Windows-1252
    is refused rather than guessed, since a wrong guess changes names without a word. Raises `Unreadable`.
    """
    check_size(len(content))
    for start, name in _BINARY_STARTS.items():
        if content.startswith(start):
            raise Unreadable(f"This is {name}, not a table. Save it as CSV and bring that in.")
    if content.startswith(_UTF_16):
        try:
            return _checked(content.decode("utf-16")), "UTF-16"
        except UnicodeDecodeError:
            raise Unreadable(f"The file begins as UTF-16 and goes on as something else. {_SAVE_AS}") from None
    if b"\x00" in content:
        raise Unreadable(f"The file holds NUL characters, as binary files do. {_SAVE_AS}")
    try:
        return _checked(content.decode("utf-8-sig")), "UTF-8"
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
    return _checked(_windows_1252(content, line)), "Windows-1252"


def check_size(size: int) -> None:
    """Raises `Unreadable` for a file over `LARGEST_FILE`, before it is read into memory."""
    if size > LARGEST_FILE:
        raise Unreadable(
            f"The file is {size / 1e6:.0f} MB large; allowed are up to {LARGEST_FILE // 2**20} MB. "
            "Bring it in by parts."
        )


def _windows_1252(content: bytes, line: int) -> str:
    """The text as Western machines wrote it, if it reads like that."""
    try:
        text = content.decode("cp1252")
    except UnicodeDecodeError:
        text = ""
    strange = (char for char in text if ord(char) > 127 and char not in _WESTERN_SIGNS)
    if not text or _MISREAD.search(text) or any(not char.isalpha() or ord(char) > 0x17F for char in strange):
        raise Unreadable(f"The letters in line {line} of the file are neither UTF-8 nor Windows-1252. {_SAVE_AS}")
    return text


def _checked(text: str) -> str:
    """The text without the end mark of old machines; raises `Unreadable` for control characters, which no table has."""
    text = text.removesuffix("\x1a")
    for place, char in enumerate(text):
        if char not in "\t\r\n\f\v" and unicodedata.category(char) in ("Cc", "Cs"):
            line = text.count("\n", 0, place) + 1
            raise Unreadable(f"Line {line} holds U+{ord(char):04X}, as binary files do. {_SAVE_AS}")
    return text


def rows_of(text: str) -> list[list[str]]:
    """The table's rows, blank lines and leading lines that begin with # left out.

    The delimiter is the one of comma, semicolon, tab and bar that cuts the lines most evenly. Raises `Unreadable` for
    too many rows or cells, or a cell that is too long.
    """
    return [cells for _, cells in numbered_rows(text)]


def numbered_rows(text: str) -> list[tuple[int, list[str]]]:
    """The same rows, each with the number of the line it begins on."""
    lines = list(io.StringIO(text.replace("\r\n", "\n").replace("\r", "\n")))
    before = 0
    while before < len(lines) and (not lines[before].strip() or lines[before].lstrip().startswith("#")):
        before += 1
    kept = lines[before:]
    if not kept:
        raise Unreadable("The table is empty.")
    found: list[tuple[int, list[str]]] = []
    reader = csv.reader(kept, delimiter=_delimiter(kept), strict=True)
    begins = before + 1
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                found.append((begins, [unguarded(cell.strip()) for cell in row]))
            begins = before + reader.line_num + 1
    except csv.Error as error:
        raise Unreadable(
            f"Line {begins} cannot be cut into cells ({error}). Look for a quotation mark without its partner."
        ) from None
    _check_size([cells for _, cells in found])
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


def _delimiter(lines: Sequence[str]) -> str:
    """The delimiter that gives the most columns in the most lines."""
    sample = [line for line in lines[:50] if line.strip()]

    def evenness(delimiter: str) -> tuple[int, int]:
        try:
            widths = [len(row) for row in csv.reader(sample, delimiter=delimiter)]
        except csv.Error:
            return (0, 0)
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
