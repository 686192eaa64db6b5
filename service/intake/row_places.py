"""Which point a returned row is of, and what a whole file must not do."""

from service.domain.cells import Cell, shown
from service.domain.readings import ExpectedRound, ExpectedRow
from service.intake.collecting import Problems

#: A row that cannot be placed; its problem is told.
REFUSED = object()


class RowPlaces:
    """Finds the point of each row, and keeps what a whole file must not do."""

    def __init__(self, expected: ExpectedRound, problems: Problems) -> None:
        self.expected, self.problems = expected, problems
        self.by_uid = {row.uid: row for row in expected.rows}
        self.by_tag: dict[str, list[ExpectedRow]] = {}
        for row in expected.rows:
            self.by_tag.setdefault(row.point_tag, []).append(row)
        self.seen: dict[object, str] = {}
        self.unknown: dict[str, None] = {}

    def row(self, where: str, *, code: str, uid: str, tag: str, place: str) -> object:
        """The expected row; None for a part off the round; ``REFUSED`` after a problem."""
        if code and code != self.expected.code:
            return self._refuse(
                where,
                "round_code",
                code,
                message=f"This row belongs to another round; this one is {self.expected.code}.",
                remedy="Send it to its own round.",
            )
        return self._by_id(where, uid, tag) if uid else self._by_tag(where, tag, place)

    def _by_id(self, where: str, uid: str, tag: str) -> object:
        found = self.by_uid.get(uid)
        if found is None:
            return self._refuse(
                where,
                "row_uid",
                uid,
                message="This round has no row with this id.",
                remedy="Copy the values into the round's own file; the ids in it are not to be changed.",
            )
        if tag and tag != found.point_tag:
            return self._refuse(
                where,
                "point_tag",
                tag,
                message=f"The row id is that of point {found.point_tag}.",
                remedy="Rows may have been sorted apart: restore row id and point tag from the file.",
            )
        return found

    def _by_tag(self, where: str, tag: str, place: str) -> object:
        named = self.by_tag.get(tag, []) if tag else []
        if len(named) == 1:
            return named[0]
        if len(named) > 1:
            return self._refuse(
                where,
                "point_tag",
                tag,
                message="More than one site of this round has a point of this tag.",
                remedy="Give the row id of the file.",
            )
        if place:
            return None
        if tag:
            return self._refuse(
                where,
                "point_tag",
                tag,
                message="This point is not on this round.",
                remedy="For a hot part met off the round say where it is, in Place off the round.",
            )
        return self._refuse(
            where,
            "row_uid",
            "",
            message="Nothing says which point this row is of.",
            remedy="Restore its row id, or say the place of a hot part met off the round.",
        )

    def _refuse(self, where: str, field: str, found: object, *, message: str, remedy: str) -> object:
        self.problems.add(where, field, found, message=message, remedy=remedy)
        return REFUSED

    def site(self, where: str, named: str) -> int | None:
        """The site of a part off the round: the one named, or the only one."""
        sites = self.expected.sites
        if not named and len(sites) == 1:
            return next(iter(sites))
        wanted = named.casefold()
        for site_id, (code, name, _zone) in sites.items():
            if wanted and wanted in (code.casefold(), name.casefold()):
                return site_id
        offered = ", ".join(name for _code, name, _zone in sites.values())
        self.problems.add(
            where, "site", named, message="Not a site of this round.", remedy=f"One of: {offered}."
        )
        return None

    def says_something(self, where: str, point: ExpectedRow | None, *, tried: bool, note: str) -> bool:
        if tried or (point is None and note):
            return True
        self.problems.add(
            where,
            "temperature_c",
            "",
            message="Neither a temperature nor a reason letter."
            if point
            else "A hot part off the round needs its temperature.",
            remedy="Type the temperature, or the letter of why it could not be read."
            if point
            else "Type the temperature, or a note of what was seen.",
        )
        return False

    def once(self, where: str, point: ExpectedRow | None, uid: str) -> bool:
        """Refuse the second of two rows for one point, or of one client-made id."""
        marks: list[tuple[object, str]] = [(point.row_id, "row_uid")] if point is not None else []
        marks += [(f"uid {uid}", "uid")] if uid else []
        for mark, field in marks:
            first = self.seen.setdefault(mark, where)
            if first != where:
                self.problems.add(
                    where,
                    field,
                    point.point_tag if point and field == "row_uid" else uid,
                    message=f"{first} is of the same {'point' if field == 'row_uid' else 'reading'}.",
                    remedy="Keep one of the two.",
                )
                return False
        return True

    def refuse_moment(self, where: str, cell: Cell) -> None:
        self.problems.add(
            where,
            "taken_at",
            cell,
            message="This is not a date and time.",
            remedy="Write it on the site's clock, year first: 2026-12-08 08:33.",
        )

    def instrument(self, where: str, serial: str) -> int | None:
        """The instrument of a serial number; none typed means that of the round."""
        if not serial:
            return self.expected.instrument_id
        found = self.expected.instruments.get(serial.casefold())
        if found is None:
            self.problems.add(
                where,
                "instrument_serial",
                shown(serial),
                message="No instrument of this client has this serial number.",
                remedy="Correct it, or register the instrument first.",
            )
        return found
