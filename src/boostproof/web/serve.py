"""Run the worksheet on this machine: loopback only, address printed, browser opened."""

from __future__ import annotations

import contextlib
import json
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.errors import InputError

if TYPE_CHECKING:
    import uvicorn
    from fastapi import FastAPI

    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

PORT = 8321
HOST = "127.0.0.1"
_GRACE = 3  # seconds for requests that run when it is stopped


def serve(
    *,
    port: int | None = None,
    data: Path | None = None,
    browser: bool = True,
    as_json: bool = False,
    say: Callable[[str], None],
    prepare: Callable[[Store, Work], None] | None = None,
) -> None:
    """Serve until stopped.

    Parameters
    ----------
    port : the port; without one the usual one, or a free one where that is taken. 0: any free one.
    data : the folder of the store; without one the user's
    browser : open the page in the browser
    as_json : say the address as one JSON object
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
    from boostproof.web.ahead import PLACE
    from boostproof.web.app import create_app

    with contextlib.ExitStack() as open_things:
        listener = open_things.enter_context(contextlib.closing(_listen(port)))
        store = open_things.enter_context(Store.open(data))
        work = open_things.enter_context(contextlib.closing(Work(store, afterwards=PLACE)))
        if prepare is not None:
            prepare(store, work)
        app = create_app(store, work)
        config = uvicorn.Config(
            app, log_level="warning", access_log=False, lifespan="off", proxy_headers=False,
            server_header=False, timeout_graceful_shutdown=_GRACE,
        )  # fmt: skip
        listener.listen(config.backlog)
        address = f"http://{HOST}:{listener.getsockname()[1]}/"
        _tell(address, as_json=as_json, say=say)
        if browser:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
        open_things.enter_context(contextlib.suppress(KeyboardInterrupt))
        open_things.enter_context(_ended_by_term())
        server = uvicorn.Server(config)
        open_things.enter_context(_warming(server, app))
        server.run(sockets=[listener])


@contextlib.contextmanager
def _warming(server: uvicorn.Server, app: FastAPI) -> Iterator[None]:
    """Beside the server, load what its first visitors would wait for; it is over when the server is."""
    from boostproof.web.warm import warm_up

    over = threading.Event()
    thread = threading.Thread(
        target=warm_up, args=(lambda: bool(server.server_state.tasks), over.is_set, app.routes),
        name="boostproof-warm", daemon=True,
    )  # fmt: skip
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def serve_demo(directory: Path, *, port: int | None = None, browser: bool = True, say: Callable[[str], None]) -> None:
    """Serve the invented demo shop: its folder holds the store, and the store the demo job.

    Parameters
    ----------
    directory : a new or empty folder, or one of an earlier demo
    port, browser, say : as :func:`serve`

    Raises
    ------
    InputError
        If the folder holds something that no demo wrote.
    """
    from boostproof.web.demo_job import open_demo_job
    from boostproof.workflows.demo import claim

    claim(directory)

    def prepare(store: Store, work: Work) -> None:
        if not store.jobs():
            work.start(open_demo_job(store).id, "diagnose", {})

    serve(port=port, data=directory / "store", browser=browser, say=say, prepare=prepare)


def _tell(address: str, *, as_json: bool, say: Callable[[str], None]) -> None:
    if as_json:
        answer: dict[str, Any] = {"format": 1, "address": address}
        say(json.dumps(answer))
    else:
        say(f"The worksheet is at {address}")
        say("It is served to this machine only. Stop it with Ctrl-C.")
    sys.stdout.flush()


def _listen(port: int | None) -> socket.socket:
    """A socket on loopback, bound before the address is said."""
    for wanted in [PORT, 0] if port is None else [port]:
        # Named as TCP, or the event loop leaves the last part of an answer waiting 40 ms for a sign of the reader.
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        if sys.platform != "win32":  # there it would let two programs share the port
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, wanted))
        except OSError:
            listener.close()
            continue
        return listener
    raise InputError(
        f"Port {port} is taken by another program, or not allowed.", kind="port-taken",
        do="Name another with --port, or leave it out.",
    )  # fmt: skip


@contextlib.contextmanager
def _ended_by_term() -> Iterator[None]:
    """Being told to end counts as being stopped: what is open is closed first."""

    def stop(number: int, frame: object) -> None:
        raise KeyboardInterrupt

    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
