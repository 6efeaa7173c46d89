"""The server of a class: where it listens, and the one address under which it is known."""

from __future__ import annotations

import socket
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from ipaddress import ip_address, ip_network
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from trainer.errors import SettingsError
from trainer.web.guard import Guard
from trainer.web.serving import DEFAULT_PORT, Hooks, Server

if TYPE_CHECKING:
    from starlette.types import ASGIApp

__all__ = ["CLASS_PORT", "Hooks", "Place", "serve_class"]

CLASS_PORT = DEFAULT_PORT + 1
_USUAL_PORTS = {"http": 80, "https": 443}


@dataclass(frozen=True, slots=True)
class Place:
    """Where a class server listens, and how it is reached.

    `origin` is its one address, such as "https://class.example"; `proxies` are the network
    addresses, or networks, of the proxies in front of it.
    """

    host: str
    port: int
    origin: str
    proxies: tuple[str, ...] = ()

    @classmethod
    def of(cls, host: str, port: int, public_url: str | None, proxies: Sequence[str] = ()) -> Place:
        """The place that options describe.

        Raises
        ------
        SettingsError
            If they contradict each other, or cannot be.
        """
        for proxy in proxies:
            _check_proxy(proxy)
        if public_url is None:
            if not _is_loopback(host):
                raise SettingsError(
                    "--host",
                    f"{host} without --public-url",
                    "the address that people type as well, such as --public-url "
                    f"http://192.168.1.20:{port}",
                )
            return cls(host, port, f"http://{_bracketed(host)}:{port}", tuple(proxies))
        origin = _origin(public_url)
        if origin.startswith("https:") and not proxies:
            raise SettingsError(
                "--public-url",
                f"{public_url} without --behind-proxy",
                "the proxy that speaks TLS for this server, such as --behind-proxy 127.0.0.1",
            )
        return cls(host, port, origin, tuple(proxies))

    @property
    def is_open(self) -> bool:
        """Whether passwords travel over a network without TLS."""
        return self.origin.startswith("http:") and not _is_loopback(self.host)


def serve_class(
    make_app: Callable[[], ASGIApp],
    place: Place,
    *,
    greet: Callable[[], Sequence[str]] = lambda: (),
    hooks: Hooks,
) -> None:
    """Serve a class, guarded, until interrupted.

    Parameters
    ----------
    make_app : makes the application; called after the port is taken.
    greet : what else is said once the application is made.

    Raises
    ------
    SettingsError
        If the port is taken.
    """
    with closing(_listen(place)) as listening:
        app = Guard(make_app(), origin=place.origin)
        lines = [f"The class is at {place.origin}/  (Ctrl-C stops it)", *greet()]
        if place.is_open:
            lines.append(
                "Passwords aren't encrypted on the way. Put a proxy with TLS in front of the "
                "server unless you trust everybody on this network."
            )
        Server(app, "\n".join(lines), hooks, proxies=place.proxies).run_until_told(listening)


def _listen(place: Place) -> socket.socket:
    family = socket.AF_INET6 if ":" in place.host else socket.AF_INET
    try:
        return socket.create_server((place.host, place.port), family=family)
    except (OSError, OverflowError) as error:
        why = error.strerror if isinstance(error, OSError) else error
        raise SettingsError(
            "--host, --port", f"{place.host}, {place.port} ({why})", "an address and a free port"
        ) from None


def _origin(public_url: str) -> str:
    """Scheme, host and port of an address, as browsers write them. Raises SettingsError."""
    expected = "an address such as https://class.example, without a path"
    wrong = SettingsError("--public-url", public_url, expected)
    try:
        parts = urlsplit(public_url.strip())
        port = parts.port
    except ValueError:
        raise wrong from None
    is_plain = parts.path in ("", "/") and not (parts.query or parts.fragment or parts.username)
    if parts.scheme not in _USUAL_PORTS or not parts.hostname or not is_plain:
        raise wrong
    host = _bracketed(parts.hostname)
    return f"{parts.scheme}://{host}" + (
        f":{port}" if port not in (None, _USUAL_PORTS[parts.scheme]) else ""
    )


def _check_proxy(proxy: str) -> None:
    """Raises SettingsError for what is neither an address nor a network."""
    try:
        ip_network(proxy, strict=False)
    except ValueError:
        raise SettingsError(
            "--behind-proxy", proxy, "the proxy's network address, such as 127.0.0.1"
        ) from None


def _is_loopback(host: str) -> bool:
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host else host
