"""Make the front end's types from the server's models: ``frontend/src/client``.

    python tools/make_client.py           # write openapi.json and types.gen.ts
    python tools/make_client.py --check   # compare only; exit 1 when they differ

The description comes from the application in ``eke.web.app`` when its factory can be called without a
workroom (``describe()``, returning the OpenAPI document); the models of ``eke.web.models`` are always all in
it, also those that travel by server-sent events and that no route returns.
"""

from __future__ import annotations

import argparse
import importlib
import inspect
import json
import os
import pkgutil
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

ROOT = Path(__file__).resolve().parent.parent
FRONTEND = ROOT / "frontend"
CLIENT = FRONTEND / "src" / "client"
FILES = ("openapi.json", "types.gen.ts")


def all_models() -> list[type[BaseModel]]:
    """Return every model of ``eke.web.models``, by name."""
    package = importlib.import_module("eke.web.models")
    found: dict[str, type[BaseModel]] = {}
    for info in pkgutil.iter_modules(package.__path__):
        module = importlib.import_module(f"{package.__name__}.{info.name}")
        found |= {name: value for name, value in vars(module).items() if _own_model(value, module.__name__)}
    return [found[name] for name in sorted(found) if name != "Model"]


def _own_model(value: object, module: str) -> bool:
    return inspect.isclass(value) and issubclass(value, BaseModel) and value.__module__ == module


def said_by_client(name: str) -> bool:
    """Return whether a model travels from the window to the server, so that what has a default may be left out."""
    return name.endswith(("Said", "Described", "Named", "Used")) or name in {
        "Expected",
        "TakePiece",
        "TakeCloth",
    }


def in_answers(schema: dict[str, Any]) -> None:
    """Mark every field of an answer as present: the server leaves none out."""
    for field in schema.get("properties", {}).values():
        field.pop("title", None)
        field.pop("default", None)
    if "properties" in schema:
        schema["required"] = list(schema["properties"])


def described() -> dict[str, Any]:
    """Return the OpenAPI document: all models, and the routes where the application exists."""
    _, top = models_json_schema(
        [(model, "validation") for model in all_models()], ref_template="#/components/schemas/{model}"
    )
    schemas: dict[str, Any] = top.get("$defs", {})
    for name, schema in schemas.items():
        if not said_by_client(name):
            in_answers(schema)
    paths: dict[str, Any] = {}
    try:
        app = importlib.import_module("eke.web.app")
    except ModuleNotFoundError:
        app = None
    if app is not None and hasattr(app, "describe"):
        document = app.describe()
        paths = document.get("paths", {})
        for name, schema in document.get("components", {}).get("schemas", {}).items():
            schemas.setdefault(name, schema)  # forms of uploads, which are no models of ours
    return {
        "openapi": "3.1.0",
        "info": {"title": "Eke", "version": "1"},
        "paths": paths,
        "components": {"schemas": dict(sorted(schemas.items()))},
    }


def make(folder: Path) -> None:
    """Write the two files into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    source = folder / "openapi.json"
    source.write_text(json.dumps(described(), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    with tempfile.TemporaryDirectory() as out:
        program = FRONTEND / "node_modules" / "@hey-api" / "openapi-ts" / "bin" / "run.js"
        node = shutil.which(
            "node", path=os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]])
        )
        if node is None or not program.exists():
            raise SystemExit("Install the front end's packages first: npm ci, in frontend.")
        subprocess.run(
            [node, str(program), "-i", str(source), "-o", out, "-p", "@hey-api/typescript", "--silent"],
            cwd=FRONTEND,
            check=True,
        )
        text = (Path(out) / "types.gen.ts").read_text(encoding="utf-8")
    (folder / "types.gen.ts").write_text(text, encoding="utf-8", newline="\n")


def main() -> None:
    """Write, or compare."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--check", action="store_true", help="compare only")
    if not parser.parse_args().check:
        make(CLIENT)
        return
    with tempfile.TemporaryDirectory() as text:
        fresh = Path(text)
        make(fresh)
        stale = [n for n in FILES if not _same(fresh / n, CLIENT / n)]
    if stale:
        raise SystemExit(f"Out of date: {', '.join(stale)}. Run: python tools/make_client.py")


def _same(one: Path, other: Path) -> bool:
    return other.exists() and one.read_text(encoding="utf-8") == other.read_text(encoding="utf-8")


if __name__ == "__main__":
    main()
