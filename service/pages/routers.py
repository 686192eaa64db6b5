"""Every router of the HTML door."""

from fastapi import APIRouter

from service.pages import sign_in

ROUTERS: tuple[APIRouter, ...] = (sign_in.router,)
