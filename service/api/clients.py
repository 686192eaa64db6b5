"""Clients over JSON."""

from service.api.register_router import register_router
from service.domain.register import Noun

router = register_router(Noun.CLIENT)
