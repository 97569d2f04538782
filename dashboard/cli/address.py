"""Whether the dashboard can listen where it is told to, found out before it is started."""

from __future__ import annotations

import socket

from pipeline.contract.findings import BadInput


def check_address(address: str, port: int | None) -> None:
    """BadInput for an address that is none of this computer's, or a port that is taken or not allowed."""
    try:
        kind, _, _, _, place = socket.getaddrinfo(address, port or 0, type=socket.SOCK_STREAM)[0]
        with socket.socket(kind, socket.SOCK_STREAM) as trial:
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            trial.bind(place)
    except (OSError, UnicodeError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "it is no address"
        where = address if port is None else f"{address} port {port}"
        raise BadInput(
            f"The dashboard cannot listen on {where}: {reason}. Name an address of this computer, such as 127.0.0.1, "
            "and a free port, or leave both out."
        ) from error
