"""Every router of the JSON door, in the order of the documentation."""

from fastapi import APIRouter

ROUTERS: tuple[APIRouter, ...] = ()
