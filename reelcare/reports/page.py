"""A page for people and printers: one HTML file that asks for nothing outside of it.

The rules of this file: every text is escaped on its way in, by `text`; markup is built here and nowhere else. No script,
no font, no picture from outside; it prints on A4 and on letter.
"""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence

from reelcare.core.typed import clean

STYLE = """
:root { color-scheme: light; }
body { font: 10.5pt/1.45 "DejaVu Sans", "Segoe UI", "Helvetica Neue", Arial, sans-serif; color: #1d2321; margin: 2rem auto;
  max-width: 56rem; padding: 0 1.2rem; }
h1 { font-size: 1.5rem; margin: 0 0 .2rem; }
h2 { font-size: 1.1rem; margin: 1.6rem 0 .4rem; border-bottom: 1px solid #9aa6a1; padding-bottom: .15rem; }
p.under { color: #55605b; margin: 0 0 1rem; }
table { border-collapse: collapse; width: 100%; margin: .4rem 0 1rem; }
th { text-align: left; font-weight: 600; color: #55605b; border-bottom: 1.5px solid #55605b; padding: .2rem .6rem .2rem 0; }
td { border-bottom: 1px solid #dfe4e1; padding: .22rem .6rem .22rem 0; vertical-align: top; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; }
.bad { font-weight: 700; color: #9c2b20; } .heed { font-weight: 600; color: #8a5a00; } .good { color: #22663f; }
.small { font-size: .85em; color: #55605b; } code { font-family: "DejaVu Sans Mono", Consolas, monospace; font-size: .85em; }
.sign { margin-top: 2.4rem; display: flex; gap: 3rem; } .sign div { flex: 1; border-top: 1px solid #1d2321; padding-top: .2rem; }
svg { max-width: 100%; height: auto; }
@media print { body { margin: 0; max-width: none; font-size: 9.5pt; } h2 { break-after: avoid; } tr, svg { break-inside: avoid; }
  thead { display: table-header-group; } }
@page { margin: 16mm 14mm; }
"""


def text(value: object) -> str:
    """Any value as text that is no markup, with nothing in it that steers or hides."""
    return html.escape(clean(str(value), lines=True))


def page(title: str, under: str, parts: Iterable[str], language: str = "en") -> bytes:
    """A whole page; the parts are markup made by this file."""
    head = (
        f'<!DOCTYPE html>\n<html lang="{text(language)}"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<title>{text(title)}</title><style>{STYLE}</style></head><body>"
    )
    body = f'<h1>{text(title)}</h1><p class="under">{text(under)}</p>' + "\n".join(parts)
    return f"{head}\n{body}\n</body></html>\n".encode()


def heading(words: str) -> str:
    """A heading of a part."""
    return f"<h2>{text(words)}</h2>"


def paragraph(words: str, tone: str = "") -> str:
    """A paragraph; the tone is good, heed, bad or small."""
    return f'<p class="{tone}">{text(words)}</p>' if tone else f"<p>{text(words)}</p>"


def table(heads: Sequence[str], rows: Iterable[Sequence[object]], *, numbers: Sequence[int] = ()) -> str:
    """A table; `numbers` are the columns that stand to the right."""

    def cells(tag: str, values: Sequence[object]) -> str:
        return "".join(
            f"<{tag}{' class=number' if place in numbers else ''}>{text(value)}</{tag}>"
            for place, value in enumerate(values)
        )

    body = "".join(f"<tr>{cells('td', row)}</tr>" for row in rows)
    if not body:
        return '<p class="small">none</p>'
    return f"<table><thead><tr>{cells('th', heads)}</tr></thead><tbody>{body}</tbody></table>"


def pairs(rows: Iterable[tuple[str, object]]) -> str:
    """Names with their values, as a table without heads."""
    return (
        "<table>"
        + "".join(f"<tr><td>{text(name)}</td><td>{text(value)}</td></tr>" for name, value in rows)
        + "</table>"
    )


def signatures(names: Sequence[str]) -> str:
    """Lines to sign on."""
    return '<div class="sign">' + "".join(f"<div>{text(name)}</div>" for name in names) + "</div>"


def bars(rows: Sequence[tuple[str, float, str]], *, width: int = 760) -> str:
    """Bars under each other: a name, a value, and what is written at its end."""
    most = max([one for _, one, _ in rows], default=0.0) or 1.0
    high, left, right = 22, 110, 120
    drawn = []
    for place, (name, value, says) in enumerate(rows):
        y = place * high
        long = (width - left - right) * value / most
        drawn.append(
            f'<text x="{left - 8}" y="{y + 15}" text-anchor="end" font-size="12">{text(name)}</text>'
            f'<rect x="{left}" y="{y + 4}" width="{long:.1f}" height="{high - 8}" fill="#4f8f88"/>'
            f'<text x="{left + long + 6:.1f}" y="{y + 15}" font-size="12" fill="#55605b">{text(says)}</text>'
        )
    return f'<svg viewBox="0 0 {width} {len(rows) * high + 6}" role="img">{"".join(drawn)}</svg>'


def columns(values: Sequence[tuple[str, float]], *, width: int = 760, height: int = 170) -> str:
    """Columns beside each other, as over the weeks of a season."""
    most = max([one for _, one in values], default=0.0) or 1.0
    if not values:
        return '<p class="small">none</p>'
    step = width / len(values)
    drawn = [f'<line x1="0" y1="{height - 20}" x2="{width}" y2="{height - 20}" stroke="#9aa6a1"/>']
    every = max(1, round(len(values) / 12))
    for place, (name, value) in enumerate(values):
        tall = (height - 36) * value / most
        drawn.append(
            f'<rect x="{place * step + 1:.1f}" y="{height - 20 - tall:.1f}" width="{max(step - 2, 1):.1f}" '
            f'height="{tall:.1f}" fill="#4f8f88"/>'
        )
        if place % every == 0:
            drawn.append(
                f'<text x="{place * step + 1:.1f}" y="{height - 5}" font-size="10" fill="#55605b">{text(name)}</text>'
            )
    drawn.append(f'<text x="{width}" y="11" text-anchor="end" font-size="11" fill="#55605b">{most:.0f}</text>')
    return f'<svg viewBox="0 0 {width} {height}" role="img">{"".join(drawn)}</svg>'
