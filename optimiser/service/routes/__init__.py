"""The routes, each in the file of its part of the hunt. Every one calls a step of the workflow and sends its view."""

from typing import Final

from fastapi import APIRouter

from optimiser.service.routes import events, hunting, jobs, listening, looking, pairing, reels, studies, uploads

ROUTERS: Final[tuple[APIRouter, ...]] = tuple(
    file.router for file in (studies, hunting, looking, listening, reels, uploads, jobs, events, pairing)
)

__all__ = ["ROUTERS"]
