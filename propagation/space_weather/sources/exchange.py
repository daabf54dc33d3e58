"""One plain GET through `requests`: the only place that opens a connection.

Whatever the server does, an exchange ends by its deadline and within a twentieth of a second of being
cancelled: what may block is done in a thread that can be left behind, while the caller looks at the clock and
at the wish to stop, and shuts the socket down where it is time. Nothing is sent but the request itself: no
cookies, no passwords, no marks of the machine; proxies only where one is named; redirects are not followed.
"""

from __future__ import annotations

import queue
import re
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import TYPE_CHECKING, Any, Final, TypeVar
from urllib.parse import SplitResult, urlsplit

if TYPE_CHECKING:
    import socket

    import requests

Found = TypeVar("Found")

USER_AGENT: Final = "bandwhen (amateur radio propagation advice; fetches on request only)"
LOOPBACK: Final = ("127.0.0.1", "::1", "localhost")
STEP_S: Final = 0.05  # s, the longest wait between two looks at the deadline and the wish to stop (ours)
THREAD: Final = "bandwhen-network"  # name of the threads that may be left behind
BLOCK_BYTES: Final = 65536
_PORTS: Final = {"https": 443, "http": 80}
_HOST: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,252})|[0-9A-Fa-f:.]{2,45}")
_PATH: Final = re.compile(r"[\x21-\x7e]*")  # what a request line may hold (RFC 3986: no blanks or controls)


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

    def check(self) -> None:
        """ExchangeError where it is time to end."""
        if self.cancelled():
            raise ExchangeError("stopped", final=True)
        if self.clock() >= self.deadline:
            raise ExchangeError("too slow: given up half way")


class _Sockets:
    """The sockets of a session, so that another thread can shut them down in the middle of anything.

    Second handles are kept: encryption takes the first one over, and either ends the connection.
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


@dataclass
class Answer:
    """Status, headers by name in small letters, and the rest of the answer to be read."""

    status: int
    headers: dict[str, str]
    _response: requests.Response
    _line: Line
    _watch: Watch

    @property
    def status_words(self) -> str:
        """The status in the standard's words, never in the server's own."""
        with suppress(ValueError):
            return f"{self.status} {HTTPStatus(self.status).phrase}"
        return str(self.status)

    @property
    def whole(self) -> bool:
        """Whether all of it was read."""
        return bool(self._response.raw.closed)

    def read_some(self) -> bytes:
        """The next bytes of the body as they come, still packed; empty at the end."""
        return self._line.watched(self._read, self._watch)

    def _read(self) -> bytes:
        from urllib3.exceptions import HTTPError, ReadTimeoutError

        try:
            return bytes(self._response.raw.read(BLOCK_BYTES, decode_content=False))
        except ReadTimeoutError:
            raise
        except (HTTPError, OSError, ValueError):
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
    _session: requests.Session | None = field(default=None, repr=False)
    _sockets: _Sockets = field(default_factory=_Sockets, repr=False)

    @classmethod
    def to(cls, address: str, connect_s: float, proxy: str = "") -> Line:
        """The line to the server of an address that is `usable`."""
        parts = urlsplit(address)
        return cls(parts.scheme, parts.hostname or "", parts.port or _PORTS[parts.scheme], connect_s, proxy)

    def get(self, target: str, headers: dict[str, str], watch: Watch) -> Answer:
        """Ask for a target (path and query); ExchangeError where no answer comes."""
        kept = self._sockets.opened
        try:
            return self._get(target, headers, watch)
        except _CutError:
            if not kept:
                raise
        return self._get(target, headers, watch)  # the server had closed the line it was to keep

    def _get(self, target: str, headers: dict[str, str], watch: Watch) -> Answer:
        host = f"[{self.host}]" if ":" in self.host else self.host
        port = "" if self.port == _PORTS[self.scheme] else f":{self.port}"
        address = f"{self.scheme}://{host}{port}{target}"
        limits = (self.connect_s, watch.silence_s)

        if self._session is None:
            self._session = _session(self._sockets, self.proxy)
        session = self._session

        def ask() -> requests.Response:
            return session.get(address, headers=headers, stream=True, allow_redirects=False, timeout=limits)

        response = self.watched(ask, watch)
        response.raw.enforce_content_length = False  # the reader compares, and says how much is missing
        named = {name.lower(): value for name, value in response.headers.items()}
        return Answer(response.status_code, named, response, self, watch)

    def watched(self, function: Callable[[], Found], watch: Watch) -> Found:
        """What a function gives that may block, in a thread of its own that is left behind in time."""
        sockets, done = self._sockets, queue.SimpleQueue[Found | Exception]()

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
                        raise _told(found, sockets.opened) from None
                    return found
                watch.check()
                if not sockets.opened and watch.clock() - began >= self.connect_s:
                    raise ExchangeError("no connection in time", final=True)
        except BaseException:
            self.close()
            raise

    def done_with(self, answer: Answer) -> None:
        """After an answer: the connection is kept only where all of it was read and the server keeps it."""
        if answer.status == HTTPStatus.NOT_MODIFIED and not answer.whole:
            with suppress(ExchangeError):
                answer.read_some()  # there is no body: it is at its end
        if not answer.whole:
            self.close()

    def close(self) -> None:
        """Hang up; whatever still works for this line comes to its end."""
        self._sockets.cut()
        self._session, self._sockets = None, _Sockets()


class _CutError(ExchangeError):
    """The connection was there and went."""


def _session(sockets: _Sockets, proxy: str) -> requests.Session:
    """A session that sends the question alone, and whose sockets are known."""
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
            """None: even to look where a redirect leads, its whole body would be read first."""

    session = Session()
    session.trust_env = False  # no proxies, certificates or passwords of the surroundings
    session.cookies.set_policy(DefaultCookiePolicy(allowed_domains=[]))
    session.headers.clear()
    session.headers.update({"User-Agent": USER_AGENT, "Accept": "*/*", "Accept-Encoding": "gzip, identity"})
    session.proxies = {"http": proxy, "https": proxy} if proxy else {}
    for scheme in ("http://", "https://"):
        session.mount(scheme, Adapter(max_retries=0))
    return session


def _told(error: Exception, opened: bool) -> ExchangeError:
    """Why there is no answer, in this program's words."""
    import ssl
    from http.client import HTTPException

    from requests import exceptions as failures
    from urllib3.exceptions import ReadTimeoutError

    chain, link = list[BaseException](), error.__cause__ or error.__context__
    while link is not None and len(chain) < 20:
        chain.append(link)
        link = link.__cause__ or link.__context__
    causes = [one for one in (error, *chain) if not isinstance(one, failures.RequestException)]
    told: ExchangeError
    if isinstance(error, ExchangeError):
        told = error
    elif any(isinstance(one, ssl.SSLCertVerificationError) for one in chain):
        told = ExchangeError("the server's certificate cannot be trusted (check the clock)")
    elif isinstance(error, failures.SSLError):
        told = ExchangeError("no encrypted connection could be made")
    elif isinstance(error, failures.ProxyError):
        told = ExchangeError("no connection through the proxy", final=True)
    elif isinstance(error, failures.ConnectTimeout):
        told = ExchangeError("no connection in time", final=True)
    elif isinstance(error, (failures.ReadTimeout, ReadTimeoutError)):
        told = ExchangeError("the server stopped answering")
    elif not opened and isinstance(error, failures.ConnectionError):
        told = ExchangeError("no connection", final=True)
    elif any(isinstance(one, OSError) for one in causes):
        told = _CutError("the connection was cut")
    elif any(isinstance(one, (HTTPException, ValueError)) for one in causes):
        told = ExchangeError("the server's answer is not understood")
    else:
        told = _CutError("the connection was cut")
    return told
