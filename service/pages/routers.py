"""Every router of the HTML door."""

from fastapi import APIRouter

from service.pages import assets, desk, findings, reports, sign_in

ROUTERS: tuple[APIRouter, ...] = (
    assets.router,
    sign_in.router,
    desk.router,
    findings.router,
    reports.router,
)
