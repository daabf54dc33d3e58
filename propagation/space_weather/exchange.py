"""One plain GET: the only place that opens a connection.

Whatever the server does, an exchange ends by its deadline and within a twentieth of a second of being
cancelled: names are looked up in a thread that can be left behind, and every wait for the socket is a short
one. Nothing is sent but the request itself: no cookies, no passwords, no marks of the machine; proxies only
where one is named. HTTP/1.1 (RFC 9112) through the standard library's reader of answers.
"""

from __future__ import annotations

import errno
import http.client
import io
import queue
import re
import select
import socket
import ssl
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Any, Final
from urllib.parse import SplitResult, urlsplit

USER_AGENT: Final = "bandwhen (amateur radio propagation advice; fetches on request only)"
LOOPBACK: Final = ("127.0.0.1", "::1", "localhost")
STEP_S: Final = 0.05  # s, the longest wait before the deadline and the wish to stop are looked at (ours)
BLOCK_BYTES: Final = 65536
_PORTS: Final = {"https": 443, "http": 80}
_HOST: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,252})|[0-9A-Fa-f:.]{2,45}")
_PATH: Final = re.compile(
    r"[\x21-\x7e]*"
)  # what may stand in a request line (RFC 3986: no blanks, no controls)


class ExchangeError(Exception):
    """Why an exchange failed, as the end of a sentence. final: no use trying the same server again."""

    def __init__(self, reason: str, final: bool = False) -> None:
        super().__init__(reason)
        self.final = final


def usable(parts: SplitResult) -> bool:
    """Whether an address may be asked at all: HTTPS anywhere, plain HTTP on this machine."""
    try:
        host, port = parts.hostname or "", parts.port
    except ValueError:
        return False
    if not _HOST.fullmatch(host) or port == 0 or not _PATH.fullmatch(parts.path + parts.query):
        return False
    if parts.username is not None or parts.password is not None or parts.fragment:
        return False
    return parts.scheme == "https" or (parts.scheme == "http" and host in LOOPBACK)


@dataclass
class Watch:
    """When an exchange has to end: the deadline by the clock [s], the longest silence [s], a wish to stop."""

    clock: Callable[[], float]
    deadline: float
    silence_s: float
    cancelled: Callable[[], bool]

    def check(self, since: float) -> None:
        """ExchangeError where it is time to end; since: when the server was last heard."""
        now = self.clock()
        if self.cancelled():
            raise ExchangeError("stopped", final=True)
        if now >= self.deadline:
            raise ExchangeError("too slow: given up half way")
        if now - since >= self.silence_s:
            raise ExchangeError("the server stopped answering")

    def wait(self, sock: socket.socket, write: bool = False) -> None:
        """Until the socket can be read from or written to."""
        since = self.clock()
        while True:
            self.check(since)
            sets = ([], [sock], [sock]) if write else ([sock], [], [])
            if any(select.select(*sets, STEP_S)):
                return


class _Waiting(io.RawIOBase):
    """A socket that never blocks, as a file that waits under watch."""

    def __init__(self, sock: socket.socket, watch: Watch) -> None:
        self._sock = sock
        self._watch = watch

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        while True:
            try:
                self._watch.check(self._watch.clock())
                return self._sock.recv_into(buffer)
            except (ssl.SSLWantReadError, BlockingIOError):
                self._watch.wait(self._sock)
            except ssl.SSLWantWriteError:
                self._watch.wait(self._sock, write=True)
            except ssl.SSLZeroReturnError:
                return 0

    def makefile(self, mode: str) -> io.BufferedReader:
        """What the reader of answers asks of a socket."""
        return io.BufferedReader(self, BLOCK_BYTES)


@dataclass
class Answer:
    """Status, headers by name in small letters, and the rest of the answer to be read."""

    status: int
    headers: dict[str, str]
    _response: http.client.HTTPResponse

    @property
    def status_words(self) -> str:
        """The status in the standard's words, never in the server's own."""
        with suppress(ValueError):
            return f"{self.status} {HTTPStatus(self.status).phrase}"
        return str(self.status)

    def read_some(self) -> bytes:
        """The next bytes of the body as they come, still packed; empty at the end."""
        try:
            return self._response.read1(BLOCK_BYTES)
        except (http.client.HTTPException, OSError, ValueError):
            raise ExchangeError("cut off half way") from None


@dataclass
class Line:
    """A connection to one server, opened when first asked and kept open for the next question.

    proxy: an address through which everything goes, "http://host:port"; empty: straight.
    """

    scheme: str
    host: str
    port: int
    connect_s: float
    proxy: str = ""
    _sock: socket.socket | None = field(default=None, repr=False)

    @classmethod
    def to(cls, address: str, connect_s: float, proxy: str = "") -> Line:
        """The line to the server of an address that is `usable`."""
        parts = urlsplit(address)
        return cls(parts.scheme, parts.hostname or "", parts.port or _PORTS[parts.scheme], connect_s, proxy)

    def get(self, target: str, headers: dict[str, str], watch: Watch) -> Answer:
        """Ask for a target (path and query); ExchangeError where no answer comes."""
        kept = self._sock is not None
        try:
            return self._get(target, headers, watch)
        except (http.client.RemoteDisconnected, ConnectionError):
            self.close()
            if not kept:
                raise ExchangeError("the connection was cut") from None
        except ExchangeError:
            self.close()
            raise
        except (http.client.HTTPException, OSError, ValueError) as error:
            self.close()
            raise _told(error) from None
        return self.get(target, headers, watch)  # the server had closed the line it was to keep

    def _get(self, target: str, headers: dict[str, str], watch: Watch) -> Answer:
        if self._sock is None:
            self._sock = self._open(watch)
        default = self.port == _PORTS[self.scheme]
        host = f"[{self.host}]" if ":" in self.host else self.host
        lines = [f"GET {target} HTTP/1.1", f"Host: {host}" if default else f"Host: {host}:{self.port}"]
        lines += [f"User-Agent: {USER_AGENT}", "Accept: */*", "Accept-Encoding: gzip, identity"]
        lines += [f"{name}: {value}" for name, value in headers.items()]
        _send(self._sock, ("\r\n".join(lines) + "\r\n\r\n").encode("ascii"), watch)
        source: Any = _Waiting(self._sock, watch)
        response = http.client.HTTPResponse(source, method="GET")
        response.begin()
        return Answer(
            response.status, {name.lower(): value for name, value in response.getheaders()}, response
        )

    def done_with(self, answer: Answer) -> None:
        """After an answer: the connection is kept only where all of it was read and the server keeps it."""
        response = answer._response
        whole = response.isclosed() or response.length == 0
        if not whole or response.will_close:
            self.close()

    def close(self) -> None:
        """Hang up."""
        if self._sock is not None:
            with suppress(OSError):
                self._sock.close()
            self._sock = None

    def _open(self, watch: Watch) -> socket.socket:
        limit = min(watch.deadline, watch.clock() + self.connect_s)
        soon = Watch(watch.clock, limit, float("inf"), watch.cancelled)
        via = urlsplit(self.proxy) if self.proxy else None
        try:
            if via is not None:
                sock = _connected(via.hostname or "", via.port or 80, soon)
            else:
                sock = _connected(self.host, self.port, soon)
        except ExchangeError as error:
            if "too slow" in str(error):
                raise ExchangeError("no connection in time", final=True) from None
            raise
        try:
            if via is not None:
                _through(sock, self.host, self.port, watch)
            if self.scheme == "https":
                sock = _encrypted(sock, self.host, watch)
        except BaseException:
            sock.close()
            raise
        return sock


def _told(error: Exception) -> ExchangeError:
    if isinstance(error, ssl.SSLCertVerificationError):
        return ExchangeError("the server's certificate cannot be trusted (check the clock)")
    if isinstance(error, ssl.SSLError):
        return ExchangeError("no encrypted connection could be made")
    if isinstance(error, (http.client.HTTPException, ValueError)):
        return ExchangeError("the server's answer is not understood")
    return ExchangeError("the connection was cut")


def _addresses(host: str, port: int, watch: Watch) -> list[tuple[Any, ...]]:
    """The numbers of a name, looked up in a thread of its own: that call can neither be timed nor stopped."""
    found: queue.SimpleQueue[list[tuple[Any, ...]] | OSError] = queue.SimpleQueue()

    def look_up() -> None:
        try:
            found.put(list(socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)))
        except (OSError, UnicodeError) as error:
            found.put(error if isinstance(error, OSError) else OSError(errno.EINVAL, "no name"))

    threading.Thread(target=look_up, daemon=True, name="bandwhen-names").start()
    while True:
        with suppress(queue.Empty):
            answer = found.get(timeout=STEP_S)
            if isinstance(answer, OSError):
                raise ExchangeError("no connection", final=True)
            return answer
        watch.check(watch.clock())


def _connected(host: str, port: int, watch: Watch) -> socket.socket:
    """A socket to the first of a name's numbers that answers."""
    for family, kind, protocol, _, address in _addresses(host, port, watch):
        sock = socket.socket(family, kind, protocol)
        try:
            sock.setblocking(False)
            code = sock.connect_ex(address)
            if code in (errno.EINPROGRESS, errno.EWOULDBLOCK, errno.EAGAIN):
                watch.wait(sock, write=True)
                code = sock.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
            if code == 0:
                return sock
        except OSError:
            pass
        except BaseException:
            sock.close()
            raise
        sock.close()
    raise ExchangeError("no connection", final=True)


def _send(sock: socket.socket, data: bytes, watch: Watch) -> None:
    while data:
        try:
            data = data[sock.send(data) :]
        except (ssl.SSLWantWriteError, BlockingIOError):
            watch.wait(sock, write=True)
        except ssl.SSLWantReadError:
            watch.wait(sock)


def _encrypted(sock: socket.socket, host: str, watch: Watch) -> socket.socket:
    import certifi

    context = ssl.create_default_context()
    context.load_verify_locations(certifi.where())
    wrapped = context.wrap_socket(sock, server_hostname=host, do_handshake_on_connect=False)
    while True:
        try:
            watch.check(watch.clock())
            wrapped.do_handshake()
            return wrapped
        except ssl.SSLWantReadError:
            watch.wait(wrapped)
        except ssl.SSLWantWriteError:
            watch.wait(wrapped, write=True)


def _through(sock: socket.socket, host: str, port: int, watch: Watch) -> None:
    """Ask a proxy for a connection to the server (RFC 9110, section 9.3.6)."""
    name = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    _send(sock, f"CONNECT {name} HTTP/1.1\r\nHost: {name}\r\n\r\n".encode("ascii"), watch)
    source: Any = _Waiting(sock, watch)
    response = http.client.HTTPResponse(source, method="CONNECT")
    response.begin()
    if response.status != HTTPStatus.OK:
        raise ExchangeError(f"the proxy answered {response.status}", final=True)
