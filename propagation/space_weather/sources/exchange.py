"""Plain HTTP GET through `requests`: the only module that opens a connection.

An exchange ends by its deadline, and within a twentieth of a second of a cancellation request, whatever the
server does. The timeouts of `requests` alone do not give that: they restart with every byte, so a server that
sends its status, its headers, interim answers, chunk sizes or trailers one byte at a time holds it for ever,
and neither a name look-up nor a handshake has a limit. So each exchange runs in a thread that may be left
behind, while the caller checks the clock and the cancellation and shuts the socket down in time.

The request holds nothing but what it must: no cookies, no passwords, no data about the machine; a proxy only
where one is named; redirects are not followed.
"""

from __future__ import annotations

import queue
import re
import threading
import zlib
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import SplitResult, urlsplit

if TYPE_CHECKING:
    import socket

    import requests

USER_AGENT: Final = "bandwhen (amateur radio propagation advice; fetches on request only)"
LOOPBACK: Final = ("127.0.0.1", "::1", "localhost")
STEP_S: Final = 0.05  # s, longest wait between two checks of the deadline and the cancellation (ours)
THREAD: Final = "bandwhen-network"  # name of the threads that may be left behind
BLOCK_BYTES: Final = 65536
_PORTS: Final = {"https": 443, "http": 80}
_HOST: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,252})|[0-9A-Fa-f:.]{2,45}")
_PATH: Final = re.compile(r"[\x21-\x7e]*")  # allowed in a request line (RFC 3986: no blanks, no controls)
_PACKED: Final = {"": False, "identity": False, "gzip": True, "x-gzip": True}


class ExchangeError(Exception):
    """Reason of a failed exchange, as the end of a sentence. final: do not try the same server again."""

    def __init__(self, reason: str, final: bool = False) -> None:
        super().__init__(reason)
        self.final = final


def usable(parts: SplitResult) -> bool:
    """Whether an address may be fetched: HTTPS anywhere, plain HTTP on this machine."""
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
    """End of an exchange: deadline on the clock [s], longest silence [s], cancellation."""

    clock: Callable[[], float]
    deadline: float
    silence_s: float
    cancelled: Callable[[], bool]

    def check(self) -> None:
        """Raise ExchangeError where the exchange has to end."""
        if self.cancelled():
            raise ExchangeError("stopped", final=True)
        if self.clock() >= self.deadline:
            raise ExchangeError("too slow: given up half way")


class _Sockets:
    """Sockets of a session, so that another thread can shut them down at any time.

    Second handles are kept: encryption takes over the first one, and either ends the connection.
    """

    def __init__(self) -> None:
        self._kept: list[socket.socket] = []
        self._lock = threading.Lock()
        self._over = False

    @property
    def opened(self) -> bool:
        """Whether there has been a connection."""
        return bool(self._kept)

    def add(self, sock: socket.socket) -> None:
        """Take a new connection's socket; OSError where the session is over already."""
        with self._lock:
            if self._over:
                sock.close()
                raise OSError("the exchange is over")
            self._kept.append(sock.dup())

    def cut(self) -> None:
        """End all connections, and refuse those still being made."""
        with self._lock:
            self._over = True
            for sock in self._kept:
                with suppress(OSError):
                    sock.shutdown(2)  # both ways
                sock.close()


@dataclass(frozen=True)
class HttpResponse:
    """Status, headers by name in small letters, and the unpacked body; empty unless the status is 200."""

    status: int
    headers: dict[str, str]
    body: bytes = b""

    @property
    def status_words(self) -> str:
        """Status in the standard's words, never in the server's own."""
        with suppress(ValueError):
            return f"{self.status} {HTTPStatus(self.status).phrase}"
        return str(self.status)


@dataclass
class Connection:
    """Connection to one server, opened by the first request and kept open for the next.

    proxy: an address through which everything is sent, "http://host:port"; empty: none.
    """

    scheme: str
    host: str
    port: int
    connect_s: float
    proxy: str = ""
    _session: requests.Session | None = field(default=None, repr=False)
    _sockets: _Sockets = field(default_factory=_Sockets, repr=False)

    @classmethod
    def to(cls, address: str, connect_s: float, proxy: str = "") -> Connection:
        """Connection to the server of an address that is `usable`."""
        parts = urlsplit(address)
        return cls(parts.scheme, parts.hostname or "", parts.port or _PORTS[parts.scheme], connect_s, proxy)

    def get(self, target: str, headers: dict[str, str], largest_bytes: int, watch: Watch) -> HttpResponse:
        """Response for a target (path and query); ExchangeError where there is none.

        largest_bytes: of the body, packed and unpacked.
        """
        kept = self._sockets.opened
        try:
            return self._get(target, headers, largest_bytes, watch)
        except _CutError:
            if not kept:
                raise
        return self._get(target, headers, largest_bytes, watch)  # the server had closed the kept connection

    def _get(self, target: str, headers: dict[str, str], largest_bytes: int, watch: Watch) -> HttpResponse:
        host = f"[{self.host}]" if ":" in self.host else self.host
        port = "" if self.port == _PORTS[self.scheme] else f":{self.port}"
        address = f"{self.scheme}://{host}{port}{target}"
        timeouts = (self.connect_s, watch.silence_s)
        if self._session is None:
            self._session = _session(self._sockets, self.proxy)
        session = self._session

        def exchange() -> HttpResponse:
            with session.get(
                address, headers=headers, stream=True, allow_redirects=False, timeout=timeouts
            ) as response:  # at its end the connection is kept where all was read, else closed
                response.raw.enforce_content_length = False  # `_body` compares, and reports what is missing
                named = {name.lower(): value for name, value in response.headers.items()}
                body = _body(response, named, largest_bytes) if response.status_code == HTTPStatus.OK else b""
                if response.status_code == HTTPStatus.NOT_MODIFIED:
                    response.raw.read(1)  # it has no body: the end is reached at once
                return HttpResponse(response.status_code, named, body)

        return self._watched(exchange, watch)

    def _watched(self, function: Callable[[], HttpResponse], watch: Watch) -> HttpResponse:
        """Result of a function that may block, in a thread of its own that is left behind in time."""
        sockets, done = self._sockets, queue.SimpleQueue[HttpResponse | Exception]()

        def work() -> None:
            try:
                done.put(function())
            except Exception as error:
                done.put(error)

        began = watch.clock()
        try:
            watch.check()
            threading.Thread(target=work, daemon=True, name=THREAD).start()
            while True:
                with suppress(queue.Empty):
                    found = done.get(timeout=STEP_S)
                    if isinstance(found, Exception):
                        watch.check()
                        raise _reason(found, sockets.opened) from None
                    return found
                watch.check()
                if not sockets.opened and watch.clock() - began >= self.connect_s:
                    raise ExchangeError("no connection in time", final=True)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Close the connection; whatever still works for it ends."""
        self._sockets.cut()
        self._session, self._sockets = None, _Sockets()


def _body(response: requests.Response, headers: dict[str, str], largest_bytes: int) -> bytes:
    """Whole body, unpacked, within the size and the announced length; ExchangeError otherwise."""
    announced = headers.get("content-length", "")
    length = int(announced) if announced.isascii() and announced.isdigit() and len(announced) < 16 else -1
    if announced and length < 0:
        raise ExchangeError("not understood: invalid Content-Length")
    if length > largest_bytes:
        raise ExchangeError(f"too large ({length} bytes; {largest_bytes} are allowed)")
    packed = _PACKED.get(headers.get("content-encoding", "").strip().lower())
    if packed is None:
        raise ExchangeError("not understood: packed by a method that was not offered")
    unpack = zlib.decompressobj(16 + zlib.MAX_WBITS)
    received, body = 0, bytearray()
    while block := _block(response):
        received += len(block)
        if packed:
            try:
                block = unpack.decompress(block, largest_bytes + 1 - len(body))
            except zlib.error:
                raise ExchangeError("its packing is damaged") from None
        body += block
        if max(len(body), received) > largest_bytes:
            raise ExchangeError(f"endless: more than {largest_bytes} bytes")
    if received < length:
        raise ExchangeError(f"cut off half way, after {received} of {length} bytes")
    if packed and not unpack.eof:
        raise ExchangeError(f"cut off after {received} packed bytes")
    return bytes(body)


def _block(response: requests.Response) -> bytes:
    """Next bytes of the body as they come, still packed; empty at the end."""
    from urllib3.exceptions import HTTPError, ReadTimeoutError

    try:
        return bytes(response.raw.read(BLOCK_BYTES, decode_content=False))
    except ReadTimeoutError:
        raise
    except (HTTPError, OSError, ValueError):
        raise ExchangeError("cut off half way") from None


class _CutError(ExchangeError):
    """Loss of a connection that was there."""


def _session(sockets: _Sockets, proxy: str) -> requests.Session:
    """Session that sends the request alone, and whose sockets are known."""
    from http.cookiejar import DefaultCookiePolicy

    import requests
    from requests.adapters import HTTPAdapter
    from urllib3.connection import HTTPConnection, HTTPSConnection
    from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool

    class Plain(HTTPConnection):
        def _new_conn(self) -> socket.socket:
            sock = super()._new_conn()
            sockets.add(sock)
            return sock

    class Encrypted(HTTPSConnection):
        def _new_conn(self) -> socket.socket:
            sock = super()._new_conn()
            sockets.add(sock)
            return sock

    class PlainPool(HTTPConnectionPool):
        ConnectionCls = Plain

    class EncryptedPool(HTTPSConnectionPool):
        ConnectionCls = Encrypted

    class Adapter(HTTPAdapter):
        def init_poolmanager(self, *args: Any, **kwargs: Any) -> None:
            super().init_poolmanager(*args, **kwargs)
            self.poolmanager.pool_classes_by_scheme = {"http": PlainPool, "https": EncryptedPool}

        def proxy_manager_for(self, proxy: str, **kwargs: Any) -> Any:
            manager = super().proxy_manager_for(proxy, **kwargs)
            manager.pool_classes_by_scheme = {"http": PlainPool, "https": EncryptedPool}
            return manager

    class Session(requests.Session):
        def get_redirect_target(self, resp: requests.Response) -> None:
            """None: `requests` reads the whole body of a redirect before it gives the target."""

    session = Session()
    session.trust_env = False  # no proxies, certificates or passwords of the surroundings
    session.cookies.set_policy(DefaultCookiePolicy(allowed_domains=[]))
    session.headers.clear()
    session.headers.update({"User-Agent": USER_AGENT, "Accept": "*/*", "Accept-Encoding": "gzip, identity"})
    session.proxies = {"http": proxy, "https": proxy} if proxy else {}
    for scheme in ("http://", "https://"):
        session.mount(scheme, Adapter(max_retries=0))
    return session


def _reason(error: Exception, opened: bool) -> ExchangeError:
    """Reason why there is no response, in this program's words."""
    import ssl
    from http.client import HTTPException

    from requests import exceptions as failures
    from urllib3.exceptions import ReadTimeoutError

    chain, link = list[BaseException](), error.__cause__ or error.__context__
    while link is not None and len(chain) < 20:
        chain.append(link)
        link = link.__cause__ or link.__context__
    causes = [one for one in (error, *chain) if not isinstance(one, failures.RequestException)]
    reason: ExchangeError
    if isinstance(error, ExchangeError):
        reason = error
    elif any(isinstance(one, ssl.SSLCertVerificationError) for one in chain):
        reason = ExchangeError("the server's certificate cannot be trusted (check the clock)")
    elif isinstance(error, failures.SSLError):
        reason = ExchangeError("no encrypted connection could be made")
    elif isinstance(error, failures.ProxyError):
        reason = ExchangeError("no connection through the proxy", final=True)
    elif isinstance(error, failures.ConnectTimeout):
        reason = ExchangeError("no connection in time", final=True)
    elif isinstance(error, (failures.ReadTimeout, ReadTimeoutError)):
        reason = ExchangeError("the server stopped answering")
    elif not opened and isinstance(error, failures.ConnectionError):
        reason = ExchangeError("no connection", final=True)
    elif any(isinstance(one, OSError) for one in causes):
        reason = _CutError("the connection was cut")
    elif any(isinstance(one, (HTTPException, ValueError)) for one in causes):
        reason = ExchangeError("the server's answer is not understood")
    else:
        reason = _CutError("the connection was cut")
    return reason
