"""Check the licences of everything that a maker's installation contains.

Walks the run-time dependencies of ``eke`` as they are installed here, reads each one's licence, and looks
inside the wheels for shared libraries; then the npm packages that the app's pages are built of. GPL and AGPL are refused (LGPL libraries that are linked dynamically
and GCC's run-time libraries, which carry their own exception, are not GPL programs). A library or licence
that nobody has classified is refused too, so that a new one is read before it is shipped.

Run: ``python tools/check_licences.py``; exit code 1 names what is wrong.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterable
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

from packaging.requirements import Requirement

FRONTEND_LOCK = Path(__file__).parents[1] / "frontend" / "package-lock.json"
ALLOWED = re.compile(
    r"\b(MIT|BSD|Apache|MPL[ -]?2|ISC|PSF|Zlib|0BSD|CC0|HPND|OFL-1\.1|Unlicense|LGPL|Lesser General Public|"
    r"Mozilla Public License 2|Python Software Foundation|Historical Permission)",
    re.IGNORECASE,
)
REFUSED = re.compile(r"(?<![Ll])(?<!Lesser )\b(A?GPL|(Affero )?General Public License)", re.IGNORECASE)
EXCEPTIONS = re.compile(
    r"\bGPL[^ ]* WITH (GCC|Autoconf|Classpath)[^ ]*|Lesser General Public License", re.IGNORECASE
)

# Shared libraries that wheels carry, by the stem of the file name, with the licence they come under.
BUNDLED = {
    "gfortran": "GPL-3.0 with GCC run-time exception",
    "quadmath": "LGPL-2.1",
    "gcc_s": "GPL-3.0 with GCC run-time exception",
    "stdc++": "GPL-3.0 with GCC run-time exception",
    "gomp": "GPL-3.0 with GCC run-time exception",
    "scipy_openblas": "BSD-3-Clause",
    "scipy_openblas64_": "BSD-3-Clause",
    "openblasp": "BSD-3-Clause",
    "openblas": "BSD-3-Clause",
    "llvmlite": "Apache-2.0 WITH LLVM-exception",
    "geos": "LGPL-2.1",
    "geos_c": "LGPL-2.1",
    "aom": "BSD-2-Clause",
    "avcodec": "LGPL-2.1 (built without GPL parts)",
    "avformat": "LGPL-2.1 (built without GPL parts)",
    "avutil": "LGPL-2.1 (built without GPL parts)",
    "swresample": "LGPL-2.1 (built without GPL parts)",
    "swscale": "LGPL-2.1 (built without GPL parts)",
    "avif": "BSD-2-Clause",
    "crypto": "OpenSSL",
    "ssl": "OpenSSL",
    "drm": "MIT",
    "vpx": "BSD-3-Clause",
    "png16": "libpng-2.0",
    "Xau": "MIT",
    "xcb": "MIT",
    "brotlicommon": "MIT",
    "brotlidec": "MIT",
    "brotlienc": "MIT",
    "freetype": "FTL",
    "harfbuzz": "MIT",
    "jpeg": "BSD-3-Clause AND IJG",
    "turbojpeg": "BSD-3-Clause AND IJG",
    "lcms2": "MIT",
    "lzma": "0BSD",
    "openjp2": "BSD-2-Clause",
    "sharpyuv": "BSD-3-Clause",
    "tiff": "libtiff",
    "webp": "BSD-3-Clause",
    "webpdemux": "BSD-3-Clause",
    "webpmux": "BSD-3-Clause",
    "zstd": "BSD-3-Clause",
    "z": "Zlib",
    "bz2": "bzip2-1.0.6",
    "heif": "LGPL-3.0",
    "de265": "LGPL-3.0",
    "qpdf": "Apache-2.0",
    "pdfium": "BSD-3-Clause AND Apache-2.0",
}
LIBRARY = re.compile(
    r"^(?:lib)?(?P<stem>[A-Za-z0-9_+]+?)(?:-r\d+)?(?:-[0-9a-f]{6,}(?:-[0-9a-f]{6,})?)?"
    r"(?:[-.]\d[\d.a-z]*)*(?:\.so(?:\.[\da-z]+)*|\.dylib|\.dll)$"
)


def closure(root: str) -> dict[str, Distribution]:
    """Return the installed distributions that ``root`` needs at run time, ``root`` itself left out."""
    found: dict[str, Distribution] = {}
    todo = [root]
    while todo:
        name = todo.pop()
        for line in distribution(name).requires or ():
            requirement = Requirement(line)
            if requirement.marker and not requirement.marker.evaluate({"extra": ""}):
                continue
            key = requirement.name.lower().replace("_", "-")
            if key not in found:
                found[key] = distribution(requirement.name)
                todo.append(requirement.name)
    return found


def licence_of(dist: Distribution) -> str:
    """Return what the distribution's metadata says of its licence, as one line."""
    meta = dist.metadata
    expression = meta.get("License-Expression")
    if expression:
        return str(expression)
    said = (meta.get("License") or "").splitlines()[:1]
    classifiers = [
        c.split("::")[-1].strip() for c in meta.get_all("Classifier") or () if c.startswith("License")
    ]
    return "; ".join([*said, *classifiers])


def judge(name: str, licence: str, files: Iterable[str]) -> list[str]:
    """Return what is wrong with one distribution: its licence text and the libraries inside it."""
    wrong = []
    if REFUSED.search(EXCEPTIONS.sub("", licence)):
        wrong.append(f"{name}: licence “{licence}” is GPL or AGPL")
    elif not ALLOWED.search(licence):
        wrong.append(f"{name}: licence “{licence}” is not classified")
    for file in files:
        base = file.replace("\\", "/").rsplit("/", 1)[-1]
        in_libs = ".libs/" in file or "/.dylibs/" in file or base.startswith("lib")
        if (
            not in_libs
            or not re.search(r"\.(so|dylib|dll)(\.|$)", base)
            or ".cpython-" in base
            or ".abi3." in base
        ):
            continue
        match = LIBRARY.match(base)
        stem = match.group("stem") if match else base
        if stem not in BUNDLED:
            wrong.append(f"{name}: the library {base} inside its wheel is not classified (stem “{stem}”)")
    return wrong


def shipped_in_pages(lock: Path = FRONTEND_LOCK) -> dict[str, tuple[str, str]]:
    """Return version and licence of every npm package that the app's pages may contain, by name.

    The fonts that the front end depends on, and Svelte with all that it needs: the rest are tools of the build.
    """
    listed = json.loads(lock.read_text(encoding="utf-8"))["packages"]
    found: dict[str, tuple[str, str]] = {}
    todo = ["svelte", *listed[""].get("dependencies", ())]
    while todo:
        name = todo.pop()
        if name in found:
            continue
        row = listed[f"node_modules/{name}"]
        found[name] = (row["version"], row.get("license", ""))
        todo += row.get("dependencies", ())
    return found


def main() -> int:
    """Print one line a distribution; return 1 where something is wrong."""
    try:
        needed = closure("eke")
    except PackageNotFoundError as missing:
        print(f"not installed: {missing}")
        return 1
    wrong: list[str] = []
    for name, dist in sorted(needed.items()):
        licence = licence_of(dist)
        wrong += judge(name, licence, (str(f) for f in dist.files or ()))
        for file in dist.files or ():
            if (
                re.match(r"lib(av|sw)[a-z]+-", file.name)
                and b"--enable-gpl" in Path(str(file.locate())).read_bytes()
            ):
                wrong.append(f"{name}: {file.name} was built with its GPL parts")
        print(f"{name:26} {dist.version:14} {licence[:80]}")
    for name, (version, licence) in sorted(shipped_in_pages().items()):
        wrong += judge(name, licence, ())
        print(f"{name:42} {version:14} {licence[:60]}")
    for line in wrong:
        print("WRONG", line)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
