# SPDX-License-Identifier: MIT
"""``wiretrack serve``: the pages for phones and the HTTP API."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wiretrack.cli.options import json_option, opened, person
from wiretrack.cli.output import facts, print_json, say

if TYPE_CHECKING:
    from wiretrack.web.settings import Settings
    from wiretrack.web.tls import Certificate

EVERYWHERE = ("0.0.0.0", "::")
PEM = click.Path(path_type=Path, exists=True, dir_okay=False)


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Where to listen.")
@click.option("--port", type=click.IntRange(0, 65535), default=8080, show_default=True)
@click.option("--code", help="The access code; made and shown if left out.")
@click.option("--log-code", help="A second code that may only read and log readings.")
@click.option("--read-code", help="A third code that may only read.")
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
def serve(db: Path, /, host: str, port: int, lan: bool, lead: bool | None, **asked: Any) -> None:
    """Serve the pages for phones and the HTTP API, until you press Ctrl-C."""
    from wiretrack.web.announcing import host_name, own_addresses
    from wiretrack.web.server import server_for

    with opened(db) as registry:
        name = host_name(_site_name(registry)) if lan else None
    host = EVERYWHERE[0] if lan and host == "127.0.0.1" else host
    addresses = own_addresses() if host in EVERYWHERE else [host]
    settings = _settings(db, {*addresses, *([name] if name else [])}, asked)
    certificate = _certificate(db, settings, asked)
    server = server_for(settings, host, port, certificate)
    shown = _bracketed(name or (addresses[0] if addresses else host))
    address = f"{'https' if certificate else 'http'}://{shown}:{server.port}"

    def tell() -> None:
        """Say where the pages are and with which codes, once they answer."""
        if asked["as_json"]:
            codes = [{"code": code.text, "role": code.role} for code in settings.codes]
            print_json({"address": address, "also": addresses, "codes": codes})
        else:
            _introduce(address, addresses, settings, certificate)
            _offer(db, f"http://{shown}:{server.plain_port}", lan, lead)
        sys.stdout.flush()

    with ExitStack() as stack:
        if name:
            _announce(stack, name, server.port, addresses, quiet=asked["as_json"])
        server.run(tell)


def _settings(db: Path, hosts: set[str], asked: dict[str, Any]) -> Settings:
    from wiretrack.web.server import processes_of_use
    from wiretrack.web.settings import LOOPBACK, Code, Settings, make_code

    if asked["code"] is not None and not asked["code"].strip():
        raise click.UsageError("The access code is empty. Leave --code out to have one made.")
    codes = [Code(asked["code"].strip()) if asked["code"] else make_code()]
    for option, role in (("log_code", "log"), ("read_code", "read")):
        if asked[option]:
            codes.append(Code(asked[option].strip(), role))  # type: ignore[arg-type]
    return Settings(
        db=db.resolve(),
        codes=tuple(codes),
        hosts=LOOPBACK | {_bracketed(host).lower() for host in hosts},
        open_records=asked["open_records"],
        secure=asked["tls"] or asked["certificate"] is not None,
        processes=processes_of_use(),
    )


def _certificate(db: Path, settings: Settings, asked: dict[str, Any]) -> Certificate | None:
    from wiretrack.web.tls import Certificate, self_made

    if (asked["certificate"] is None) != (asked["key"] is None):
        raise click.UsageError("Give --certificate and --key together.")
    if asked["certificate"]:
        return Certificate(asked["certificate"], asked["key"])
    return self_made(db.resolve(), settings.hosts) if asked["tls"] else None


def _introduce(
    address: str, addresses: list[str], settings: Settings, certificate: Certificate | None
) -> None:
    rows: list[tuple[str, object]] = [("address", address)]
    if len(addresses) > 1 or addresses[:1] != [address.split("//")[1].rsplit(":", 1)[0]]:
        rows.append(("also", ", ".join(addresses)))
    rows += [(f"code to {code.role}", code.text) for code in settings.codes]
    if certificate:
        from wiretrack.web.tls import fingerprint

        rows.append(("certificate", fingerprint(certificate)))
    facts(rows)
    say("Ctrl-C stops it.")


def _announce(stack: ExitStack, name: str, port: int, addresses: list[str], *, quiet: bool) -> None:
    from wiretrack.web.announcing import announced

    try:
        stack.enter_context(announced(name, port, addresses))
    except OSError as error:
        if not quiet:
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
        _lead_here(db, address)


def _lead_here(db: Path, address: str) -> None:
    from wiretrack.tasks.label.printing import set_base_address

    with opened(db) as registry:
        say(f"New labels lead to {set_base_address(registry, address, who=person())}.")


def _site_name(registry: Any) -> str | None:
    from wiretrack.tasks.find.site_map import site_name

    return site_name(registry)


def _bracketed(host: str) -> str:
    return f"[{host}]" if ":" in host and not host.startswith("[") else host
