# SPDX-License-Identifier: MIT
"""The text inside a label's QR symbol: a web address that ends in the tag, or the bare tag.

All of it is upper case, so that the QR alphanumeric mode serves (ISO/IEC 18004, 45 characters).
"""

from __future__ import annotations

from wiretrack.errors import BadInputError, TagError
from wiretrack.late import pattern
from wiretrack.model.tags import BARE_PREFIX, BOX_PART, last_part, looks_like_tag, parse_tag

ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
MAX_HOST_LENGTH = 253
_ADDRESS = pattern(r"(?:HTTP://)?(?P<host>[^/:\s\[\]]+)(?::(?P<port>\d{1,5}))?/?")
_HOST_PART = pattern(r"(?!-)[A-Z0-9-]{1,63}(?<!-)")
_HINT = "Write it like http://192.168.1.20:8080 or http://wires.lan."


def make_payload(tag: str, base_address: str | None = None) -> str:
    """Return the text that a label of `tag` carries in its symbol.

    >>> make_payload("000000R")
    'WT:000000R'
    >>> make_payload("000-000R", "http://wires.lan:8080/")
    'HTTP://WIRES.LAN:8080/000000R'

    Raises `TagError` or `BadInputError` if the tag or the address can't be one.
    """
    plain = parse_tag(tag)
    if base_address is None:
        return BARE_PREFIX + plain
    return f"{check_base_address(base_address)}/{plain.plain}"


def make_box_payload(code: str, base_address: str | None = None) -> str:
    """Return the text in the symbol of an enclosure's card or plate.

    >>> make_box_payload("MDB")
    'WT:BOX/MDB'
    >>> make_box_payload("MDB", "wires.lan")
    'HTTP://WIRES.LAN/BOX/MDB'
    """
    from urllib.parse import quote

    quoted = BOX_PART + quote(code, safe="")
    if base_address is None:
        return BARE_PREFIX + quoted
    return f"{check_base_address(base_address)}/{quoted}"


def check_base_address(address: str) -> str:
    """Return the address as ``HTTP://HOST[:PORT]``; it has neither a path nor a user's name.

    Raises `BadInputError` if it has another scheme, a path, or a host or port that can't be.
    """
    upper = address.strip().upper()
    if upper.startswith("HTTPS://"):
        raise BadInputError(f"Base address '{address}' starts with https; it must be http. {_HINT}")
    found = _ADDRESS.fullmatch(upper)
    if found is None or not _is_host(found["host"]):
        raise BadInputError(f"Base address '{address}' is not http, a host and a port. {_HINT}")
    port = found["port"]
    if port is not None and not 1 <= int(port) <= 65535:
        raise BadInputError(f"Base address '{address}' has port {port}; it must be 1 to 65535.")
    return f"HTTP://{found['host']}" + (f":{int(port)}" if port else "")


def read_payload(text: str) -> str | None:
    """Return the tag that a symbol's text carries, or `None` where it is none of ours.

    The host doesn't matter: a label printed before an address changed still names its conductor.

    >>> read_payload("http://old-host/site/000-000R")
    '000000R'
    """
    part = last_part(text)
    if part is None or not part.isascii() or not looks_like_tag(part):
        return None
    try:
        return parse_tag(part)
    except TagError:
        return None


def _is_host(host: str) -> bool:
    if len(host) > MAX_HOST_LENGTH:
        return False
    if host.replace(".", "").isdigit():
        return _is_ipv4(host)
    return all(_HOST_PART.fullmatch(part) for part in host.split("."))


def _is_ipv4(host: str) -> bool:
    import ipaddress

    try:
        ipaddress.IPv4Address(host)
    except ValueError:
        return False
    return True
