"""Routes for programs: everything under /api/v1, and the two signs of life."""

from typing import Final

from fastapi import APIRouter

from service.web.api import exports, health, lists, loads, refusals, snapshots, tickets

ROUTERS: Final[tuple[APIRouter, ...]] = (
    snapshots.router,
    lists.router,
    loads.router,
    tickets.router,
    refusals.router,
    exports.router,
)

__all__ = ["ROUTERS", "exports", "health", "lists", "loads", "refusals", "snapshots", "tickets"]
