"""The files of the phone's page, as a browser gets them: types, versions, and the few that are made from the theme."""

from __future__ import annotations

import gzip
import hashlib
import json
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

from dashboard import theme

FOLDER = Path(__file__).with_name("page")
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}
PAGE, WORKER = "index.html", "worker.js"


@dataclass(frozen=True, slots=True)
class PageFile:
    """One file: its type, its bytes as they are and compressed, and a mark that changes with them."""

    type: str
    plain: bytes
    compressed: bytes
    mark: str


@cache
def page_files() -> dict[str, PageFile]:
    """Every file of the page by its name. The service worker knows them all by one version: a page is of one piece."""
    found = {path.name: path.read_bytes() for path in sorted(FOLDER.iterdir()) if path.suffix in TYPES}
    found |= {"look.css": _look().encode(), "mark.svg": theme.MARK.encode()}
    worker = found.pop(WORKER).decode()
    version = hashlib.sha256(b"".join(name.encode() + found[name] for name in sorted(found))).hexdigest()[:16]
    names = json.dumps(["./", *(name for name in sorted(found) if name != PAGE)])
    found[WORKER] = worker.replace('"VERSION"', f'"{version}"').replace('["FILES"]', names).encode()
    return {name: _file(name, content) for name, content in found.items()}


def _file(name: str, content: bytes) -> PageFile:
    mark = f'"{hashlib.sha256(content).hexdigest()[:16]}"'
    return PageFile(TYPES[Path(name).suffix], content, gzip.compress(content, 9, mtime=0), mark)


def _look() -> str:
    """The colours of the dashboard as custom properties: light, and dark where the phone is set so."""

    def block(look: theme.Look) -> str:
        colours = {name.replace("_", "-"): value for name, value in asdict(look).items() if name != "name"}
        return "".join(f"--{name}:{value};" for name, value in colours.items())

    light, dark = block(theme.LIGHT), block(theme.DARK)
    by_choice = f"@media (prefers-color-scheme:dark){{:root{{color-scheme:dark;{dark}}}}}"
    return f":root{{color-scheme:light;{light}}}\n{by_choice}\n"
