"""Where a board listens, and the names and addresses by which it may be opened."""

import contextlib
import errno
import ipaddress
import re
import socket
import sys
from dataclasses import dataclass
from pathlib import Path

import psutil

from voicecount.errors import UsageError

LOCAL = "127.0.0.1"
PORT = 8460
_LONGEST_NAME = 253
_LABEL = re.compile(r"[A-Za-z0-9_](?:[A-Za-z0-9_-]{0,61}[A-Za-z0-9_])?")
"""RFC 1123, 2.1, and the underscore that some networks use."""
_NUMBER = re.compile(r"[0-9]+|0[xX][0-9A-Fa-f]*")
"""What ends in one is an address to a browser, and no name (WHATWG URL, 3.5)."""


@dataclass(frozen=True)
class Address:
    """Where the board listens. UsageError where it could never be opened so."""

    host: str = LOCAL
    """An address of this machine; ``0.0.0.0`` or ``::`` for all of them."""
    port: int = PORT
    """0 for any that is free."""
    names: tuple[str, ...] = ()
    """Further names by which the board may be asked for."""
    token_file: Path | None = None
    """Keeps the token over restarts; None makes a new one, where one is needed."""

    def __post_init__(self) -> None:
        # To listen on nothing is to listen on everything.
        if not self.host.strip():
            raise UsageError(
                "board: the address after --listen is empty; give one of this machine, or leave "
                "--listen out"
            )
        for name in self.names:
            if not _is_name(name):
                raise UsageError(
                    f"board: {name!r} after --name is no name of a machine; give what stands "
                    "between http:// and the port when the board is opened, as theatre4.local"
                )


def listen(address: Address) -> socket.socket:
    """Listen there. UsageError where that cannot be."""
    host = _bare(address.host)
    found = None
    try:
        # Resolved here, because only so a link-local address keeps its interface.
        ways = socket.getaddrinfo(
            host, address.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )
        family, _, _, _, where = min(ways, key=lambda way: way[0] != socket.AF_INET)
        found = socket.socket(family, socket.SOCK_STREAM)
        if sys.platform != "win32":  # pragma: no branch - there it would share a port in use
            found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if where[0] == "::":  # IPv4 too, on whatever system
            found.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 0)
        found.bind(where)
        found.listen()
    except (OSError, OverflowError, TypeError, ValueError) as error:
        if found is not None:
            found.close()
        raise UsageError(_why_not(address, error)) from error
    return found


def _why_not(address: Address, error: Exception) -> str:
    why = getattr(error, "strerror", None) or error
    start = f"board: cannot listen on {address.host}, port {address.port} ({why})"
    if isinstance(error, OSError) and error.errno == errno.EADDRINUSE:
        return (
            f"{start}: another program has it, perhaps the board of another case; end that one, or "
            "give another port by --port"
        )
    return f"{start}; give another one by --port, or an address of this machine by --listen"


def is_local(listening: socket.socket) -> bool:
    """Tell whether only this machine can reach a socket, whatever name it was given by."""
    return _ip(listening.getsockname()[0]).is_loopback


def shown(address: Address, listening: socket.socket) -> tuple[str, ...]:
    """Give the names that can be opened, the one to show first; there is at least one."""
    bound = _ip(listening.getsockname()[0])
    given = address.host if _is_name(address.host) else str(bound)
    if bound.is_unspecified:
        found = [*address.names, *(own_addresses() or [LOCAL])]
    elif bound.is_loopback:
        found = [given, *address.names]
    elif bound.version == 6 and bound.is_link_local:  # no browser opens one
        found = [*address.names, socket.gethostname(), given]
    else:
        found = [*address.names, given]
    return tuple(dict.fromkeys(as_host(name) for name in found))


def hosts(address: Address, listening: socket.socket) -> tuple[str, ...]:
    """Give the names by which it may be asked for, besides the address that a request came to."""
    if is_local(listening):
        more = [LOCAL, "localhost", "::1"]
    elif _ip(listening.getsockname()[0]).is_unspecified:
        more = ["localhost", socket.gethostname()]
    else:
        more = [socket.gethostname()]
    found = [*shown(address, listening), *more]
    return tuple(dict.fromkeys(as_host(name) for name in found))


def as_host(name: str) -> str:
    """Write a name or an address as a browser does between ``//`` and the port."""
    bare = _bare(name).partition("%")[0]
    try:
        ip = ipaddress.ip_address(bare)
    except ValueError:
        return name.lower()
    return f"[{ip}]" if ip.version == 6 else str(ip)


def own_addresses() -> list[str]:
    """Give this machine's addresses on networks, the one by which it reaches others first."""
    found: list[str] = []
    # Connecting a datagram socket sends nothing; the addresses are for documentation (RFC 5737,
    # RFC 3849). A network of the house's own may have no way out, so that neither works.
    for family, far in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((far, 9))
            found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        for interface in psutil.net_if_addrs().values():
            found += [
                one.address for one in interface if one.family in {socket.AF_INET, socket.AF_INET6}
            ]
    kept = [ip for ip in map(_ip, found) if not ip.is_loopback]
    kept = [ip for ip in kept if ip.version == 4 or not ip.is_link_local]
    kept.sort(key=lambda ip: (ip.version, ip.is_link_local))
    return list(dict.fromkeys(map(str, kept)))


def _ip(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address:
    return ipaddress.ip_address(text.partition("%")[0])


def _bare(name: str) -> str:
    return name[1:-1] if name.startswith("[") and name.endswith("]") else name


def _is_name(name: str) -> bool:
    """Tell whether a browser could ask for a board by it."""
    try:
        ipaddress.ip_address(_bare(name))
    except ValueError:
        labels = name.split(".")
        fits = all(_LABEL.fullmatch(label) for label in labels) and len(name) <= _LONGEST_NAME
        return fits and not _NUMBER.fullmatch(labels[-1])
    return "%" not in name
