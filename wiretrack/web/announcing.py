# SPDX-License-Identifier: MIT
"""Being found on the local network: this machine's addresses, and a name by multicast DNS."""

from __future__ import annotations

import ipaddress
import re
import socket
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

TYPE = "_http._tcp.local."
LONGEST_NAME = 40


def own_addresses() -> list[str]:
    """Return the IPv4 addresses of this machine in its local networks, loopback left out."""
    import ifaddr

    found = [ip.ip for adapter in ifaddr.get_adapters() for ip in adapter.ips if ip.is_IPv4]
    return [a for a in map(str, found) if not ipaddress.ip_address(a).is_loopback]


def host_name(site: str | None) -> str:
    """Return the name to announce for a site, a label of RFC 1123 and ``.local``.

    >>> host_name("Sallowmere Mill"), host_name(None)
    ('sallowmere-mill.local', 'wiretrack.local')
    """
    plain = re.sub(r"[^a-z0-9]+", "-", (site or "").lower()).strip("-")[:LONGEST_NAME].strip("-")
    return f"{plain or 'wiretrack'}.local"


@contextmanager
def announced(name: str, port: int, addresses: list[str]) -> Iterator[None]:
    """Announce ``name`` (``NAME.local``) and its web pages while the block runs (RFC 6762, 6763).

    Raises
    ------
    OSError
        If the network takes no multicast.
    """
    from zeroconf import ServiceInfo, Zeroconf

    label = name.removesuffix(".local")
    info = ServiceInfo(
        TYPE,
        f"{label}.{TYPE}",
        port=port,
        addresses=[socket.inet_aton(address) for address in addresses],
        properties={"path": "/"},
        server=f"{name}.",
    )
    zeroconf = Zeroconf(interfaces=addresses)
    try:
        zeroconf.register_service(info, allow_name_change=True)
        yield
    finally:
        zeroconf.unregister_all_services()
        zeroconf.close()
