"""The one place where a rise meets an edge: a view's readings in, a verdict per point out."""

from collections.abc import Sequence
from dataclasses import replace

from service.domain import judgement_rules as rules
from service.domain.chances import chances_of, smallest_fault_k
from service.domain.criteria import Criteria
from service.domain.draft import Draft, indicative, weigh
from service.domain.kind_notes import notes_of_boxes
from service.domain.kind_rules import heed_boxes
from service.domain.like_parts import (
    DIGITS,
    LikeParts,
    difference_of,
    like_currents,
    like_parts_of,
    middle_of,
    peers_of,
    rise_over,
    temperature,
)
from service.domain.rise_uncertainty import over_like_parts_u_k, scaled_interval_k
from service.domain.seen import RangeEnd, SeenPoint, SeenView
from service.domain.verdicts import Verdict
from service.domain.words import NO_VERDICT, Level, Reason, ReferenceKind
from service.physics.cautions import Caution
from service.physics.refusals import Refusal
from service.physics.settling import Settling

#: Members bound once: looking one up on its class costs more than a comparison.
_BOTTOM = RangeEnd.BOTTOM
_LIKE_PARTS = ReferenceKind.LIKE_PARTS
_RATED_SHARE = ReferenceKind.RATED_SHARE
_BASELINE = ReferenceKind.BASELINE
_NOTHING_FOUND = Level.NOTHING_FOUND
METHOD_VERSION = "1a/3"


def judge_view(view: SeenView, criteria: Criteria) -> tuple[Verdict, ...]:
    """Judge every point of a view by standards.md §1a.

    Parameters
    ----------
    view : SeenView
        The like parts of one view on one visit, with air, wind and currents.
    criteria : Criteria
        The set in force at the visit.

    Returns
    -------
    tuple of Verdict
        One per point, in the order of ``view.points``.

    Notes
    -----
    Rules 0 to 9 and 11 run in their order: cold parts first (6), unequal currents said next
    (5), then the column that decides (2, 3 or 11), absolute limits, bearings (9), two visits
    running (4), no heat seen (7) and last what can only cool or hide (8): such a reading may
    accuse and never clears. Figures at common load are told, and raise a level only when firm
    (1). Without uncertainty terms (``SeenPoint.measured``) nothing is firm.

    References
    ----------
    ANSI/NETA MTS Table 100.18 for the bands; their application is this service's judgement.

    Examples
    --------
    >>> from service.domain.presets import TWO_COLUMN
    >>> from service.domain.words import PointKind
    >>> points = tuple(
    ...     SeenPoint(point_id=n, kind=PointKind.JOINT, temperature_c=t, current_a=30, common_load_a=100)
    ...     for n, t in enumerate((31.0, 43.0, 30.8))
    ... )
    >>> judge_view(SeenView(points=points, ambient_c=25.0), TWO_COLUMN)[1].sentence
    'At least Plan repair: 12.0 K over its like parts, load 30 %.'
    """
    if view.wet_fog_or_sun:
        return tuple(_not_assessable(point, Reason.WET_FOG_OR_SUN) for point in view.points)
    if any(point.boxes for point in view.points):
        view = replace(view, points=tuple(heed_boxes(point) for point in view.points))
    judged = {
        id(point): _finish(_judge(point, group, view=view, criteria=criteria))
        for group in like_parts_of(view, criteria)
        for point in group.points
    }
    return tuple(
        judged[id(point)] if id(point) in judged else _not_assessable(point, point.not_assessable)
        for point in view.points
    )


def air_column(rise_air_k: float, criteria: Criteria) -> tuple[Level, str]:
    """Level and printed band of the air column: shown as information beside another one's verdict."""
    place = criteria.air.place(round(rise_air_k, DIGITS))
    return criteria.air.levels[place], criteria.air.bands[place]


def _judge(point: SeenPoint, group: LikeParts, *, view: SeenView, criteria: Criteria) -> Draft:
    draft = weigh(point, view, criteria=criteria)
    if id(point) in group.cold:
        _judge_cold(draft, group.warm)
        rules.rule_2_limit(draft)
        return draft
    if point.range_end is _BOTTOM:
        draft.refuse(rules.RULE_RANGE_BOTTOM, "bottom of the instrument's range: read again a range lower")
        return draft
    peers = peers_of(point, group, share=criteria.equal_current_share)
    like_k = rise_over(point, peers, group=group) if len(peers) > 1 else None
    if like_k is not None:
        draft.members = tuple([other.point_id for other in peers])
    if len(group.points) > len(peers):
        _say_unequal(draft, group.neighbours, compared=like_k is not None)
    templates = criteria.templates_for(point.kind, point.component)
    like_u_k = None if like_k is None else _u_over(point, peers)
    if templates:
        rules.rule_11_templates(draft, templates, like_k=like_k, like_u_k=like_u_k)
    elif like_k is not None:
        rules.rule_2_like_part(draft, like_k, u_k=like_u_k)
    else:
        rules.rule_3_no_like_part(draft)
    rules.rule_1_common_load(draft)
    rules.rule_2_limit(draft)
    rules.rule_4_look_again(draft)
    rules.rule_7_no_heat(draft)
    if like_k is not None:
        rules.rule_8_second_opinion(draft, like_k)
    if not templates:
        rules.rule_9_bearing(draft)
    draft.notes += notes_of_boxes(point)
    return draft


def _u_over(point: SeenPoint, peers: Sequence[SeenPoint]) -> float | None:
    """Standard uncertainty of a rise over like parts [K]; None as soon as one has no terms."""
    if point.measured is None:
        return None
    return over_like_parts_u_k([(one.measured, weight) for one, weight in difference_of(point, peers)])


def _judge_cold(draft: Draft, warm: Sequence[SeenPoint]) -> None:
    own = temperature(draft.point)
    like_c = middle_of(sorted(temperature(other) for other in warm)) if warm else own
    under_k = round(like_c - own, DIGITS)
    draft.members = (draft.point.point_id, *(other.point_id for other in warm))
    colder = f"{under_k:.1f} K colder than its like parts" if under_k > 0 else "not colder so far"
    amps = "" if draft.point.current_a is None else f", {draft.point.current_a:g} A"
    u_k = _u_over(draft.point, [draft.point, *warm]) if warm else None
    rules.rule_6_cold(draft, under_k, u_k=u_k, note=f"open circuit? {colder}{amps}")


def _say_unequal(draft: Draft, neighbours: Sequence[SeenPoint], *, compared: bool) -> None:
    """Unequal currents are said first: unequal load before bad joint (rule 5)."""
    point, share = draft.point, draft.criteria.equal_current_share
    if all(like_currents(point, other, share=share) for other in neighbours):
        return
    draft.unequal = True
    amps = " / ".join("?" if other.current_a is None else f"{other.current_a:g}" for other in neighbours)
    draft.first = f"Unequal currents ({amps} A): unequal load before bad joint. "
    if not compared:
        _compare_at_common_load(draft, neighbours)


def _compare_at_common_load(draft: Draft, neighbours: Sequence[SeenPoint]) -> None:
    """Told only: each rise brought to common load by its own current, then compared (physics.md §3.2)."""
    rises = [_common_rise(weigh(other, draft.view, criteria=draft.criteria)) for other in neighbours]
    known = sorted(rise for rise in rises if rise is not None)
    own = _common_rise(draft)
    if own is None or len(known) < len(neighbours):
        return
    middle = known[0] if len(known) == 2 else middle_of(known)
    told = _over(own - middle, "its like parts")
    draft.notes.append(f"brought to common load, each by its own current: {told}")


def _common_rise(draft: Draft) -> float | None:
    return None if draft.air_k is None else draft.at_common_load(draft.air_k)


def _finish(draft: Draft) -> Verdict:
    """Rule 8, then the record."""
    point, level = draft.point, draft.level
    reasons = list(dict.fromkeys(draft.hidden))
    if draft.low_load and not draft.cold:  # a cold part's own low current is what it shows
        reasons = [draft.low_load, *reasons]
    if draft.reference is not _LIKE_PARTS:
        reasons += [why for why in draft.air_hidden if why not in reasons]
        if draft.reference is ReferenceKind.AIR and _wide(draft):
            reasons = [*reasons, "uncertainty more than half of the rise"]
        if level and indicative(draft):
            level = min(level, Level(draft.criteria.indicative_cap_level))
    at_least = False
    if reasons:
        at_least = bool(level)
        if not level:
            level = None
            if draft.rule not in (rules.RULE_NO_HEAT, rules.RULE_NO_BAND, rules.RULE_RANGE_BOTTOM):
                draft.rule = rules.RULE_COULD_NOT_CLEAR
    u_common_k, low_k, high_k = _at_common_load(draft)
    return Verdict(
        point_id=point.point_id,
        level=level,
        band=draft.band,
        at_least=at_least,
        near_line=draft.near_line,
        clears=level is _NOTHING_FOUND and not draft.near_line,
        trended=draft.trended,
        reference=draft.reference,
        value_k=draft.value_k,
        common_k=draft.common_k,
        rise_air_k=draft.air_k,
        load_ratio=draft.load,
        share_of_rated=draft.share,
        over_first_line=draft.over_first_line,
        rule=draft.rule,
        sentence=_sentence(draft, level, at_least=at_least, reasons=reasons),
        published_band=draft.published_band,
        source=draft.source,
        cold=draft.cold,
        unequal_load=draft.unequal,
        members=draft.members,
        u_k=draft.u_k if draft.u_k is not None else point.u_k,
        chances=chances_of(draft),
        u_common_k=u_common_k,
        common_low_k=low_k,
        common_high_k=high_k,
        smallest_fault_k=smallest_fault_k(draft),
        cautions=_cautions(point),
    )


def _wide(draft: Draft) -> bool:
    """Over air and past its first line, with more than half of the rise uncertain (k = 2)."""
    if draft.u_k is None or draft.value_k is None or not draft.over_first_line:
        return False
    return 2 * draft.u_k > draft.value_k / 2


def _at_common_load(draft: Draft) -> tuple[float | None, float | None, float | None]:
    if draft.common_k is None or draft.value_k is None:
        return None, None, None
    u_k = draft.u_at_common_load(draft.value_k, draft.u_k)
    return (None, None, None) if u_k is None else (u_k, *scaled_interval_k(draft.common_k, u_k))


def _cautions(point: SeenPoint) -> tuple[str, ...]:
    """Keys of what is to be taken with care."""
    measured = point.measured
    if measured is None:
        return ()
    flags = _FLAGS.get(measured.caution)
    if flags is None:
        flags = tuple(str(flag.name).lower() for flag in Caution if flag & measured.caution)
        _FLAGS[measured.caution] = flags
    refused = () if measured.refusal is Refusal.NONE else (measured.refusal.name.lower(),)
    settling = ("still_settling",) if measured.settling == Settling.ACCEPTED else ()
    return (*flags, *refused, *settling)


#: Keys of each set of flags met so far: a few.
_FLAGS: dict[int, tuple[str, ...]] = {0: ()}


def _sentence(draft: Draft, level: Level | None, *, at_least: bool, reasons: Sequence[str]) -> str:
    if level is None:
        said = [f"could not clear ({', '.join(reasons)})"] if draft.rule == rules.RULE_COULD_NOT_CLEAR else []
        return f"{draft.first}{NO_VERDICT}: {'; '.join(said + draft.notes)}."
    word = f"At least {level.word}" if at_least else level.word
    said = [] if draft.cold else [_what(draft)]
    said += draft.notes
    under = f", {', '.join(reasons)}" if at_least else ""
    return f"{draft.first}{word}: {'; '.join(said)}{under}."


_WHAT = {
    ReferenceKind.LIKE_PARTS: "its like parts",
    ReferenceKind.AIR: "air",
    ReferenceKind.BASELINE: "its own baseline",
}


def _what(draft: Draft) -> str:
    if draft.told:
        return draft.told
    if draft.reference is _RATED_SHARE and draft.share is not None:
        return f"{draft.share:.0f} % of its rated rise"
    if draft.value_k is None or draft.reference is None:
        return f"{draft.air_k:.1f} K over air" if draft.air_k is not None else "as read"
    told = _over(draft.judged if draft.judged is not None else draft.value_k, _WHAT[draft.reference])
    scaled = draft.reference is _BASELINE and draft.common_k is not None
    return f"{told} at common load" if scaled else told


def _over(rise_k: float, reference: str) -> str:
    if abs(rise_k) < 0.05:
        return f"level with {reference}"
    return f"{abs(rise_k):.1f} K {'over' if rise_k > 0 else 'under'} {reference}"


def _not_assessable(point: SeenPoint, reason: Reason | None) -> Verdict:
    told = "no usable number" if reason is None else f"not assessable, {reason.word}"
    rule = "no number" if reason is None else "not assessable"
    if reason is None and point.measured is not None and point.measured.refused:
        told, rule = point.measured.refused, rules.RULE_NOT_COMPUTED
    return Verdict(
        point_id=point.point_id,
        level=None,
        band=None,
        at_least=False,
        near_line=False,
        clears=False,
        trended=False,
        reference=None,
        value_k=None,
        common_k=None,
        rise_air_k=None,
        load_ratio=None,
        share_of_rated=None,
        over_first_line=False,
        rule=rule,
        sentence=f"{NO_VERDICT}: {told}.",
        cautions=_cautions(point),
    )
