"""A browser that goes away while it sends."""

import asyncio
import logging
from collections.abc import Iterator

import pytest
from starlette.types import Message

from camerawright.store.workshop import Workshop
from camerawright.web.app import create_app
from camerawright.workshop.rows import Job


@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "multipart/form-data; boundary=x"])
@pytest.mark.parametrize("page", ["", "/measure", "/record", "/journal/import", "/intake"])
def test_a_request_that_breaks_off_leaves_no_trace(
    workshop: Workshop, job: Job, page: str, kind: str, caplog: pytest.LogCaptureFixture
) -> None:
    """The terminal of `serve` showed a page of Python once."""
    parts: Iterator[Message] = iter(
        ({"type": "http.request", "body": b"a=1", "more_body": True}, {"type": "http.disconnect"})
    )
    answers: list[Message] = []

    async def receive() -> Message:
        return next(parts, {"type": "http.disconnect"})

    async def send(message: Message) -> None:
        answers.append(message)

    headers = [(b"host", b"localhost"), (b"content-type", kind.encode()), (b"content-length", b"500")]
    path = f"/jobs/{job.id}{page}"
    scope = {
        "type": "http", "method": "POST", "path": path, "raw_path": path.encode(), "query_string": b"",
        "headers": headers, "scheme": "http", "server": ("localhost", 80), "http_version": "1.1", "root_path": "",
    }  # fmt: skip
    with caplog.at_level(logging.INFO):
        asyncio.run(create_app(workshop)(scope, receive, send))
    assert answers[0]["status"] == 400
    assert not [record for record in caplog.records if record.name != "asyncio"]
    assert workshop.journal(job.id) == ()
