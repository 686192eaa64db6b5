"""Every router of the HTML door."""

from fastapi import APIRouter

ROUTERS: tuple[APIRouter, ...] = ()
