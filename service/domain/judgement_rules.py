"""The rules of standards.md §1a for one point, in their order, each a function on a draft."""

import math
from collections.abc import Sequence

from service.domain.bands import BandRule, Measure, Template, Unit
from service.domain.draft import GREASED_KINDS, Draft, greased_lately, indicative
from service.domain.kind_rules import KindJudged, Rises, judge_templates
from service.domain.like_parts import DIGITS, SLACK, temperature
from service.domain.rise_uncertainty import (
    chance_over,
    over_air_u_k,
    over_baseline_u_k,
    scaled_chance_over,
    scaled_u_k,
)
from service.domain.seen import NoHeatAnswer
from service.domain.words import CURRENT_KINDS, Level, ReferenceKind

#: Members bound once: looking one up on its class costs more than a comparison.
_LIKE_PARTS = ReferenceKind.LIKE_PARTS
_RATED_SHARE = ReferenceKind.RATED_SHARE
_LOOK_AGAIN = Level.LOOK_AGAIN
_NOTHING_FOUND = Level.NOTHING_FOUND
_ACT_NOW = Level.ACT_NOW
LIMIT_AIR_C = 40.0

#: Short codes of the rule that decided, as kept with every verdict.
RULE_SIMILAR = "1a.2 similar"
RULE_COMMON_LOAD = "1a.1 common load"
RULE_LIMIT = "1a.2 limit"
RULE_SHARE = "1a.3 rated share"
RULE_BASELINE = "1a.3 baseline"
RULE_AIR = "1a.3 air"
RULE_BASELINE_FORMING = "1a.3 baseline forming"
RULE_NO_AIR = "1a.3 no air temperature"
RULE_NEAR_LINE = "1a.4 near the line"
RULE_COLD = "1a.6 cold"
RULE_NO_HEAT = "1a.7 no heat seen"
RULE_COULD_NOT_CLEAR = "1a.8 could not clear"
RULE_RANGE_BOTTOM = "1a.8 bottom of range"
RULE_NOT_COMPUTED = "1a.8 not computed"
RULE_TWIN_ONLY = "1a.8 comparison only"
RULE_TOTAL = "1a.9 total temperature"
RULE_NO_BAND = "1a.11 no band"
RULE_TEMPLATE = "1a.11 site's own band"


def decide(draft: Draft, rule: BandRule, *, value: float, u: float | None, code: str) -> None:
    """Put a value in its band by one column (rule 1); value and ``u`` in the column's unit."""
    place = rule.place(value)
    draft.column, draft.judged_u = rule, u
    draft.level = draft.band = rule.levels[place]
    draft.over_first_line = draft.level > _NOTHING_FOUND
    draft.judged = value
    draft.first_line = rule.edges[0].value
    draft.published_band = rule.bands[place]
    draft.source = rule.cited
    draft.rule = code


def rule_1_common_load(draft: Draft) -> None:
    """The figure at common load raises a level only when it is firm."""
    column, level, common_k = draft.column, draft.level, draft.common_k
    if column is None or level is None or common_k is None or draft.value_k is None:
        return
    if draft.reference not in (_LIKE_PARTS, ReferenceKind.AIR):
        return  # share of rated rise and baseline are at common load by themselves
    u_k = draft.u_at_common_load(draft.value_k, draft.u_k)
    if u_k is None:
        return
    firm = _NOTHING_FOUND
    for above, line in column.lines:
        if scaled_chance_over(common_k, line, u=u_k) >= draft.criteria.firm_chance:
            firm = max(firm, above)
    if draft.reference is ReferenceKind.AIR and firm < draft.criteria.air_alone_from_level:
        return
    if firm > level:
        told = "its like parts" if draft.reference is _LIKE_PARTS else "air"
        note = f"firmly so at common load, {common_k:.1f} K over {told}"
        draft.firm_at_common = True
        draft.raise_to(firm, RULE_COMMON_LOAD, source=column.cited, note=note)


def rule_2_like_part(draft: Draft, value_k: float, *, u_k: float | None) -> None:
    """With a like part the similar column decides."""
    draft.reference = _LIKE_PARTS
    draft.value_k, draft.u_k = value_k, u_k
    draft.common_k = draft.at_common_load(value_k)
    decide(draft, draft.criteria.similar, value=value_k, u=u_k, code=RULE_SIMILAR)


def rule_3_no_like_part(draft: Draft) -> None:
    """Without one: share of rated rise, else own baseline and air, else no verdict."""
    air_k, criteria = draft.air_k, draft.criteria
    draft.reference = ReferenceKind.AIR
    if air_k is None:
        draft.refuse(RULE_NO_AIR, "no like part, and no air temperature")
        return
    emissivity = draft.point.emissivity
    if emissivity is not None and emissivity < criteria.emissivity_twin_only:
        draft.refuse(RULE_TWIN_ONLY, f"emissivity {emissivity:g}: only a like part could be compared")
        return
    draft.value_k, draft.u_k = air_k, u_over_air(draft)
    draft.common_k = draft.at_common_load(air_k)
    if draft.share is not None:
        draft.reference = _RATED_SHARE
        if not draft.share_scaled:
            draft.air_hidden.append("not brought to the rated load")
        decide(draft, criteria.rated_share, value=draft.share, u=_u_of_share(draft), code=RULE_SHARE)
        return
    if draft.point.baseline_k is not None:
        _over_baseline(draft, air_k, baseline_k=draft.point.baseline_k)
    _over_air_alone(draft, air_k)


def u_over_air(draft: Draft) -> float | None:
    """Standard uncertainty of the rise over air [K]."""
    measured = draft.point.measured
    return None if measured is None else over_air_u_k(measured)


def u_over_baseline(draft: Draft) -> float | None:
    """Standard uncertainty of the rise over the point's own baseline [K]."""
    measured = draft.point.measured
    return None if measured is None else over_baseline_u_k(measured)


def _u_of_share(draft: Draft) -> float | None:
    """Standard uncertainty of the share of rated rise [%]; the rating itself is taken as exact."""
    if draft.u_k is None or draft.air_k is None or draft.share is None or not draft.point.rated_rise_k:
        return None
    if draft.factor is None or not draft.point.current_a or not draft.point.rated_current_a:
        return 100.0 * draft.u_k / draft.point.rated_rise_k
    load = draft.point.current_a / draft.point.rated_current_a
    scaled = scaled_u_k(
        draft.air_k, draft.u_k, load=load, exponent=draft.criteria.exponent, exponent_u=draft.exponent_u
    )
    return 100.0 * scaled / draft.point.rated_rise_k


def _over_baseline(draft: Draft, air_k: float, *, baseline_k: float) -> None:
    """Mechanical bands over the point's own baseline, both on one scale."""
    criteria = draft.criteria
    if draft.scales and draft.factor is None:
        draft.air_hidden.append("not brought to common load")
    own_scale = draft.at_common_load(air_k) if draft.factor is not None else air_k
    assert own_scale is not None
    value = round(own_scale - baseline_k, DIGITS)
    draft.u_k = u_over_baseline(draft)
    u = draft.u_k if draft.factor is None else draft.u_at_common_load(value / draft.factor, draft.u_k)
    decide(draft, criteria.baseline, value=value, u=u, code=RULE_BASELINE)
    draft.reference = ReferenceKind.BASELINE
    draft.first_line = two_u(draft)
    if value < draft.first_line:
        draft.level = draft.band = _NOTHING_FOUND
        draft.published_band = f"within {draft.first_line:g} K of its baseline"
        draft.over_first_line = False
    draft.common_k = value if draft.factor is not None else None
    draft.value_k = value if draft.factor is None else round(value / draft.factor, DIGITS)


def two_u(draft: Draft) -> float:
    """Twice the standard uncertainty over the baseline; a field of the criteria without a budget [K]."""
    if draft.point.u_k is not None:
        return 2 * draft.point.u_k
    # never past the first edge, or the first band would be empty
    edge = draft.criteria.baseline.edges[0].value
    return draft.criteria.two_u_k if draft.judged_u is None else min(round(2 * draft.judged_u, 1), edge)


def _over_air_alone(draft: Draft, air_k: float) -> None:
    """The air column: shown, and a level by itself only where it may speak."""
    criteria = draft.criteria
    rule = criteria.air_for(draft.point.kind)
    told = draft.level is not None
    if not rule.silent:
        level = rule.level(air_k)
        speaks = level > 0 if rule is not criteria.air else level >= criteria.air_alone_from_level
        if speaks and (draft.level is None or level > draft.level):
            draft.u_k = u_over_air(draft)
            decide(draft, rule, value=air_k, u=draft.u_k, code=RULE_AIR)
            draft.reference = ReferenceKind.AIR
            draft.value_k, draft.common_k = air_k, draft.at_common_load(air_k)
            return
    if not told:
        if not rule.silent:
            place = rule.place(air_k)
            draft.band, draft.published_band = rule.levels[place], rule.bands[place]
        draft.source = rule.cited
        visits = criteria.baseline_visits
        note = f"no like part, and fewer than {visits} clearing visits to compare with"
        draft.refuse(RULE_BASELINE_FORMING, note)


def rule_2_limit(draft: Draft) -> None:
    """A standard's absolute limit may raise the level; an indicative reading is not checked."""
    point, criteria = draft.point, draft.criteria
    limit = criteria.book.find(point.component, point.coating, point.medium, point.voltage_class)
    if limit is None or indicative(draft):
        return
    over = -math.inf if limit.total_c is None else temperature(point) - limit.total_c
    if limit.rise_k is not None and draft.air_k is not None and (draft.view.ambient_c or 0.0) <= LIMIT_AIR_C:
        over = max(over, draft.air_k - limit.rise_k)
    over = round(over, DIGITS) if over > -math.inf else over
    if over <= 0:
        return
    level = _ACT_NOW if over > criteria.limit_act_now_over_k else Level(criteria.limit_level)
    told = " / ".join(
        f"{number:g} {unit}" for number, unit in ((limit.total_c, "°C"), (limit.rise_k, "K")) if number
    )
    note = f"{over:.1f} K past the limit for a {limit.part} ({told}, {limit.edition})"
    draft.raise_to(level, RULE_LIMIT, source=f"{limit.edition} [{limit.confidence.words}]", note=note)


def rule_4_look_again(draft: Draft) -> None:
    """Look again needs two visits running, or nine chances in ten over its line."""
    if draft.level is not _LOOK_AGAIN or draft.cold or draft.point.previous_over_first_line:
        return
    if draft.firm_at_common:
        return
    # u typed of a point is in kelvin, a share of rated rise is not
    typed = None if draft.reference is _RATED_SHARE else draft.point.u_k
    u = draft.judged_u if typed is None else typed
    judged, line = draft.judged, draft.first_line
    wanted = draft.criteria.look_again_chance
    if judged is not None and line is not None and u and chance_over(judged, line, u=u) >= wanted:
        return
    draft.level = _NOTHING_FOUND
    draft.near_line = True
    draft.rule = RULE_NEAR_LINE
    draft.notes.append("near the line: Look again if the next visit says the same")


def rule_6_cold(draft: Draft, under_k: float, *, u_k: float | None, note: str) -> None:
    """A cold part: Look again at once, "open circuit?"."""
    cold = draft.criteria.cold
    draft.level = draft.band = _LOOK_AGAIN
    draft.reference = _LIKE_PARTS
    draft.value_k, draft.u_k = -under_k, u_k
    draft.common_k = draft.at_common_load(-under_k)
    draft.cold = draft.over_first_line = True
    draft.published_band = cold.bands[-1]
    draft.source = cold.cited
    draft.rule = RULE_COLD
    draft.notes.append(note)


def rule_7_no_heat(draft: Draft) -> None:
    """No heat on bare or small parts under load: no verdict until "load or bare metal?" is answered."""
    point, criteria = draft.point, draft.criteria
    if draft.air_k is None or draft.air_k > criteria.no_heat_k or point.kind not in CURRENT_KINDS:
        return
    if draft.load is None or draft.load < criteria.min_load_share - SLACK:
        return
    if not (point.small or "bare" in point.coating.casefold()):
        return
    if point.no_heat_answer is NoHeatAnswer.NO_LOAD:
        draft.hidden.append("no load")
    elif point.no_heat_answer is None:
        if draft.level:
            draft.hidden.append("no heat seen")
        else:
            draft.refuse(RULE_NO_HEAT, "no heat seen under load; ask once: load or bare metal?")


def rule_8_second_opinion(draft: Draft, like_k: float) -> None:
    """At low load the relative difference is told as a second opinion, where a site wants it."""
    criteria = draft.criteria
    if not (criteria.relative_on and draft.load is not None and draft.low_load):
        return
    if draft.air_k is None or draft.air_k < criteria.relative_min_rise_k or like_k <= 0:
        return
    share = round(100.0 * like_k / draft.air_k, DIGITS)
    level = criteria.relative.level(share)
    draft.notes.append(f"relative difference {share:.0f} %, second opinion {level.word}")


def rule_9_bearing(draft: Draft) -> None:
    """Bearings and couplings: Act now needs total temperature too; fresh grease runs warm."""
    point, criteria = draft.point, draft.criteria
    if point.kind not in GREASED_KINDS:
        return
    hot = temperature(point) > criteria.bearing_total_c
    if draft.level is _ACT_NOW and not (hot or point.second_method_agrees):
        draft.level = Level.REPAIR_SOON
        draft.notes.append(
            f"Act now would need more than {criteria.bearing_total_c:g} °C or a second method's finding"
        )
    if hot:
        draft.raise_to(
            Level(criteria.bearing_total_level),
            RULE_TOTAL,
            source="Bearings up to 80 °C [common practice, no source]",
            note=f"over {criteria.bearing_total_c:g} °C on the part",
        )
    if not draft.level:
        return
    if greased_lately(draft) and not (hot or point.second_method_agrees):
        if draft.level > criteria.greasing_cap_level:
            draft.level = Level(criteria.greasing_cap_level)
            draft.hidden.append("greased lately")
        draft.notes.append(f"greased {point.hours_since_greased:g} h before: read again after it has settled")
    elif point.hours_since_greased is None and not point.greased_asked:
        draft.notes.append("ask when it was last greased")


def rule_11_templates(
    draft: Draft, templates: Sequence[Template], *, like_k: float | None, like_u_k: float | None
) -> None:
    """A kind without a published band: no verdict until the site fills its templates in."""
    rises = Rises(like_k, draft.air_k, _own_baseline_k(draft), draft.share)
    told = judge_templates(draft.point, draft.view, templates=templates, rises=rises, criteria=draft.criteria)
    draft.reference = templates[0].rule.reference
    draft.source = told.source
    if told.level is None or told.template is None or told.value is None:
        draft.refuse(RULE_NO_BAND, told.refused)
        return
    draft.hidden += told.hidden
    rule = told.template.rule
    if told.template.measure is not Measure.RISE:
        _decide_by_boxes(draft, told)
    elif rule.unit is not Unit.KELVIN:
        _over_air_for_information(draft, rule.reference)
        decide(draft, rule, value=told.value, u=_u_of_share(draft), code=RULE_TEMPLATE)
    else:
        us = {_LIKE_PARTS: like_u_k, ReferenceKind.BASELINE: u_over_baseline(draft)}
        draft.reference, draft.value_k = rule.reference, told.value
        draft.u_k = us.get(rule.reference, u_over_air(draft))
        if rule.reference is not ReferenceKind.BASELINE:
            draft.common_k = draft.at_common_load(told.value)
        decide(draft, rule, value=told.value, u=draft.u_k, code=RULE_TEMPLATE)


def _over_air_for_information(draft: Draft, reference: ReferenceKind) -> None:
    draft.reference = reference
    draft.value_k, draft.u_k = draft.air_k, u_over_air(draft)


def _decide_by_boxes(draft: Draft, told: KindJudged) -> None:
    """A temperature or a difference of boxes decided: the rise over air is for information."""
    assert told.level is not None
    _over_air_for_information(draft, ReferenceKind.AIR)
    draft.level = draft.band = told.level
    draft.over_first_line = told.level > _NOTHING_FOUND
    draft.told = told.told
    draft.published_band = told.band
    draft.rule = RULE_TEMPLATE


def _own_baseline_k(draft: Draft) -> float | None:
    if draft.air_k is None or draft.point.baseline_k is None:
        return None
    return round(draft.air_k - draft.point.baseline_k, DIGITS)
