"""Rows of a long benchmark, kept as they come: a run that was cut short goes on where it stopped."""

import hashlib
import json
from collections.abc import Callable, Iterable
from pathlib import Path

Row = dict[str, str | float | None]


def fingerprint(*places: Path) -> str:
    """What the code in these files and folders says, as a short mark: rows of other code are not ours."""
    said = hashlib.sha256()
    for file in sorted(file for place in places for file in _scripts(place)):
        said.update(file.name.encode() + b"\0" + file.read_bytes())
    return said.hexdigest()[:16]


def _scripts(place: Path) -> Iterable[Path]:
    return [place] if place.is_file() else place.rglob("*.py")


class KeptRows:
    """Rows of one benchmark in a file, each under its name.

    A file of other code, or of a run that came to its end, is begun anew: figures of a whole run are of
    one program, and asking again measures again.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     kept = KeptRows(Path(folder) / "rows.json", code="a")
    ...     row = kept.row("first", lambda: {"seconds": 1.0})
    ...     KeptRows(Path(folder) / "rows.json", code="a").found
    1
    """

    def __init__(self, file: Path, *, code: str) -> None:
        self.file, self.code = file, code
        self.rows: dict[str, Row] = self._before()
        #: so many rows are of a run before this one
        self.found = len(self.rows)

    def row(self, name: str, measure: Callable[[], Row]) -> Row:
        """The row of this name; measured and written down where it is not there yet."""
        if name not in self.rows:
            self.rows[name] = measure()
            self._write({"finished": False, "code": self.code, "kept": self.rows})
        return self.rows[name]

    def finish(self, figures: dict[str, object]) -> None:
        """The run came to its end: its figures beside its rows."""
        self._write(figures | {"finished": True, "code": self.code, "kept": self.rows})

    def _before(self) -> dict[str, Row]:
        try:
            told = json.loads(self.file.read_text(encoding="utf-8"))
        except (FileNotFoundError, json.JSONDecodeError):
            return {}
        ours = told.get("code") == self.code and told.get("finished") is False
        rows: dict[str, Row] = told["kept"] if ours else {}
        return rows

    def _write(self, told: dict[str, object]) -> None:
        self.file.parent.mkdir(parents=True, exist_ok=True)
        beside = self.file.with_suffix(".part")
        beside.write_text(json.dumps(told, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
        beside.replace(self.file)
