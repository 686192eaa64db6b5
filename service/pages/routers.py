"""Every router of the HTML door."""

from fastapi import APIRouter

from service.pages import assets, audit, desk, findings, people, reports, set_up, sign_in, tokens

ROUTERS: tuple[APIRouter, ...] = (
    assets.router,
    sign_in.router,
    desk.router,
    findings.router,
    reports.router,
    set_up.router,
    people.router,
    tokens.router,
    audit.router,
)
