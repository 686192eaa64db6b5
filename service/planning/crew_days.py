"""What the day planner is asked: candidates, sites, and the crew days on which they may be read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from service.planning.places import Place, TravelRules

#: Begin and end of hours [min from local midnight]; an end before its begin runs past midnight.
Windows = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Pin:
    """A choice of the engineer: this visit on that crew day, at that minute where one is given."""

    crew_day: int
    start_min: float | None = None


@dataclass(frozen=True, slots=True)
class Candidate:
    """One visit that is due and may be put on a crew day.

    Attributes
    ----------
    key : int
        Names the visit to the caller; equal scores are decided by it.
    place : Place
    minutes : float
        Time on the spot [min].
    score : int
        What reading it is worth; whole, so that sums are the same on every machine.
    windows : tuple of (float, float)
        Load hours of every day [min from local midnight]; empty: any hour will do.
    windows_on : mapping of int to windows
        Load hours of single days, by ``CrewDay.day``; empty there: not on that day.
    needs_qualified_person : bool
        Only on a crew day with a qualified person (electrical).
    category : int
        Least category of the certificate; 0 for none.
    outdoor : bool
        Not on a crew day that is kept indoors, nor on one of ``unfit_days``.
    must : bool
        Goes before everything that is not (twelve-month stop, Act now to be read again).
    pin : Pin, optional
        Never moved to another crew day, nor given up for others. A typed minute stands even outside
        the load hours; who works there and which sites are closed is never overruled.
    closed_days : frozenset of int
        Days on which the site has locked it out.
    unfit_days : frozenset of int
        Days whose weather at its site keeps outdoor visits off.
    """

    key: int
    place: Place
    minutes: float
    score: int
    windows: Windows = ()
    windows_on: Mapping[int, Windows] = field(default_factory=dict)
    needs_qualified_person: bool = False
    category: int = 0
    outdoor: bool = False
    must: bool = False
    pin: Pin | None = None
    closed_days: frozenset[int] = frozenset()
    unfit_days: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Gate:
    """A site or base, where it lies [deg], and when it lets people in.

    ``sign_in_min`` None: as the travel rules say. ``opens`` empty: day and night. ``opens_on`` are the
    hours of single days, by ``CrewDay.day``; empty there: shut that day.
    """

    site: int
    latitude: float | None = None
    longitude: float | None = None
    sign_in_min: float | None = None
    opens: Windows = ()
    closed_days: frozenset[int] = frozenset()
    opens_on: Mapping[int, Windows] = field(default_factory=dict)

    def shuts(self, day: int) -> bool:
        """Whether it lets nobody in that day."""
        return day in self.closed_days or (day in self.opens_on and not self.opens_on[day])

    def hours(self, day: int) -> Windows:
        """When it is open on a day on which it is; empty: day and night."""
        return self.opens_on.get(day, self.opens)


@dataclass(frozen=True, slots=True)
class CrewDay:
    """One crew on one day.

    Attributes
    ----------
    key : int
    day : int
        Any number that tells days apart and puts them in order.
    crew : int
    start_min, end_min : float
        The shift [min from local midnight].
    begins, ends : int, optional
        Site or base where the day begins and ends; None: at the first gate, at the last stop.
    has_qualified_person : bool
    category : int
        Highest category of the crew's certificates.
    closed_sites : frozenset of int
        Not to be visited by this crew on this day.
    indoors_only : bool
        Kept free of outdoor visits.
    frozen : bool
        Already worked, or held: nothing is added, moved or taken away.
    break_min, break_over_min : float
        One break on a day that lasts longer than ``break_over_min`` without it [min].
    """

    key: int
    day: int
    start_min: float
    end_min: float
    crew: int = 0
    begins: int | None = None
    ends: int | None = None
    has_qualified_person: bool = False
    category: int = 0
    closed_sites: frozenset[int] = frozenset()
    indoors_only: bool = False
    frozen: bool = False
    break_min: float = 30.0
    break_over_min: float = 360.0


@dataclass(frozen=True, slots=True)
class Work:
    """All that is to be placed, and where it may go.

    Attributes
    ----------
    candidates : sequence of Candidate
    crew_days : sequence of CrewDay
    gates : sequence of Gate
        Sites and bases; a site without one takes the position of its first candidate.
    travel : TravelRules
    drive_min : mapping of (int, int) to float
        Typed minutes by road from site to site [min]; elsewhere straight line and speed.
    """

    candidates: Sequence[Candidate]
    crew_days: Sequence[CrewDay]
    gates: Sequence[Gate] = ()
    travel: TravelRules = field(default_factory=TravelRules)
    drive_min: Mapping[tuple[int, int], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for kind, keys in (
            ("candidate", [one.key for one in self.candidates]),
            ("crew day", [one.key for one in self.crew_days]),
            ("gate", [one.site for one in self.gates]),
        ):
            if len(set(keys)) != len(keys):
                twice = next(key for key in sorted(keys) if keys.count(key) > 1)
                raise ValueError(f"{kind} {twice} is named twice")
        for one in self.candidates:
            if not 0 <= one.minutes < float("inf"):
                raise ValueError(f"candidate {one.key} takes {one.minutes} minutes")
            if one.score < 0:
                raise ValueError(f"candidate {one.key} is worth {one.score}")
        for day in self.crew_days:
            if not 0 <= day.start_min <= day.end_min < float("inf"):
                raise ValueError(f"crew day {day.key} lasts from {day.start_min} to {day.end_min}")
