"""What the builder and the page of a round say of covers, distances, sun, and of what cannot wait."""

from dataclasses import dataclass
from datetime import datetime

from service.domain.covers import RULE, CoverCount
from service.domain.findings import Finding, Untold
from service.domain.sun_hours import WARM_RULE, SunOfDay
from service.domain.words import Access
from service.pages import view
from service.physics.sun import Daylight
from service.usecases.rounds.exposure import Exposure, OutdoorStop

_ACCESS = {
    Access.HINGED_COVER: ("hinged", "hinged"),
    Access.BOLTED_COVER: ("bolted", "bolted"),
    Access.CLOSED_FRONT: ("read closed", "read closed"),
    Access.WINDOW: ("through a window", "through a window"),
}


@dataclass(frozen=True, slots=True)
class ExposureWords:
    """The lines of the section; empty ones are left out."""

    covers: str
    year: tuple[str, ...]
    distances: tuple[str, ...]
    cannot_tell: str
    suns: tuple[str, ...]
    in_sun: tuple[str, ...]


def exposure_words(seen: Exposure, *, told: tuple[str, ...] = ()) -> ExposureWords:
    """The section in words; ``told`` are sentences that stand on the page already."""
    sentences = [line for lines in seen.distances.values() for line in lines]
    return ExposureWords(
        covers=covers_words(seen.covers),
        year=tuple(
            f"{one.site_name}: {view.counted(one.count.opened, 'cover')} opened ({_kinds(one.count)}), "
            f"{view.minutes(one.count.dressing_min)} dressing"
            for one in seen.year
        ),
        distances=tuple(line for line in sentences if line not in told),
        cannot_tell=cannot_tell_words(seen),
        suns=_suns(seen),
        in_sun=tuple(line for line in map(sun_words, seen.outdoor) if line),
    )


def covers_words(count: CoverCount) -> str:
    """Three covers opened: 2 hinged, 1 bolted; 40 min dressing."""
    if not count.opened:
        return "No cover is opened on this round."
    opened = view.sentence_case(f"{view.number_word(count.opened)} cover{'s' if count.opened > 1 else ''}")
    return (
        f"{opened} opened ({_kinds(count)}): {view.minutes(count.dressing_min)} for dressing, opening and "
        f"closing ({RULE}). The minutes of each stop are those of the register."
    )


def _kinds(count: CoverCount) -> str:
    return view.listed([f"{number} {_ACCESS[a][0]}" for a, number in count.by_access if a.behind_cover])


def cannot_tell_words(seen: Exposure) -> str:
    """What the check of distances cannot say, and why."""
    told = []
    if seen.no_stand_off:
        stops = view.counted(seen.no_stand_off, "stop")
        told.append(f"{stops} behind a cover without a stand-off as one figure: ask the permit issuer")
    if seen.no_width:
        told.append(
            f"{view.counted(seen.no_width, 'view')} of {seen.views} without the width of its smallest part"
            if seen.no_width == 1
            else f"{view.counted(seen.no_width, 'view')} of {seen.views} without the width of their smallest part"
        )
    return f"Cannot tell: {'; '.join(told)}." if told else ""


def _suns(seen: Exposure) -> tuple[str, ...]:
    """Sunrise and sunset once a site."""
    lines = {
        one.stop.facts.site_id: f"{one.stop.facts.site_name}: {sun_line(one.sun)}" for one in seen.outdoor
    }
    return tuple(lines.values())


def sun_line(sun: SunOfDay | None) -> str:
    """Sun up 08:12 to 15:48, on the clock of the site."""
    if sun is None:
        return "cannot tell when the sun stands on it, the site’s coordinates are not on record."
    if sun.daylight is Daylight.NEVER_SETS:
        return "the sun does not set on that day."
    if sun.daylight is not Daylight.RISES:
        return "the sun does not rise on that day."
    return f"sun up {_clock(sun.rises_at, sun)} to {_clock(sun.sets_at, sun)} on the site’s clock."


def sun_words(one: OutdoorStop) -> str:
    """Stop 1, Transformer 1 at 10:06: sun 14° up …; empty where no sun loads it."""
    if one.flag is None or one.sun is None:
        return ""
    stop, flag = one.stop, one.flag
    at = view.minute_of_day(stop.time.start_min)
    place = f"Stop {stop.stop.position}, {stop.facts.name}, {at}"
    if flag.before is None or flag.after is None:
        return (
            f"{place}: sun {_height(flag.height_deg)} and may load it at any hour; read it under cloud only."
        )
    before, after = _clock(flag.before, one.sun), _clock(flag.after, one.sun)
    if flag.height_deg < 0:
        return f"{place}: still warm from the sun, it may load it: read before {before} or after {after}."
    return f"{place}: sun {_height(flag.height_deg)} and may load it: read before {before} or after {after}."


def _height(degrees: float) -> str:
    return f"up to {max(degrees, 0):.0f}° high"


def _clock(moment: datetime | None, sun: SunOfDay) -> str:
    return view.clock(moment, sun.zone)


SUN_RULE = f"Horizon level and free. Cool enough {WARM_RULE}; an overcast sky or a roof loads less."


@dataclass(frozen=True, slots=True)
class TellFirst:
    """One Act now that nobody was told of."""

    href: str
    words: str
    whom: str


def _place_and_title(finding: Finding) -> str:
    """A title on a point names its place within the site already."""
    place = finding.site_name if finding.point_id is not None else finding.where
    return f"{place}, {finding.title}"


def tell_first(found: tuple[Untold, ...]) -> tuple[TellFirst, ...]:
    """Lines of the notice on top of the builder and of the month."""
    return tuple(
        TellFirst(f"/findings/{one.finding.id}", _place_and_title(one.finding), one.whom) for one in found
    )
