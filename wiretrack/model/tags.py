# SPDX-License-Identifier: MIT
"""Tags: six characters and a check character that name one conductor for good; and labels' texts.

The check character is the hybrid system MOD 37,36 of ISO/IEC 7064:2003. The alphabet of the
first six leaves out I, L, O and U, so that no tag read aloud or in poor light is taken for
another; the check character may be any of 0-9 and A-Z. The text inside a label's QR symbol is a
web address that ends in the tag, or the bare tag, all of it in upper case, so that the QR
alphanumeric mode serves (ISO/IEC 18004, 45 characters).
"""

from __future__ import annotations

import re
from urllib.parse import unquote

from wiretrack.errors import BadInputError, TagError
from wiretrack.late import pattern

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
CHECK_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_VALUES = {character: value for value, character in enumerate(CHECK_ALPHABET)}
BODY_LENGTH = 6
# What a label's QR symbol carries before the tag, or before a box's code.
BARE_PREFIX, BOX_PART = "WT:", "BOX/"
_ADDRESS = pattern(r"HTTPS?://(?P<rest>[^\s?#]+)", re.IGNORECASE)
_WRITTEN = pattern(f"([{ALPHABET}]{{3}})-?([{ALPHABET}]{{3}}[{CHECK_ALPHABET}])")
_READ_AS = str.maketrans({"O": "0", "I": "1", "L": "1"})
_TYPED_SIGNS = "A tag is six characters and a check character, like ABC-DEFG"


class Tag(str):
    """A tag: its seven characters, which print as people see them, with a hyphen.

    A conductor that isn't stored yet may have an empty one.

    >>> f"{Tag('ABCDEFG')}", Tag("ABCDEFG") == "ABCDEFG", Tag("ABCDEFG").plain
    ('ABC-DEFG', True, 'ABCDEFG')
    """

    __slots__ = ()

    def __str__(self) -> str:
        return format_tag(self) if self else ""

    def __format__(self, spec: str) -> str:
        return format(str(self), spec)

    @property
    def plain(self) -> str:
        """Its seven characters alone, as files, addresses and the registry have them."""
        return str.__str__(self)


NO_TAG = Tag()  # of a conductor that isn't stored yet


def check_character(body: str) -> str:
    """Return the MOD 37,36 check character of `body` (characters of 0-9 and A-Z).

    Source: ISO/IEC 7064:2003, hybrid system MOD 37,36 (reprint; original not seen).

    >>> check_character("A12425GABC1234002")
    'M'
    """
    modulus = len(CHECK_ALPHABET)
    product = modulus
    for character in body:
        total = (product + _VALUES[character]) % modulus or modulus
        product = total * 2 % (modulus + 1)
    return CHECK_ALPHABET[(modulus + 1 - product) % modulus]


def drawn(length: int) -> str:
    """Return so many random characters that people can type."""
    from secrets import choice

    return "".join(choice(ALPHABET) for _ in range(length))


def make_tag() -> Tag:
    """Return a new random tag, without its hyphen; the registry sees to it that it is unused."""
    body = drawn(BODY_LENGTH)
    return Tag(body + check_character(body))


def format_tag(tag: str) -> str:
    """Return the tag as people see it.

    >>> format_tag("0A1B2C" + check_character("0A1B2C"))[:4]
    '0A1-'
    """
    return f"{tag[:3]}-{tag[3:]}"


def parse_tag(text: str) -> Tag:
    """Return the seven characters of the tag in `text`, whose check character is right.

    Case, spaces and hyphens don't matter; O is read as 0, and I or L as 1, in the first six. The
    whole text of a label's symbol will do too.

    Raises `TagError` if `text` can't be a tag, or its check character is wrong; the tags that a
    single slip explains (one character wrong, or two neighbours swapped) are named.
    """
    written = _WRITTEN.fullmatch(text)  # as files have it, there's no more to be seen to
    plain = "".join(written.groups()) if written else normalise(text)
    if not (written or looks_like_tag(text)):
        raise TagError(text, f"{_TYPED_SIGNS[0].lower()}{_TYPED_SIGNS[1:]}")
    if check_character(plain[:BODY_LENGTH]) != plain[BODY_LENGTH]:
        raise TagError(text, "the check character is wrong")
    return Tag(plain)


def normalise(text: str) -> str:
    """Return `text` in upper case, without spaces and hyphens, its first six read as a tag's.

    Of a label's whole symbol (``WT:TAG``, ``HTTP://HOST/TAG``) it is the tag.

    >>> normalise("wt:abc-defg"), normalise("http://wires.lan:8080/abcdefg")
    ('ABCDEFG', 'ABCDEFG')
    """
    plain = "".join((last_part(text) or text).split()).replace("-", "").upper()
    return plain[:BODY_LENGTH].translate(_READ_AS) + plain[BODY_LENGTH:]


def last_part(text: str) -> str | None:
    """Return what stands for a tag in the text of a label's symbol; `None` if it is no such text.

    >>> last_part("WT:ABCDEFG"), last_part("WT:BOX/MDB"), last_part("ABCDEFG")
    ('ABCDEFG', None, None)
    """
    stripped = text.strip()
    if stripped[: len(BARE_PREFIX)].upper() == BARE_PREFIX:
        part = stripped[len(BARE_PREFIX) :]
        return None if "/" in part else part
    found = _ADDRESS.fullmatch(stripped)
    if found is None or "/" not in found["rest"] or box_in(text) is not None:
        return None
    return found["rest"].rstrip("/").rsplit("/", 1)[-1]


def box_in(text: str) -> str | None:
    """Return the enclosure's code that a symbol's text carries, or `None` where there is none.

    >>> box_in("HTTP://OLD-HOST/BOX/Kuehlhaus%201")
    'Kuehlhaus 1'
    """
    stripped = text.strip()
    if stripped[: len(BARE_PREFIX)].upper() == BARE_PREFIX:
        part = stripped[len(BARE_PREFIX) :]
    elif _ADDRESS.fullmatch(stripped):
        part = "/".join(stripped.rstrip("/").rsplit("/", 2)[-2:])
    else:
        return None
    if part[: len(BOX_PART)].upper() != BOX_PART or "/" in part[len(BOX_PART) :]:
        return None
    return unquote(part[len(BOX_PART) :]) or None


def read_aloud(text: str) -> Tag | None:
    """Return the tag in `text` whose check character was taken for one that looks or sounds alike.

    O is taken for 0, and I or L for 1, and the other way round; of the first six characters there
    is no O, I or L. `None` where that explains nothing.

    >>> check_character("00000K"), str(read_aloud("00O-00K0")), read_aloud("000-00K7")
    ('O', '000-00KO', None)
    """
    plain = normalise(text)
    if not looks_like_tag(text):
        return None
    right, typed = check_character(plain[:BODY_LENGTH]), plain[BODY_LENGTH]
    alike = right != typed and right.translate(_READ_AS) == typed.translate(_READ_AS)
    return Tag(plain[:BODY_LENGTH] + right) if alike else None


def looks_like_tag(text: str) -> bool:
    """Return whether `text` has the form of a tag, whatever its check character."""
    plain = normalise(text)
    return (
        len(plain) == BODY_LENGTH + 1
        and all(character in ALPHABET for character in plain[:BODY_LENGTH])
        and plain[BODY_LENGTH] in CHECK_ALPHABET
    )


def single_slips(text: str) -> list[str]:
    """Return the valid tags, without hyphens, one slip away from `text`, swaps of neighbours first.

    A slip is one wrong character or two neighbours swapped; the list holds some dozens, so the
    caller keeps those that the registry knows.
    """
    plain = normalise(text)
    swapped = (plain[:i] + plain[i + 1] + plain[i] + plain[i + 2 :] for i in range(len(plain) - 1))
    changed = (
        plain[:i] + character + plain[i + 1 :]
        for i in range(len(plain))
        for character in (ALPHABET if i < BODY_LENGTH else CHECK_ALPHABET)
    )
    candidates = dict.fromkeys((*swapped, *changed))
    return [tag for tag in candidates if tag != plain and is_plain_tag(tag)]


def is_plain_tag(tag: str) -> bool:
    """Return whether it is a tag in its plain form: seven characters, the last one right."""
    is_plain = looks_like_tag(tag) and normalise(tag) == tag
    return is_plain and check_character(tag[:BODY_LENGTH]) == tag[BODY_LENGTH]


ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
MAX_HOST_LENGTH = 253
_BASE_ADDRESS = pattern(r"(?:HTTP://)?(?P<host>[^/:\s\[\]]+)(?::(?P<port>\d{1,5}))?/?")
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
    found = _BASE_ADDRESS.fullmatch(upper)
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
