"""Every router of the JSON door, in the order of the documentation."""

from fastapi import APIRouter

from service.api import (
    areas,
    audit,
    clients,
    criteria,
    equipment,
    findings,
    imports,
    instruments,
    people,
    permits,
    points,
    rasters,
    readings,
    reevaluations,
    rounds,
    routes,
    sites,
    tokens,
    views,
)

ROUTERS: tuple[APIRouter, ...] = (
    clients.router,
    sites.router,
    areas.router,
    equipment.router,
    views.router,
    points.router,
    instruments.router,
    equipment.search_router,
    imports.router,
    routes.router,
    rounds.router,
    readings.router,
    rasters.router,
    reevaluations.router,
    permits.router,
    findings.router,
    criteria.router,
    people.router,
    tokens.router,
    audit.router,
)
