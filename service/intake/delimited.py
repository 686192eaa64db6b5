"""CSV as people really send it: encodings told by their bytes, separators counted outside quotes."""

import codecs
import csv
import io

from service.intake.collecting import one_problem
from service.intake.limits import MOST_BYTES, MOST_COLUMNS, MOST_ROWS

SEPARATORS = (",", ";", "\t", "|")
_LOOK_AT = 40


def decoded(content: bytes) -> str:
    """The text of a file: UTF-8 (with or without mark), UTF-16 by its mark, else Windows-1252.

    Raises
    ------
    service.errors.Invalid
        None of these, or the text holds NUL characters.
    """
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        attempts: tuple[str, ...] = ("utf-16",)
    else:
        attempts = ("utf-8-sig", "cp1252")
    for encoding in attempts:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\x00" in text:
            raise one_problem(
                "file",
                "",
                "NUL characters",
                message="This is not a text file in an encoding that is read here.",
                remedy="Save it as CSV UTF-8, or as .xlsx.",
            )
        return text
    raise one_problem(
        "file",
        "",
        f"bytes that are neither UTF-8 nor {'UTF-16' if attempts == ('utf-16',) else 'Windows-1252'}",
        message="The encoding of this file is not one that is read here.",
        remedy="Save it as CSV UTF-8, or as .xlsx.",
    )


def separator_of(text: str) -> str:
    """The separator: the one that cuts the first lines into the same number of cells, most of them.

    Counts stand outside double quotes only. A first line ``sep=;`` is believed.

    Examples
    --------
    >>> separator_of('tag;name\\nA1;"a, b, c"\\nA2;"d, e"\\n')
    ';'
    """
    first = text[:8].lower()
    if first.startswith("sep=") and len(first) > 4 and first[4] in SEPARATORS:
        return first[4]
    lines = _counts(text)
    best = ","
    best_score = (0.0, 0)
    for separator in SEPARATORS:
        counts = [line[separator] for line in lines]
        usual = counts[0] if counts else 0
        if usual:
            agreeing = sum(1 for count in counts if count == usual) / len(counts)
            score = (round(agreeing, 3), usual)
            if score > best_score:
                best, best_score = separator, score
    return best


def _counts(text: str) -> list[dict[str, int]]:
    """Separators outside quotes in each of the first lines that are not empty."""
    lines: list[dict[str, int]] = []
    here = dict.fromkeys(SEPARATORS, 0)
    quoted = started = False
    opens = True  # a quote opens a quoted cell only at the cell's start, or doubled inside it
    for letter in text[:200_000]:
        if letter == '"' and (quoted or opens):
            opens, quoted, started = quoted, not quoted, True
            continue
        opens = False
        if quoted:
            continue
        if letter in "\r\n":
            opens = True
            if started:
                lines.append(here)
                if len(lines) == _LOOK_AT:
                    return lines
            here, started = dict.fromkeys(SEPARATORS, 0), False
        elif letter in here:
            here[letter] += 1
            opens = started = True
        else:
            started = started or not letter.isspace()
    if started:
        lines.append(here)
    return lines


def read_records(content: bytes) -> list[list[str]]:
    """The records of a CSV file after RFC 4180; an empty line is an empty record.

    Raises
    ------
    service.errors.Invalid
        Encoding, quotes or limits.
    """
    text = decoded(content)
    if text.startswith("\ufeff"):
        text = text[1:]
    separator = separator_of(text)
    records: list[list[str]] = []
    # one field may be as long as the file: told later with its row, not by the parser
    csv.field_size_limit(MOST_BYTES)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    filled = 0
    try:
        for record in reader:
            if len(record) > MOST_COLUMNS * 2:
                raise one_problem(
                    f"row {len(records) + 1}",
                    "",
                    f"{len(record)} cells",
                    message=f"More than {MOST_COLUMNS} columns.",
                    remedy="Keep only the columns of the template; check the separator.",
                )
            records.append(record)
            filled += any(record)
            if filled > MOST_ROWS + 1 or len(records) > MOST_ROWS * 4:
                raise one_problem(
                    "file", "", "", message=f"More than {MOST_ROWS} rows.", remedy="Split the file."
                )
    except csv.Error as error:
        raise one_problem(
            f"row {len(records) + 1}",
            "",
            str(error),
            message="A double quote is not closed, or stands inside an unquoted cell.",
            remedy='Close it; inside a quoted cell write a double quote twice ("").',
        ) from error
    if records and text[:4].lower() == "sep=" and len(text) > 4 and text[4] == separator:
        records[0] = []
    return records
