"""Forecasts as typed: one per site and day."""

from collections.abc import Collection
from datetime import date, datetime

from sqlalchemy import select

from service.domain.forecasts import Forecast
from service.storage.tables.planning import SiteForecastRow
from service.storage.unit import Unit


def forecasts_between(
    unit: Unit, site_ids: Collection[int], *, first: date, last: date
) -> tuple[Forecast, ...]:
    """Of these sites from a day to another, both included; by day, then site."""
    row = SiteForecastRow
    query = select(row).where(row.site_id.in_(site_ids), row.day >= first, row.day <= last)
    return tuple(_forecast(one) for one in unit.session.scalars(query.order_by(row.day, row.site_id)))


def put_forecast(unit: Unit, forecast: Forecast, *, by: int | None, now: datetime) -> Forecast | None:
    """Keep it in the place of the one before, which is given back."""
    row = _row(unit, forecast.site_id, forecast.day)
    before = None if row is None else _forecast(row)
    if row is None:
        row = SiteForecastRow(site_id=forecast.site_id, day=forecast.day)
        unit.session.add(row)
    for name in ("words", "wind_m_s", "rain_mm", "unfit"):
        setattr(row, name, getattr(forecast, name))
    row.at, row.by_person_id = now, by
    unit.session.flush()
    return before


def remove_forecast(unit: Unit, site_id: int, day: date) -> Forecast | None:
    """Take it away; None where there was none."""
    row = _row(unit, site_id, day)
    if row is None:
        return None
    gone = _forecast(row)
    unit.session.delete(row)
    unit.session.flush()
    return gone


def _row(unit: Unit, site_id: int, day: date) -> SiteForecastRow | None:
    query = select(SiteForecastRow).where(SiteForecastRow.site_id == site_id, SiteForecastRow.day == day)
    return unit.session.scalar(query.with_for_update())


def _forecast(row: SiteForecastRow) -> Forecast:
    return Forecast(
        site_id=row.site_id,
        day=row.day,
        words=row.words,
        wind_m_s=row.wind_m_s,
        rain_mm=row.rain_mm,
        unfit=row.unfit,
    )
