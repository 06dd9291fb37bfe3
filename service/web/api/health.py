"""Two signs of life: the process answers; the store answers and its tables fit."""

from fastapi import APIRouter, Depends, Request
from starlette.responses import JSONResponse

from service.store import StoreUnavailable
from service.web.described import answers
from service.web.errors import NotReady
from service.web.readers import public
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(public)])

_STATUS = {
    "type": "object",
    "required": ["status"],
    "properties": {"status": {"enum": ["alive", "ready"]}},
    "additionalProperties": False,
}


def _described(operation: str, summary: str, codes: tuple[str, ...]) -> dict[str, object]:
    responses = answers((*codes, "internal-error"))
    responses[200] = {"description": "Yes.", "content": {"application/json": {"schema": _STATUS}}}
    return {"operation_id": operation, "summary": summary, "response_model": None, "responses": responses}


@router.get("/livez", **_described("is_alive", "Does the process answer?", ()))  # type: ignore[arg-type]
async def livez() -> JSONResponse:
    """Say that the process answers; for whoever restarts it. Asks nothing of the store."""
    return JSONResponse({"status": "alive"})


@router.get(
    "/readyz",
    **_described("is_ready", "Can it serve?", ("store-unavailable", "schema-mismatch")),  # type: ignore[arg-type]
)
def readyz(request: Request) -> JSONResponse:
    """Say whether the store answers and its tables fit; for whoever sends requests here."""
    health = shell_of(request).store.health()
    if not health.reachable:
        raise StoreUnavailable(health.detail)
    if not health.ready:
        raise NotReady(
            f"The store's tables are at revision '{health.revision or 'none'}'; this program needs"
            f" '{health.wanted}'. Run 'forelamp migrate'."
        )
    return JSONResponse({"status": "ready"})
