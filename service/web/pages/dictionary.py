"""The data dictionary, as a page and as a file."""

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.dictionary import dictionary_csv, dictionary_view
from dashboards.exports.columns import DATASETS
from dashboards.exports.files import MEDIA_TYPES
from dashboards.exports.table_schema import MEDIA_TYPE as SCHEMA_MEDIA_TYPE
from dashboards.exports.table_schema import schema_bytes
from service.web.pages.frames import make_frame, show
from service.web.query import choose
from service.web.readers import anyone

router = APIRouter(dependencies=[Depends(anyone)])


@router.get("/dictionary")
def dictionary_page(request: Request, dataset: str = "tickets") -> HTMLResponse:
    """Say what each column of each file means, for the analyst; those of one dataset are unfolded."""
    choose("dataset", dataset, tuple(DATASETS))
    return show(dictionary_view(dataset), make_frame(request, "Dictionary"))


@router.get("/dictionary/{dataset}.schema.json")
def schema_file(dataset: str) -> Response:
    """Give the Table Schema of a dataset's file, for programs that check what they read."""
    choose("dataset", dataset, tuple(DATASETS))
    return Response(schema_bytes(DATASETS[dataset]), media_type=SCHEMA_MEDIA_TYPE)


@router.get("/dictionary.csv")
def dictionary_file() -> Response:
    """Give the dictionary as a file."""
    headers = {"content-disposition": 'attachment; filename="forelamp-dictionary.csv"'}
    return Response(dictionary_csv(), media_type=MEDIA_TYPES["csv"], headers=headers)
