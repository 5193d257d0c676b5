"""Every refusal of the console in one form: a problem document for programs, a page for people.

Source: RFC 9457, sections 3 and 4 (media type application/problem+json, members, about:blank).
"""

from __future__ import annotations

from http import HTTPStatus

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

MEDIA_TYPE = "application/problem+json"


class Problem(HTTPException):
    """Something that is refused.

    Attributes:
        field: Which member or field was at fault; empty for none.
    """

    def __init__(
        self,
        status: HTTPStatus,
        detail: str,
        field: str = "",
        headers: dict[str, str] | None = None,
    ) -> None:
        super().__init__(int(status), detail, headers)
        self.field = field


def problem_response(status: int, detail: str, field: str = "", **headers: str) -> Response:
    """Write a problem document.

    Args:
        status: HTTP status code.
        detail: What is wrong here and what is accepted, for a person.
        field: The member at fault.
        headers: Further headers.
    """
    title = HTTPStatus(status).phrase
    document: dict[str, object] = {
        "type": "about:blank",
        "title": title,
        "status": status,
        "detail": detail,
    }
    if field:
        document["field"] = field
    return JSONResponse(document, status, headers, media_type=MEDIA_TYPE)


def wants_page(request: Request) -> bool:
    """Whether a person's browser asks for a page, and not a program."""
    path = request.url.path
    return not path.startswith("/api/") and "text/html" in request.headers.get("accept", "")
