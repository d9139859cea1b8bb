"""Run the worksheet on this machine: loopback only, address printed, browser opened."""

from __future__ import annotations

import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

from boostproof.errors import InputError

PORT = 8321
HOST = "127.0.0.1"


def serve(
    *,
    port: int | None = None,
    data: Path | None = None,
    browser: bool = True,
    say: Callable[[str], None],
    prepare: Callable[[object, object], None] | None = None,
) -> None:
    """Serve until stopped.

    Parameters
    ----------
    port : the port; without one the usual one, or a free one where that is taken. 0: any free one.
    data : the folder of the store; without one the user's
    browser : open the page in the browser
    say : takes the lines for the person who started it
    prepare : called with store and work before the first request

    Raises
    ------
    InputError
        If the port is taken, or the store cannot be opened.
    """
    import uvicorn

    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work
    from boostproof.web.app import create_app

    listener = _listen(port)
    address = f"http://{HOST}:{listener.getsockname()[1]}/"
    store = Store.open(data)
    work = Work(store)
    try:
        if prepare is not None:
            prepare(store, work)
        config = uvicorn.Config(
            create_app(store, work), log_level="warning", proxy_headers=False, server_header=False, access_log=False,
            lifespan="off",
        )  # fmt: skip
        say(f"The worksheet is at {address}")
        say("It is served to this machine only. Stop it with Ctrl-C.")
        if browser:
            threading.Timer(0.6, webbrowser.open, (address,)).start()
        uvicorn.Server(config).run(sockets=[listener])
    finally:
        work.close()
        store.close()
        listener.close()


def _listen(port: int | None) -> socket.socket:
    """A listening socket on loopback, so that the address is known before it is printed."""
    for wanted in ([PORT, 0] if port is None else [port]):
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, wanted))
        except OSError:
            listener.close()
            continue
        return listener
    raise InputError(
        f"Port {port} is taken by another program.", kind="port-taken", do="Name another with --port, or leave it out."
    )
