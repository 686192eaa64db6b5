"""The whole service on a free port of this machine, in a thread, for as long as a block lasts."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn
from fastapi import FastAPI

STARTS_WITHIN_S = 30


class _Server(uvicorn.Server):
    """Tells when it answers, so that nobody has to ask again and again."""

    def __init__(self, config: uvicorn.Config) -> None:
        super().__init__(config)
        self.answers = threading.Event()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets=sockets)
        self.answers.set()


@contextmanager
def serving(app: FastAPI) -> Iterator[str]:
    """The address at which the app answers."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port = listening.getsockname()[1]
        server = _Server(uvicorn.Config(app, log_level="warning", server_header=False))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, name="server")
        thread.start()
        try:
            assert server.answers.wait(STARTS_WITHIN_S), "the server did not start"
            yield f"http://127.0.0.1:{port}"
        finally:
            server.should_exit = True
            thread.join(timeout=30)
