"""Reading a posted form: every wrong box is told at once, nothing typed is lost."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import Depends, Request

from service.errors import Invalid, Problem


class Form:
    """The boxes of a form, with the problems met while reading them."""

    def __init__(self, typed: Mapping[str, object]) -> None:
        self.typed = {name: value for name, value in typed.items() if isinstance(value, str)}
        self.problems: list[Problem] = []

    def text(self, name: str) -> str:
        return self.typed.get(name, "").strip()

    def ticked(self, name: str) -> bool:
        return bool(self.text(name))

    def number(self, name: str) -> float | None:
        """A number with point or decimal comma; None when blank."""
        raw = self.text(name).replace("−", "-").replace(" ", "")
        if not raw:
            return None
        if raw.count(",") == 1 and "." not in raw:
            raw = raw.replace(",", ".")
        try:
            value = float(raw)
        except ValueError:
            value = float("nan")
        if value != value or value in (float("inf"), float("-inf")):
            self._wrong(name, "This is not a number.", "Type digits, for example 36.7.")
            return None
        return value

    def whole(self, name: str) -> int | None:
        value = self.number(name)
        if value is None:
            return None
        if value != int(value) or abs(value) > 2**53:
            self._wrong(name, "A whole number is expected here.", "Leave out the decimals.")
            return None
        return int(value)

    def day(self, name: str) -> date | None:
        raw = self.text(name)
        if not raw:
            return None
        try:
            return date.fromisoformat(raw)
        except ValueError:
            self._wrong(name, "This is not a date.", "Type year-month-day, for example 2026-11-25.")
            return None

    def moment(self, name: str, zone: str) -> datetime | None:
        """A local date and time of a site; a time that is none there (clock change) is told."""
        raw = self.text(name)
        if not raw:
            return None
        try:
            return datetime.fromisoformat(raw).replace(tzinfo=ZoneInfo(zone))
        except ValueError:
            self._wrong(name, "This is not a date and time.", "Type for example 2026-11-25 14:30.")
            return None

    def version(self) -> int:
        """The version the form was filled in on; 0 (never current) when it was tampered with."""
        raw = self.text("version")
        return int(raw) if raw.isascii() and raw.isdigit() and len(raw) < 16 else 0

    def done(self) -> None:
        """Raise all problems met so far.

        Raises
        ------
        Invalid
            When there are any.
        """
        if self.problems:
            raise Invalid(self.problems)

    def _wrong(self, name: str, message: str, remedy: str) -> None:
        self.problems.append(Problem("form", name, self.text(name)[:60], message, remedy))


async def posted_form(request: Request) -> Form:
    """The boxes that came with this request."""
    return Form(await request.form())


Posted = Annotated[Form, Depends(posted_form)]
