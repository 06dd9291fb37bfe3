"""Routes for people: each page fills one documented view of the dashboards room."""

from typing import Final

from fastapi import APIRouter

from service.web.pages import (
    account,
    acting,
    api_docs,
    choices,
    coverage,
    dictionary,
    exports,
    findings,
    help,
    jobs,
    log,
    people,
    plan,
    problem,
    reporting,
    setup,
    sign_in,
    static,
    ticket,
    vehicle,
    vehicles,
    week,
    work,
)

ROUTERS: Final[tuple[APIRouter, ...]] = (
    help.router,
    week.router,
    plan.router,
    vehicles.router,
    vehicle.router,
    work.router,
    reporting.complaints,
    reporting.raising,
    acting.router,
    findings.router,
    ticket.router,
    coverage.router,
    coverage.settling,
    exports.router,
    dictionary.router,
    jobs.router,
    problem.router,
    choices.router,
    *setup.ROUTERS,
    sign_in.router,
    account.router,
    people.router,
    log.router,
    static.router,
    api_docs.router,
)
"""Every page's routes."""
