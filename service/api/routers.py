"""Every router of the JSON door, in the order of the documentation."""

from fastapi import APIRouter

from service.api import audit, findings, people, permits, rounds, routes, tokens

ROUTERS: tuple[APIRouter, ...] = (
    routes.router,
    rounds.router,
    permits.router,
    findings.router,
    people.router,
    tokens.router,
    audit.router,
)
