"""Serving: on loopback only, on the port that was asked for, with the address said before."""

from __future__ import annotations

import asyncio
import json
import socket
import threading
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest
import uvicorn

from boostproof.cli import main
from boostproof.jobs.store import Store
from boostproof.web import serve as serving


def test_it_listens_on_this_machine_alone() -> None:
    listener = serving._listen(0)
    assert listener.getsockname()[0] == "127.0.0.1"
    listener.close()


def test_no_answer_waits_for_a_sign_of_its_reader() -> None:
    """Else the last part of an answer lies 40 ms in this machine (RFC 896, RFC 1122 4.2.3.2)."""
    told: list[int] = []

    async def exchange() -> None:
        done = asyncio.Event()

        async def heard(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            told.append(writer.get_extra_info("socket").getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()
            done.set()

        listener = serving._listen(0)
        async with await asyncio.start_server(heard, sock=listener):
            _, writer = await asyncio.open_connection(*listener.getsockname())
            await asyncio.wait_for(done.wait(), 5.0)
            writer.close()

    # in a thread of its own: a browser that other tests drive keeps a loop in this one
    apart = threading.Thread(target=lambda: asyncio.run(exchange()))
    apart.start()
    apart.join(20)
    assert told and told[0] != 0


def test_a_taken_port_is_said_and_the_usual_one_gives_way(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        taken = other.getsockname()[1]
        assert main(["serve", "--json", "--no-browser", "--port", str(taken), "--data", str(tmp_path)]) == 1
        error = json.loads(capsys.readouterr().out)["error"]
        assert error["kind"] == "port-taken" and str(taken) in error["says"]
        monkeypatch.setattr(serving, "PORT", taken)
        listener = serving._listen(None)
        assert listener.getsockname()[1] != taken
        listener.close()


@pytest.fixture
def stoppable(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Stops the server that is started next."""
    started: list[uvicorn.Server] = []

    class Known(uvicorn.Server):
        def __init__(self, config: uvicorn.Config) -> None:
            super().__init__(config)
            started.append(self)

    monkeypatch.setattr(uvicorn, "Server", Known)

    def stop() -> None:
        started[0].should_exit = True

    return stop


def test_the_demo_shop_is_served_with_its_job_being_judged(tmp_path: Path, stoppable: Callable[[], None]) -> None:
    said: list[str] = []
    ready = threading.Event()

    def say(text: str) -> None:
        said.append(text)
        ready.set()

    opened = threading.Thread(
        target=serving.serve_demo, args=(tmp_path / "demo",), kwargs={"port": 0, "browser": False, "say": say}
    )
    opened.start()
    assert ready.wait(60)
    address = said[0].removeprefix("The worksheet is at ")
    with urllib.request.urlopen(f"{address}?as=json", timeout=30) as answer:
        (row,) = json.load(answer)["jobs"]
    with urllib.request.urlopen(f"{address}jobs/1/tasks", timeout=30) as answer:
        (task,) = json.load(answer)["tasks"]
    stoppable()
    opened.join(30)
    assert not opened.is_alive()
    assert row["job"]["name"] == "Norvik Vale Estate" and task["kind"] == "diagnose"
    with Store.open(tmp_path / "demo" / "store") as store:
        assert len(store.jobs()) == 1


def test_the_demo_shop_is_not_served_from_somebodys_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "work.txt").write_text("mine")
    assert main(["demo", "--serve", "--no-browser", "--directory", str(tmp_path)]) == 1
    assert "holds files that no demo wrote" in capsys.readouterr().err
