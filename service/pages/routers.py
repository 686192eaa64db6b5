"""Every router of the HTML door."""

from fastapi import APIRouter

from service.pages import (
    assets,
    audit,
    criteria,
    desk,
    equipment,
    findings,
    instruments,
    people,
    points,
    register,
    register_import,
    reports,
    returns,
    set_up,
    sign_in,
    standing,
    tokens,
)

ROUTERS: tuple[APIRouter, ...] = (
    assets.router,
    sign_in.router,
    standing.router,
    points.router,
    equipment.router,
    register_import.router,
    register.router,
    instruments.router,
    desk.router,
    findings.router,
    returns.router,
    reports.router,
    set_up.router,
    people.router,
    tokens.router,
    audit.router,
    criteria.router,
)
