"""Type the weather that is expected at a site on a day; plans then keep outdoor stops off unfit days."""

from dataclasses import asdict
from datetime import date, datetime

from service.domain.forecasts import Forecast
from service.domain.people import Actor
from service.domain.permissions import Verb, require
from service.errors import Invalid, NotFound, Problem
from service.storage import audit, forecasts, plan_sites, round_facts
from service.storage.unit import Store
from service.usecases.plans.sight import refuse_walkers
from service.usecases.rounds.typed_checks import problem, text_problems

LONGEST_WORDS = 120
#: the strongest wind and the most rain that can be meant
MOST_TYPED_WIND_M_S, MOST_TYPED_RAIN_MM = 100.0, 2000.0


def list_forecasts(store: Store, actor: Actor, *, first: date, last: date) -> tuple[Forecast, ...]:
    """Forecasts for every site in sight, from a day to another.

    Raises
    ------
    Forbidden
        Technicians see their own rounds, not the plan behind them.
    """
    refuse_walkers(actor)
    with store.look() as unit:
        sites = [site for site, _, _ in round_facts.sites_in_sight(unit, actor.site_ids)]
        return forecasts.forecasts_between(unit, sites, first=first, last=last)


def type_forecast(store: Store, actor: Actor, forecast: Forecast, *, now: datetime) -> Forecast:
    """Keep a forecast in the place of the one before.

    Raises
    ------
    NotFound, Forbidden
        The site is absent or out of sight; or not this role's.
    Invalid
        Every problem of it; nothing was stored.
    """
    require(actor, Verb.KEEP_REGISTER, site_id=forecast.site_id)
    problems = _problems(forecast)
    if problems:
        raise Invalid(problems)
    with store.begin() as unit:
        if forecast.site_id not in plan_sites.sites_to_plan(unit, [forecast.site_id]):
            raise NotFound()
        before = forecasts.put_forecast(unit, forecast, by=actor.person_id, now=now)
        audit.note(
            unit,
            actor,
            verb="forecast",
            noun="site",
            noun_id=forecast.site_id,
            now=now,
            before=None if before is None else _plain(before),
            after=_plain(forecast),
        )
    return forecast


def take_forecast_back(store: Store, actor: Actor, site_id: int, day: date, *, now: datetime) -> None:
    """Take a forecast away again.

    Raises
    ------
    NotFound, Forbidden
        There is none, or the site is out of sight; or not this role's.
    """
    require(actor, Verb.KEEP_REGISTER, site_id=site_id)
    with store.begin() as unit:
        gone = forecasts.remove_forecast(unit, site_id, day)
        if gone is None:
            raise NotFound()
        audit.note(
            unit, actor, verb="take forecast back", noun="site", noun_id=site_id, now=now, before=_plain(gone)
        )


def _plain(forecast: Forecast) -> dict[str, object]:
    return {**asdict(forecast), "day": forecast.day.isoformat()}


def _problems(forecast: Forecast) -> list[Problem]:
    found = text_problems("words", forecast.words, longest=LONGEST_WORDS)
    if not forecast.said and not forecast.unfit:
        found.append(problem("words", "", "Nothing is forecast.", "Type words, wind or rain."))
    for name, value, most in (
        ("wind_m_s", forecast.wind_m_s, MOST_TYPED_WIND_M_S),
        ("rain_mm", forecast.rain_mm, MOST_TYPED_RAIN_MM),
    ):
        if value is not None and not 0 <= value <= most:
            found.append(problem(name, f"{value:g}", f"Between 0 and {most:g}.", "Look at the figure again."))
    return found
