"""Errors to application/problem+json (RFC 9457): the only room of the API that knows status codes."""

import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from service import errors

log = logging.getLogger(__name__)
MEDIA_TYPE = "application/problem+json"

STATUS: dict[type[errors.RiselineError], int] = {
    errors.Invalid: 422,
    errors.NotSignedIn: 401,
    errors.Forbidden: 403,
    errors.NotFound: 404,
    errors.Conflict: 409,
    errors.Stale: 412,
    errors.VersionMissing: 428,
    errors.KeyMissing: 400,
    errors.KeyReused: 422,
    errors.KeyBusy: 409,
    errors.TooLarge: 413,
    errors.Unsupported: 415,
    errors.TooManyTries: 429,
    errors.Unavailable: 503,
    errors.StorageFull: 507,
}
MOST_PROBLEMS = 1000


def status_of(error: errors.RiselineError) -> int:
    return next((STATUS[kind] for kind in type(error).__mro__ if kind in STATUS), 400)


def problem_body(error: errors.RiselineError) -> dict[str, Any]:
    """The members of a problem document for one of our errors."""
    body: dict[str, Any] = {
        "type": f"urn:riseline:problem:{type(error).__name__}",
        "title": error.title,
        "status": status_of(error),
        "detail": error.message,
    }
    if error.remedy:
        body["remedy"] = error.remedy
    if isinstance(error, errors.Invalid):
        body["problems"] = [p.as_dict() for p in error.problems[:MOST_PROBLEMS]]
        body["problem_count"] = error.total
    if isinstance(error, errors.Stale):
        body["current_version"] = error.current_version
    return body


def _reply(body: dict[str, Any], headers: Mapping[str, str] | None = None) -> JSONResponse:
    return JSONResponse(body, status_code=body["status"], media_type=MEDIA_TYPE, headers=dict(headers or {}))


def answer_riseline_error(_request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, errors.RiselineError)
    headers = {}
    if isinstance(error, errors.Unavailable):
        headers["Retry-After"] = "2"
    if isinstance(error, errors.NotSignedIn):
        headers["WWW-Authenticate"] = "Bearer"
    if isinstance(error, errors.Stale):
        headers["ETag"] = f'"{error.current_version}"'
    return _reply(problem_body(error), headers)


def answer_invalid_request(_request: Request, error: Exception) -> JSONResponse:
    """The framework's own refusal, told as ours are."""
    assert isinstance(error, RequestValidationError)
    problems = [
        errors.Problem(
            where=".".join(str(part) for part in entry["loc"][:-1]) or "request",
            field=str(entry["loc"][-1]) if entry["loc"] else "",
            found=repr(entry.get("input"))[:80],
            message=str(entry["msg"]),
            remedy="Correct this field and send the request again.",
        )
        for entry in error.errors()
    ]
    return _reply(problem_body(errors.Invalid(problems)))


def answer_http_exception(_request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, HTTPException)
    title = HTTPStatus(error.status_code).phrase
    body = {"type": "about:blank", "title": title, "status": error.status_code, "detail": str(error.detail)}
    return _reply(body, error.headers)


def answer_unforeseen(request: Request, error: Exception) -> JSONResponse:
    log.error("unforeseen error at %s %s", request.method, request.url.path, exc_info=error)
    return _reply(
        {"type": "about:blank", "title": "Internal error", "status": 500, "detail": "It has been logged."}
    )


def answer_with_problem(request: Request, error: Exception) -> JSONResponse:
    """The problem document for any error that reached the JSON door."""
    if isinstance(error, errors.RiselineError):
        return answer_riseline_error(request, error)
    if isinstance(error, RequestValidationError):
        return answer_invalid_request(request, error)
    if isinstance(error, HTTPException):
        return answer_http_exception(request, error)
    return answer_unforeseen(request, error)


# ---- what the OpenAPI document says of problems ------------------------------------------------

_TEXT = {"type": "string"}
_SCHEMA: dict[str, Any] = {
    "title": "ProblemDocument",
    "description": "What went wrong, after RFC 9457.",
    "type": "object",
    "required": ["type", "title", "status", "detail"],
    "properties": {
        "type": _TEXT,
        "title": _TEXT,
        "status": {"type": "integer"},
        "detail": _TEXT,
        "remedy": _TEXT,
        "current_version": {"type": "integer"},
        "problem_count": {"type": "integer"},
        "problems": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["where", "field", "found", "message", "remedy"],
                "properties": dict.fromkeys(("where", "field", "found", "message", "remedy"), _TEXT),
            },
        },
    },
}
_DOCUMENTED = {
    400: "Not understood, or a header is missing",
    401: "Sign in or send a token",
    403: "The role does not allow this",
    404: "Absent, or outside what may be seen",
    405: "Not with this method",
    409: "Not possible in this state",
    412: "Changed since it was read",
    413: "Larger than accepted",
    415: "Not this kind of content",
    422: "The input has problems; nothing was stored",
    428: "If-Match is missing",
    429: "Too many tries",
    503: "The database does not answer just now",
    507: "No room to store this",
}
#: For ``responses=`` of a router; the app gives it to every router of the JSON door.
PROBLEMS: dict[int | str, dict[str, Any]] = {
    status: {
        "description": words,
        "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/ProblemDocument"}}},
    }
    for status, words in _DOCUMENTED.items()
}


def describe_problems(app: FastAPI) -> None:
    """Put the problem document among the schemas that the OpenAPI document speaks of."""
    describe = app.openapi

    def described() -> dict[str, Any]:
        document = describe()
        document.setdefault("components", {}).setdefault("schemas", {})["ProblemDocument"] = _SCHEMA
        return document

    app.openapi = described  # type: ignore[method-assign]
