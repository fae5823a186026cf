"""A file as the body of a request or as the part of a form, within a limit of its own."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from tempfile import SpooledTemporaryFile
from typing import Any, BinaryIO, cast

from flask import g, request
from werkzeug.exceptions import RequestEntityTooLarge

from service.api.framework import context
from service.api.framework.problems import Fault, Problem, invalid

CSV = "text/csv"
WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
FORM = "multipart/form-data"
CHUNK = 65_536
IN_MEMORY = 1_000_000


def described() -> Mapping[str, Any]:
    """The body in the service's description."""
    file = {"type": "string", "contentMediaType": "application/octet-stream"}
    form = {"type": "object", "required": ["file"], "properties": {"file": file}}
    return {
        "required": True,
        "content": {CSV: {"schema": {"type": "string"}}, WORKBOOK: {"schema": file}, FORM: {"schema": form}},
    }


@contextmanager
def receiving() -> Iterator[None]:
    """Take in the file of the current request, for `received` and `digest`; 413 over the limit."""
    with SpooledTemporaryFile(max_size=IN_MEMORY) as file:
        g.upload_digest = _take_in(file)
        g.upload = file
        yield


def _take_in(file: Any) -> str:
    """Write the request's file to `file`; its SHA-256."""
    request.max_content_length = limit = context.parts().settings.max_import_bytes
    if request.mimetype not in {CSV, WORKBOOK, FORM, "application/octet-stream"}:
        raise Problem(415, f"The body must be {CSV}, a workbook ({WORKBOOK}) or {FORM}.")
    source, hashed, size = _stream(), hashlib.sha256(), 0
    while chunk := source.read(CHUNK):
        size += len(chunk)
        if size > limit:
            raise RequestEntityTooLarge
        hashed.update(chunk)
        file.write(chunk)
    if request.content_length is None and request.environ["wsgi.input"].read(1):
        raise RequestEntityTooLarge
    file.seek(0)
    return hashed.hexdigest()


def _stream() -> Any:
    if request.mimetype != FORM:
        return request.stream
    files = list(request.files.values())
    if len(files) != 1:
        raise invalid(Fault("A form has one file.", pointer="/file"))
    return files[0].stream


def received() -> BinaryIO:
    return cast(BinaryIO, g.upload)


def digest() -> str | None:
    """The SHA-256 of the file, None where the request has none."""
    return cast("str | None", g.get("upload_digest"))


def charset() -> str | None:
    """The encoding that the request's own media type names."""
    return request.mimetype_params.get("charset")
