"""Recordings on their way in: raw pieces at a known offset, never a form."""

from datetime import UTC, datetime
from typing import Annotated, Final

from fastapi import APIRouter, Header, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from optimiser.service.answers import answer
from optimiser.service.bodies import UploadBody
from optimiser.service.desk import AtDesk, By
from optimiser.storage import Upload
from optimiser.workflow import add_piece, recording_view

router = APIRouter(prefix="/api/uploads", tags=["uploads"])

PIECE_BYTES: Final = 768 << 10
"""Bytes of a piece that passes the usual limit of 1 MB in a proxy; the server takes up to 8 MiB."""


@router.post("", status_code=201)
def begin_upload(body: UploadBody, desk: AtDesk, by: By) -> Response:
    """Announce a file: its label, its size in bytes and the SHA-256 of the whole."""
    upload = desk.store.uploads.begin(body.name, body.bytes, body.sha256, datetime.now(UTC), by.key)
    view = {**recording_view(upload), "piece_bytes": PIECE_BYTES}
    return answer(view, 201, {**_told(upload), "Location": f"uploads/{upload.id}"})


@router.head("/{upload}", status_code=204)
def where_to_go_on(upload: str, desk: AtDesk) -> Response:
    """The offset at which the next piece goes, as the header Upload-Offset."""
    return Response(status_code=204, headers=_told(desk.store.uploads.get(upload)))


@router.get("/{upload}")
def how_far(upload: str, desk: AtDesk) -> Response:
    """The same as JSON."""
    found = desk.store.uploads.get(upload)
    return answer(recording_view(found), headers=_told(found))


@router.patch(
    "/{upload}",
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
        }
    },
)
async def send_piece(
    upload: str,
    request: Request,
    desk: AtDesk,
    offset: Annotated[int, Header(alias="Upload-Offset", ge=0, le=1 << 40)],
) -> Response:
    """Send the bytes from an offset on; a piece that was cut off is not kept, and one sent twice is told so (409)."""
    piece = await request.body()
    view = await run_in_threadpool(add_piece, desk.store, upload, offset, piece)
    return answer(view, headers={"Upload-Offset": str(view["offset"]), "Upload-Complete": _truth(view["whole"])})


@router.delete("/{upload}", status_code=204)
def drop_upload(upload: str, desk: AtDesk) -> Response:
    """Forget a file that was sent."""
    desk.store.uploads.get(upload)
    desk.store.uploads.drop(upload)
    return Response(status_code=204)


def _told(upload: Upload) -> dict[str, str]:
    return {
        "Upload-Offset": str(upload.offset),
        "Upload-Length": str(upload.bytes),
        "Upload-Complete": _truth(upload.whole),
    }


def _truth(told: object) -> str:
    """A truth as a header carries it (RFC 8941)."""
    return "?1" if told else "?0"
