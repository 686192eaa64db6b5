"""Every router of the JSON door, in the order of the documentation."""

from fastapi import APIRouter

from service.api import findings

ROUTERS: tuple[APIRouter, ...] = (findings.router,)
