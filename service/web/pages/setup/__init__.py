"""Pages on which integrators and administrators set things up."""

from typing import Final

from fastapi import APIRouter

from service.web.pages.setup import devices, home, names, retention, sheets, uploads, vehicle, vehicles

ROUTERS: Final[tuple[APIRouter, ...]] = (
    home.router,
    vehicles.router,
    vehicle.router,
    vehicle.erasing,
    sheets.router,
    sheets.approving,
    names.router,
    devices.router,
    retention.router,
    uploads.router,
)
"""Routes of the setup."""
