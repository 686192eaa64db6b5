"""Every router of the JSON door, in the order of the documentation."""

from fastapi import APIRouter

from service.api import audit, findings, people, tokens

ROUTERS: tuple[APIRouter, ...] = (
    findings.router,
    people.router,
    tokens.router,
    audit.router,
)
