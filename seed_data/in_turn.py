"""Machines of the invented works that run in turn, what its control room was asked, and the weather to come."""

from datetime import date, datetime

from seed_data.founding import ids_of
from seed_data.hours import TUESDAY, weekday_from
from seed_data.walking import Ground
from service.domain.forecasts import Forecast
from service.domain.register import Noun
from service.domain.rounds import Round
from service.usecases.plans.forecasts import type_forecast
from service.usecases.register.browse import see_thing
from service.usecases.register.edit import edit_thing
from service.usecases.rounds.run_requests import answer_run_request, ask_to_run

#: on the round to come: the first of them is asked for, the other stands by
WASH_WATER, LOW_LIFT = "wash-water pumps", "low-lift pumps"
PUMPS = {"WEN-P3": WASH_WATER, "WEN-P5": WASH_WATER, "SAL-P1": LOW_LIFT, "SAL-P5": LOW_LIFT}
ASKED_OF, ANSWER = "Control room of the works", "Switched over at 06:00; pump 5 stands by that day"
#: a wet and windy day at a site with a transformer in its yard
FORECAST_SITE, RAIN_MM, WIND_M_S, WORDS = "SAL", 6.0, 7.0, "rain from the west"


def put_in_turn(ground: Ground, *, now: datetime) -> None:
    """Two pumps run in turn at each of two sites from now on: what was read before was read running."""
    for tag, key in _pumps(ground).items():
        seen = see_thing(ground.store, ground.engineer, Noun.EQUIPMENT, key).thing
        edit_thing(
            ground.store,
            ground.engineer,
            Noun.EQUIPMENT,
            key,
            version=seen.version,
            fields={"duty_group": PUMPS[tag]},
            now=now,
        )


def ask_the_works(ground: Ground, round_: Round, *, now: datetime) -> None:
    """One of the pumps is asked to run for the round to come, and will."""
    if key := _pumps(ground).get(next(iter(PUMPS))):
        (one,) = ask_to_run(ground.store, ground.engineer, round_.id, [key], asked_of=ASKED_OF, now=now)
        answer_run_request(
            ground.store,
            ground.engineer,
            one.id,
            agreed=True,
            answer=ANSWER,
            version=one.version,
            now=now,
        )


def expect_weather(ground: Ground, month: date, *, now: datetime) -> None:
    """A forecast that keeps outdoor readings off one day of the month."""
    if FORECAST_SITE in ground.site_ids:
        day = weekday_from(month.replace(day=1), TUESDAY)
        typed = Forecast(ground.site_ids[FORECAST_SITE], day, WORDS, WIND_M_S, RAIN_MM)
        type_forecast(ground.store, ground.engineer, typed, now=now)


def _pumps(ground: Ground) -> dict[str, int]:
    equipment = ids_of(ground.store, ground.engineer, Noun.EQUIPMENT)
    return {tag: equipment[tag] for tag in PUMPS if tag in equipment}
