"""``python -m demo``: build the demonstration, write an index of what it made, and open the app on it."""

from __future__ import annotations

import argparse
import html
import shutil
import sys
from itertools import groupby
from pathlib import Path

from demo.build import Made, build
from eke.actions.room import open_room
from eke.errors import EkeError
from eke.store import InUse
from eke.web.serve import open_workroom

STYLE = """
body { font: 17px/1.55 Georgia, serif; color: #1F2A44; background: #F5EFE3; max-width: 60rem; margin: 0 auto; padding: 2rem 1.2rem 5rem }
h1, h2 { font-weight: 600; line-height: 1.2 } h2 { margin: 2.4rem 0 .6rem }
.card { background: #FFFDF8; border: 1px solid #DAD7CF; border-radius: 4px; padding: .9rem 1.1rem; margin: .8rem 0 }
ul { margin: .3rem 0; padding-left: 1.2rem } li { margin: .15rem 0 } a { color: #2B6391 }
img { max-width: 100%; height: auto; background: #fff; border: 1px solid #DAD7CF; margin-top: .6rem }
p.quiet { color: #5B6275 }
"""


def index(made: Made) -> str:
    """Return the page that leads through what the demo made."""
    parts = [
        "<!doctype html><html lang='en-GB'><meta charset='utf-8'><meta name='viewport' content='width=device-width'>",
        f"<title>Eke: the demo</title><style>{STYLE}</style>",
        "<h1>A pinafore and an apron, from eight photographs</h1>",
        "<p>Copied from a worn-out favourite, cut from two second-hand curtains and a worn tablecloth. Everything below "
        "was made by the program from the photographs, step by step.</p>",
    ]
    files = {chapter: list(group) for chapter, group in groupby(made.files, key=lambda f: f[0])}
    for chapter, told in groupby(made.told, key=lambda t: t[0]):
        parts.append(f"<h2>{html.escape(chapter)}</h2><div class='card'><ul>")
        parts += [f"<li>{html.escape(sentence)}</li>" for _, sentence in told]
        parts.append("</ul>")
        for _, name, title in files.get(chapter, ()):
            if name.endswith(".png"):
                parts.append(f"<a href='{name}'><img src='{name}' alt='{html.escape(title)}'></a>")
            else:
                parts.append(
                    f"<p><a href='{name}'>{html.escape(title)}</a> <span class='quiet'>{name}</span></p>"
                )
        parts.append("</div>")
    parts.append(
        "<p class='quiet'>Go on with it in the app: <code>eke --workroom workroom</code>, run in this folder.</p>"
    )
    return "\n".join(parts)


def main() -> int:
    """Build, write the index, and say where it is."""
    parser = argparse.ArgumentParser(prog="python -m demo", description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("demo-out"), help="folder to write to; made anew")
    parser.add_argument("--no-open", action="store_true", help="build it, and do not open the app")
    options = parser.parse_args()
    out: Path = options.out
    if out.exists():
        if any(out.iterdir()) and not (out / "workroom").is_dir():
            print(
                f"{out} holds something that the demo did not make. Give another folder with --out.",
                file=sys.stderr,
            )
            return 2
        if _in_use(out / "workroom"):
            return 2
        shutil.rmtree(out)
    out.mkdir(parents=True)
    try:
        made = build(out)
    except EkeError as error:
        print(error.message, file=sys.stderr)
        return error.exit_code
    page = out / "index.html"
    page.write_text(index(made), encoding="utf-8")
    made.room.close()
    print(f"\nEverything is in {out.resolve()}; {page.name} there shows the documents.")
    if not options.no_open:
        open_workroom(out / "workroom", say=print)
    return 0


def _in_use(workroom: Path) -> bool:
    """Say so, and return True, where the app still has the demo's workroom open."""
    try:
        open_room(workroom).close()
    except InUse as error:
        print(f"{error.message} Then make the demo anew.", file=sys.stderr)
        return True
    except EkeError:
        pass  # half made or damaged: it is made anew
    return False


if __name__ == "__main__":
    sys.exit(main())
