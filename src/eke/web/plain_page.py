"""A page of our own with a title and a few sentences, for when there is no app to show."""

from __future__ import annotations

import base64
import hashlib
from html import escape
from typing import Final

from starlette.responses import HTMLResponse

STYLE: Final = """
:root { color-scheme: light dark; --ground: #F5EFE3; --card: #FFFDF8; --ink: #1F2A44; --quiet: #5B6275; }
@media (prefers-color-scheme: dark) {
  :root { --ground: #151C2E; --card: #1F2A44; --ink: #F5EFE3; --quiet: #B9BECB; }
}
body { margin: 0; min-height: 100vh; display: grid; place-items: center; background: var(--ground);
  color: var(--ink); font: 1.125rem/1.55 Georgia, 'Iowan Old Style', 'Noto Serif', serif; }
main { max-width: 34rem; margin: 1.5rem; padding: 2rem 2.25rem; background: var(--card); border-radius: 6px;
  border-top: 3px dashed var(--ink); }
h1 { font-size: 1.6rem; font-weight: 600; line-height: 1.25; margin: 0 0 .75rem; }
p { margin: 0 0 .75rem; } p:last-child { margin: 0; }
code { font-size: 1rem; background: var(--ground); padding: .1em .35em; border-radius: 4px; }
"""


def style_hash(style: str) -> str:
    """Return how a content policy names an inline style: CSP Level 3, 6.7.3.3."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()}'"


def plain_page(title: str, *sentences: str, status: int = 200) -> HTMLResponse:
    """Return a page that says something. Words between backquotes are set as code."""
    paragraphs = "".join(f"<p>{_marked(sentence)}</p>" for sentence in sentences)
    text = (
        '<!doctype html><html lang="en-GB"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{STYLE}</style></head>"
        f"<body><main><h1>{escape(title)}</h1>{paragraphs}</main></body></html>"
    )
    policy = f"default-src 'none'; style-src {style_hash(STYLE)}; base-uri 'none'; frame-ancestors 'none'"
    return HTMLResponse(
        text, status, headers={"Content-Security-Policy": policy, "Cache-Control": "no-store"}
    )


def _marked(sentence: str) -> str:
    parts = escape(sentence).split("`")
    return "".join(f"<code>{part}</code>" if n % 2 else part for n, part in enumerate(parts))
