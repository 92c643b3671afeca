"""The address of this machine in the home network. Nothing is sent to find it."""

from __future__ import annotations

import ipaddress
import socket
from typing import Final

from eke.errors import HonestNo

_HOME: Final = tuple(ipaddress.ip_network(n) for n in ("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16"))
"""Addresses that are used inside a home and never on the internet: RFC 1918."""
_NOBODY: Final = ("192.0.2.1", 9)
"""TEST-NET-1, for documentation only: RFC 5737. It is only asked which way would lead there."""
_NOT_A_NETWORK: Final = (
    "docker",
    "br-",
    "veth",
    "virbr",
    "vmnet",
    "vboxnet",
    "tun",
    "tap",
    "utun",
    "wg",
    "tailscale",
)
"""Beginnings of the names of networks inside this machine, or of tunnels out of it; a phone is in none."""


def home_address() -> str:
    """Return the address under which a phone in the same network reaches this machine.

    Raises
    ------
    HonestNo
        When it is in no home network. An address that the whole internet could reach is never used.
    """
    for address in [_way_out(), *_own()]:
        if is_home(address):
            return str(address)
    raise HonestNo(
        "This computer is in no home network just now, so a phone cannot reach it. Connect both to the same Wi-Fi "
        "and ask again; or bring the pictures over by cable."
    )


def is_home(address: str | None) -> bool:
    """Return whether an address is one that is used inside a home."""
    try:
        found = ipaddress.IPv4Address(address or "")
    except ValueError:
        return False
    return any(found in network for network in _HOME)


def _way_out() -> str | None:
    """Return the own address on the way out. Connecting a datagram socket sends nothing: it looks up the route."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as door:
        try:
            door.connect(_NOBODY)
            return str(door.getsockname()[0])
        except OSError:
            return None


def _own() -> list[str]:
    """Return the addresses of the networks that are up, where there is no way out."""
    import psutil

    up = {name for name, stats in psutil.net_if_stats().items() if stats.isup}
    return [
        one.address
        for name, addresses in sorted(psutil.net_if_addrs().items())
        if name in up and not name.lower().startswith(_NOT_A_NETWORK)
        for one in addresses
        if one.family == socket.AF_INET
    ]
