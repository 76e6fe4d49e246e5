# SPDX-License-Identifier: MIT
"""``serve``: the pages for phones and the HTTP API."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.command import Command
from wiretrack.cli.keeping import suggest_backup
from wiretrack.cli.options import json_option, open_site, say_next, together, wants_json
from wiretrack.cli.output import facts, say, show

if TYPE_CHECKING:
    from wiretrack.web.access import Code
    from wiretrack.web.network import Certificate

EVERYWHERE = ("0.0.0.0", "::")
PEM = click.Path(path_type=Path, exists=True, dir_okay=False)


_FEWEST = 4  # characters of a code; every wrong one is counted, and soon none is looked at


def _codes(code: str | None, log_code: str | None, read_code: str | None) -> tuple[Code, ...]:
    from wiretrack.web.access import Code, make_code

    typed = {"--code": code, "--log-code": log_code, "--read-code": read_code}
    given = {option: _code(option, text) for option, text in typed.items() if text is not None}
    if len(set(given.values())) < len(given):
        raise click.UsageError(
            f"{' and '.join(given)} name one code twice. Choose different codes."
        )
    codes = [Code(given["--code"]) if "--code" in given else make_code()]
    codes += [Code(given["--log-code"], "log")] if "--log-code" in given else []
    codes += [Code(given["--read-code"], "read")] if "--read-code" in given else []
    return tuple(codes)


def _code(option: str, text: str) -> str:
    """Return the code that an option or the environment gives: itself, or @FILE that holds it."""
    if text.startswith("@"):
        text = Path(text[1:]).read_text("utf-8")
    text = text.strip()
    if len(text) < _FEWEST:
        what = f"has {len(text)} characters" if text else "is empty"
        hint = "Leave it out to have one made." if option == "--code" else "Leave it out."
        raise click.UsageError(
            f"The code of {option} {what}; at least {_FEWEST} are needed. {hint}"
        )
    return text


@click.command(cls=Command)
@click.option("--host", default="127.0.0.1", show_default=True, help="Where to listen.")
@click.option("--port", type=click.IntRange(0, 65535), default=8080, show_default=True)
@together(
    "codes",
    _codes,
    click.option(
        "--code",
        envvar="WIRETRACK_CODE",
        help="The access code, or @FILE that holds it; made and shown if left out. Others on this"
        " machine see what is typed here; they don't see a file or WIRETRACK_CODE.",
    ),
    click.option(
        "--log-code",
        envvar="WIRETRACK_LOG_CODE",
        help="A second code that may only read and log readings.",
    ),
    click.option(
        "--read-code", envvar="WIRETRACK_READ_CODE", help="A third code that may only read."
    ),
)
@click.option("--open-records", is_flag=True, help="Let everybody read, without a code.")
@click.option("--lan", is_flag=True, help="Serve the local network under a name of its own.")
@click.option(
    "--labels-lead-here/--labels-stay",
    "lead",
    default=None,
    help="Make this address the labels' base address, or don't; with --lan you are asked.",
)
@click.option("--tls", is_flag=True, help="Encrypt, with a self-made certificate.")
@click.option("--certificate", type=PEM, help="Your certificate, for TLS.")
@click.option("--key", type=PEM, help="The certificate's private key.")
@json_option
@click.pass_obj
def serve(
    db: Path, /, host: str, port: int, lan: bool, codes: tuple[Code, ...], **asked: Any
) -> None:
    """Serve the pages for phones and the HTTP API, until you press Ctrl-C."""
    from wiretrack.processes import forks_of_use
    from wiretrack.web.access import LOOPBACK, Settings
    from wiretrack.web.network import host_name, own_addresses
    from wiretrack.web.server import server_for

    with open_site(db) as site:
        name = host_name(site.facts.name) if lan else None
    host = EVERYWHERE[0] if lan and host == "127.0.0.1" else host
    addresses = own_addresses() if host in EVERYWHERE else [host]
    hosts = LOOPBACK | {_bracketed(one).lower() for one in filter(None, (*addresses, name))}
    certificate = _certificate(db, hosts, asked)
    settings = Settings(
        db=db.resolve(),
        codes=codes,
        hosts=hosts,
        open_records=asked["open_records"],
        secure=certificate is not None,
        processes=forks_of_use(),
    )
    server = server_for(settings, host, port, certificate)
    shown = _bracketed(name or (addresses[0] if addresses else host))
    address = f"{'https' if certificate else 'http'}://{shown}:{server.port}"

    def tell() -> None:
        """Say where the pages are and with which codes, once they answer."""

        def introduce() -> None:
            _introduce(address, addresses, codes, certificate)
            _offer(db, f"http://{shown}:{server.plain_port}", lan, asked["lead"])

        told = [{"code": code.text, "role": code.role} for code in codes]
        show({"address": address, "also": addresses, "codes": told}, asked["as_json"], introduce)
        sys.stdout.flush()

    with ExitStack() as stack:
        if name:
            _announce(stack, name, server.port, addresses)
        server.run(tell)
    if not asked["as_json"]:
        say_next(suggest_backup(db))


def _certificate(db: Path, hosts: frozenset[str], asked: dict[str, Any]) -> Certificate | None:
    from wiretrack.web.network import Certificate, self_made

    if (asked["certificate"] is None) != (asked["key"] is None):
        raise click.UsageError("Give --certificate and --key together.")
    if asked["certificate"]:
        return Certificate(asked["certificate"], asked["key"])
    return self_made(db.resolve(), hosts) if asked["tls"] else None


def _introduce(
    address: str, addresses: list[str], codes: tuple[Code, ...], certificate: Certificate | None
) -> None:
    rows: list[tuple[str, object]] = [("address", address)]
    if len(addresses) > 1 or addresses[:1] != [address.split("//")[1].rsplit(":", 1)[0]]:
        rows.append(("also", ", ".join(addresses)))
    rows += [(f"code to {code.role}", code.text) for code in codes]
    if certificate:
        from wiretrack.web.network import fingerprint

        rows.append(("certificate", fingerprint(certificate)))
    facts(rows)
    say("Ctrl-C stops it.")


def _announce(stack: ExitStack, name: str, port: int, addresses: list[str]) -> None:
    from wiretrack.web.network import announced

    try:
        stack.enter_context(announced(name, port, addresses))
    except OSError as error:
        if not wants_json():
            say(f"{name} can't be announced here ({error.strerror or error}); use the numbers.")


def _offer(db: Path, address: str, lan: bool, lead: bool | None) -> None:
    """Show the address as a QR code, and make it the labels' base address on agreement."""
    if lan:
        import qrcode

        symbol = qrcode.QRCode(border=2)
        symbol.add_data(address.upper())
        symbol.print_ascii(out=sys.stdout, invert=True)
    if lead is None and lan and sys.stdin.isatty():
        lead = click.confirm(f"Shall new labels lead to {address}?", default=False)
    if lead:
        from wiretrack.tasks.label.printing import set_base_address

        with open_site(db) as site:
            say(f"New labels lead to {set_base_address(site.registry, address, who=site.who)}.")


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host and not host.startswith("[") else host
