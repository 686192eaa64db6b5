"""Reading a posted form: every wrong box is told at once, nothing typed is lost."""

from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Annotated

from fastapi import Depends, Request

from service.domain.site_clock import on_site_clock
from service.errors import Conflict, Invalid, Problem
from service.pages import view
from service.pages.asking import SignedIn

#: years in which something may have been done or be planned
EARLIEST, LATEST = 1970, 2100


class Form:
    """The boxes of a form, with the problems met while reading them."""

    def __init__(self, typed: Mapping[str, object]) -> None:
        self.typed = {name: value for name, value in typed.items() if isinstance(value, str)}
        self.problems: list[Problem] = []
        #: what was chosen where a box left two meanings open
        self.chosen: list[str] = []

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

    def in_unit(self, name: str, unit: str) -> float | None:
        """A number of that unit; a temperature (°C) or a difference (K) comes from the unit of its form."""
        value = self.number(name)
        return None if value is None else view.stored_value(value, unit, said=self.text("typed_in"))

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
        """A date and time on the clock of a site, as an instant; with an offset typed, that one.

        A time that the clock skips when it is put forward is a problem; of one that comes twice
        the earlier is taken, and ``chosen`` says so.
        """
        raw = self.text(name)
        if not raw:
            return None
        try:
            typed = datetime.fromisoformat(raw)
        except ValueError:
            self._wrong(name, "This is not a date and time.", "Type for example 2026-11-25 14:30.")
            return None
        if not EARLIEST <= typed.year <= LATEST:
            self._wrong(name, "This day is out of range.", "Check the year.")
            return None
        return self._on_clock(name, typed, zone) if typed.tzinfo is None else typed.astimezone(UTC)

    def _on_clock(self, name: str, typed: datetime, zone: str) -> datetime | None:
        found = on_site_clock(typed, zone)
        if found.instant is None:
            self._wrong(
                name,
                f"The clock of the site ({zone}) skipped this time: it was put forward that night.",
                f"Type {found.unchanged:%H:%M} if your watch had not been put forward; else look again.",
            )
        elif found.twice:
            self.chosen.append(f"{typed:%H:%M} came twice that night: the earlier is kept.")
        return found.instant

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


async def posted_form(request: Request, _actor: SignedIn) -> Form:
    """The boxes that came with this request.

    Raises
    ------
    Conflict
        Its temperatures were typed in another unit than the person reads by now.
    """
    form = Form(await request.form())
    if form.text("typed_in") not in ("", view.typed_in()):
        raise Conflict(
            "Your units were changed after this form was opened; nothing was stored.",
            remedy="Open the page again, and type the temperatures in the unit that stands beside each box.",
        )
    return form


async def form_for_others(request: Request) -> Form:
    """The boxes of a page that stays in °C and K whoever fills it in."""
    return Form(await request.form())


Posted = Annotated[Form, Depends(posted_form)]
PostedForOthers = Annotated[Form, Depends(form_for_others)]
