"""The application on its sockets: the network opened and closed, ports in use told in words."""

from __future__ import annotations

import http.client
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from neckring.web.serving import CannotListenError, Serving, address_on_network, bound

HERE, NETWORK = "127.0.0.1", "127.0.0.2"
"""Two addresses of this machine; the second stands for the local network (RFC 1122, 3.2.1.3 g)."""
PATIENCE = 20.0


async def _here(_request: Request) -> PlainTextResponse:
    return PlainTextResponse("here")


async def _whom(request: Request) -> PlainTextResponse:
    assert request.client is not None
    return PlainTextResponse(request.client.host)


@contextmanager
def serving(opened: threading.Event, answering=lambda: None) -> Iterator[Serving]:
    app = Starlette(routes=[Route("/", _here), Route("/whom", _whom)])
    made = Serving(app, bound(HERE, 0), NETWORK, opened.is_set)
    thread = threading.Thread(target=made.run, args=(answering,), daemon=True)
    thread.start()
    try:
        yield made
    finally:
        made.stop()
        thread.join(PATIENCE)
        assert not thread.is_alive()


def answers(address: str, port: int) -> bool:
    line = http.client.HTTPConnection(address, port, timeout=PATIENCE)
    try:
        line.request("GET", "/")
        return line.getresponse().read() == b"here"
    except OSError:
        return False
    finally:
        line.close()


def comes(wanted: bool, address: str, port: int) -> bool:
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        if answers(address, port) is wanted:
            return True
        time.sleep(0.05)
    return False


def test_the_network_is_answered_while_it_is_open_and_only_then() -> None:
    # Given a console that only this machine may ask
    opened = threading.Event()
    with serving(opened) as served:
        assert comes(True, HERE, served.port)
        assert not answers(NETWORK, served.port)

        # When the lead opens it, closes it, and opens it again, then the network follows
        for wanted in (True, False, True):
            (opened.set if wanted else opened.clear)()
            assert comes(wanted, NETWORK, served.port)
            assert answers(HERE, served.port)
    assert not answers(NETWORK, served.port)
    assert not answers(HERE, served.port)


def test_who_asks_before_anything_is_served_waits_for_the_answer() -> None:
    # Given a socket that is bound, before there is a server
    here = bound(HERE, 0)
    port = here.getsockname()[1]
    early: list[bool] = []
    asking = threading.Thread(target=lambda: early.append(answers(HERE, port)))
    asking.start()

    # When the server comes, then the one who asked gets an answer
    told = threading.Event()
    made = Serving(Starlette(routes=[Route("/", _here)]), here)
    thread = threading.Thread(target=made.run, args=(told.set,), daemon=True)
    thread.start()
    asking.join(PATIENCE)
    assert early == [True]
    assert told.wait(PATIENCE)
    made.stop()
    thread.join(PATIENCE)


def test_a_network_port_in_use_is_told_and_tried_again() -> None:
    # Given somebody who has the port on the network's address
    opened = threading.Event()
    with serving(opened) as served:
        assert comes(True, HERE, served.port)
        other = bound(NETWORK, served.port)

        # When the network is opened, then the console goes on and says why it cannot
        opened.set()
        end = time.monotonic() + PATIENCE
        while not served.trouble and time.monotonic() < end:
            time.sleep(0.02)
        assert f"{NETWORK} port {served.port}: address already in use" in served.trouble
        assert answers(HERE, served.port)

        # And once the port is free it is taken
        other.close()
        assert comes(True, NETWORK, served.port)
        assert not served.trouble


def test_an_address_that_is_not_ours_is_told_in_words() -> None:
    # Given an address of documentation (RFC 5737), which no machine has
    with pytest.raises(CannotListenError, match=r"203\.0\.113\.7 port 0: cannot assign requested"):
        bound("203.0.113.7", 0)
    # And a name that never leads anywhere (RFC 2606)
    with pytest.raises(CannotListenError, match=r"no\.such\.invalid port 0: "):
        bound("no.such.invalid", 0)


def test_a_port_in_use_is_told_in_words() -> None:
    # Given somebody who listens, when we want the same port, then which one and why is told
    with socket.create_server((HERE, 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(CannotListenError, match=f"{HERE} port {port}: address already in use"):
            bound(HERE, port)


def test_an_address_on_the_network_is_none_of_this_machine_alone() -> None:
    assert not address_on_network().startswith("127.")


def test_nobody_says_by_a_header_where_he_is(monkeypatch: pytest.MonkeyPatch) -> None:
    # Given a machine on which every proxy is to be believed, and no proxy before the console
    monkeypatch.setenv("FORWARDED_ALLOW_IPS", "*")
    with serving(threading.Event()) as served:
        assert comes(True, HERE, served.port)
        # When somebody names another address as his own (RFC 7239; 203.0.113.7 is of RFC 5737)
        line = http.client.HTTPConnection(HERE, served.port, timeout=PATIENCE)
        forged = {"x-forwarded-for": "203.0.113.7", "forwarded": "for=203.0.113.7"}
        line.request("GET", "/whom", headers=forged)
        # Then the console goes by where the line comes from
        assert line.getresponse().read().decode() == HERE
        line.close()
