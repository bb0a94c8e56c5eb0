"""A page for people and printers: one HTML file that asks for nothing outside of it.

The rules of this file: every text is escaped on its way in, by `text`; markup is built here and nowhere else. No script,
no font, no picture from outside; it prints on A4 and on letter.
"""

from __future__ import annotations

import html
from collections.abc import Sequence

from reelcare.core.clean import clean
from reelcare.core.text import _
from reelcare.reports.blocks import Bars, Block, Columns, Document, Heading, Paragraph, Signatures, Table

STYLE = """
:root { color-scheme: light; }
body { font: 10.5pt/1.45 "DejaVu Sans", "Segoe UI", "Helvetica Neue", Arial, sans-serif; color: #1d2321; margin: 2rem auto;
  max-width: 56rem; padding: 0 1.2rem; }
h1 { font-size: 1.5rem; margin: 0 0 .2rem; }
h2 { font-size: 1.1rem; margin: 1.6rem 0 .4rem; border-bottom: 1px solid #9aa6a1; padding-bottom: .15rem; }
p.under { color: #55605b; margin: 0 0 1rem; }
table { border-collapse: collapse; width: 100%; margin: .4rem 0 1rem; }
td, th, h1, p { overflow-wrap: anywhere; }
th { text-align: left; font-weight: 600; color: #55605b; border-bottom: 1.5px solid #55605b; padding: .2rem .6rem .2rem 0; }
td { border-bottom: 1px solid #dfe4e1; padding: .22rem .6rem .22rem 0; vertical-align: top; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; }
.bad { font-weight: 700; color: #9c2b20; } .warning { font-weight: 600; color: #8a5a00; } .good { color: #22663f; }
.small { font-size: .85em; color: #55605b; } code { font-family: "DejaVu Sans Mono", Consolas, monospace; font-size: .85em; }
.sign { margin-top: 2.4rem; display: flex; gap: 3rem; } .sign div { flex: 1; border-top: 1px solid #1d2321; padding-top: .2rem; }
svg { max-width: 100%; height: auto; } svg.code { float: right; width: 22mm; height: 22mm; margin: 0 0 .3rem 1rem; }
td.whole { white-space: nowrap; } table.pairs td:first-child { width: 1%; min-width: 9rem; white-space: nowrap; padding-right: 2rem; color: #55605b; }
tr.part td { font-weight: 600; padding-top: .5rem; border-bottom-color: #9aa6a1; }
.close { font-size: 9pt; line-height: 1.3; } .close td { padding-top: .08rem; padding-bottom: .08rem; }
.close tr.part td { padding-top: .3rem; } .close h1 { font-size: 1.3rem; } .close h2 { font-size: 1rem; } .close .sign { margin-top: 1.8rem; }
.close td:nth-child(n+3) { white-space: nowrap; }
@media print { body.close { font-size: 8.5pt; line-height: 1.2; } .close td { padding-top: 0; padding-bottom: 0; }
  .close tr.part td { padding-top: .15rem; } .close h1 { font-size: 1rem; } .close h2 { font-size: .75rem; margin: .5rem 0 .1rem; }
  .close p { margin: .15rem 0; } .close .sign { margin-top: 1.5rem; } body { margin: 0; max-width: none; font-size: 9pt; line-height: 1.3; padding: 0; }
  body:not(.close) td { padding-top: .12rem; padding-bottom: .12rem; } h2 { break-after: avoid; } tr, svg { break-inside: avoid; }
  thead { display: table-header-group; } }
@page { margin: 16mm 14mm; }
"""
ACROSS = "body { max-width: 80rem; } @page { size: landscape; }"
"""The style of a report on paper that lies across, beside the usual one."""


def text(value: object) -> str:
    """Any value as text that is no markup, with nothing in it that steers or hides."""
    return html.escape(clean(str(value), lines=True))


def lay_out(report: Document) -> bytes:
    """A report as a whole page."""
    head = (
        f'<!DOCTYPE html>\n<html lang="{text(report.language)}"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<title>{text(report.title)}</title><style>{STYLE}{ACROSS if report.is_wide else ''}</style></head><body{' class=close' if _is_close(report) else ''}>"
    )
    parts = [_code(report.code)] if report.code else []
    parts += [f'<h1>{text(report.title)}</h1><p class="under">{text(report.told_under)}</p>']
    parts += [_block(one) for one in report.blocks]
    return f"{head}\n{chr(10).join(parts)}\n</body></html>\n".encode()


ROOMY = 25
"""Rows up to which a report has room on one page without being set close."""


def _is_close(report: Document) -> bool:
    """Whether a report is set close: one that is meant to stay on one page, and is long."""
    return report.close and sum(len(one.rows) for one in report.blocks if isinstance(one, Table)) > ROOMY


def _code(rows: Sequence[Sequence[bool]]) -> str:
    """A code as a picture beside the title, black on white whatever the theme."""
    dark = "".join(f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, module in enumerate(row) if module)
    wide = len(rows)
    return (
        f'<svg class=code viewBox="0 0 {wide} {wide}" role="img"><rect width="{wide}" height="{wide}" fill="#fff"/>'
        f'<path d="{dark}" fill="#000"/></svg>'
    )


def _block(one: Block) -> str:
    match one:
        case Heading():
            return f"<h2>{text(one.words)}</h2>"
        case Paragraph():
            return f'<p class="{one.tone}">{text(one.words)}</p>' if one.tone else f"<p>{text(one.words)}</p>"
        case Table():
            return _table(one)
        case Signatures():
            return '<div class="sign">' + "".join(f"<div>{text(name)}</div>" for name in one.names) + "</div>"
        case Bars():
            return _bars(one.rows)
        case Columns():
            return _columns(one.values, one.unit)


def _table(one: Table) -> str:
    def cells(tag: str, values: Sequence[str]) -> str:
        return "".join(
            f"<{tag}{_manner(value, number=place in one.numbers)}>{text(value)}</{tag}>"
            for place, value in enumerate(values)
        )

    def row_of(values: Sequence[str]) -> str:
        if len(values) == 1 and len(one.heads) > 1:
            return f"<tr class=part><td colspan={len(one.heads)}>{text(values[0])}</td></tr>"
        return f"<tr>{cells('td', values)}</tr>"

    body = "".join(row_of(row) for row in one.rows)
    if not one.heads:
        return f"<table class=pairs>{body}</table>"
    if not body:
        return _nothing()
    return f"<table><thead><tr>{cells('th', one.heads)}</tr></thead><tbody>{body}</tbody></table>"


WHOLE = 16
"""Letters up to which a cell is not broken: a date, a state, a figure with its unit."""


def _manner(value: str, *, number: bool) -> str:
    """How a cell is set: figures to the right, what is short on one line."""
    named = [name for name, so in (("number", number), ("whole", len(value) <= WHOLE)) if so]
    return f' class="{" ".join(named)}"' if named else ""


WIDTH, HEIGHT = 760, 170
"""Units of a drawing from side to side, and of columns from top to foot."""


def _bars(rows: Sequence[tuple[str, float, str]]) -> str:
    """Bars under each other: a name, a value, and what is written at its end."""
    most = max([one for _name, one, _words in rows], default=0.0) or 1.0
    # a capital is about 9 wide; the longest name that there is keeps clear of the edge, and leaves room for its bar
    left = min(max(110, 9 * max([len(name) for name, _value, _words in rows], default=0) + 16), WIDTH // 2)
    high, right = 22, 120
    drawn = []
    for place, (name, value, says) in enumerate(rows):
        y = place * high
        long = (WIDTH - left - right) * value / most
        drawn.append(
            f'<text x="{left - 8}" y="{y + 15}" text-anchor="end" font-size="12">{text(name)}</text>'
            f'<rect x="{left}" y="{y + 4}" width="{long:.1f}" height="{high - 8}" fill="#4f8f88"/>'
            f'<text x="{left + long + 6:.1f}" y="{y + 15}" font-size="12" fill="#55605b">{text(says)}</text>'
        )
    return f'<svg viewBox="0 0 {WIDTH} {len(rows) * high + 6}" role="img">{"".join(drawn)}</svg>'


def _nothing() -> str:
    """What stands where there is nothing to show."""
    says = text(_("none"))
    return f'<p class="small">{says}</p>'


def _columns(values: Sequence[tuple[str, float]], unit: str) -> str:
    """Columns beside each other, as over the weeks of a season."""
    most = max([one for _name, one in values], default=0.0) or 1.0
    if not values:
        return _nothing()
    step = WIDTH / len(values)
    drawn = [f'<line x1="0" y1="{HEIGHT - 20}" x2="{WIDTH}" y2="{HEIGHT - 20}" stroke="#9aa6a1"/>']
    every = max(1, round(len(values) / 12))
    for place, (name, value) in enumerate(values):
        tall = (HEIGHT - 36) * value / most
        drawn.append(
            f'<rect x="{place * step + 1:.1f}" y="{HEIGHT - 20 - tall:.1f}" width="{max(step - 2, 1):.1f}" '
            f'height="{tall:.1f}" fill="#4f8f88"/>'
        )
        if place % every == 0 and place * step + 40 <= WIDTH:  # a name at the edge would be cut off
            drawn.append(
                f'<text x="{place * step + 1:.1f}" y="{HEIGHT - 5}" font-size="10" fill="#55605b">{text(name)}</text>'
            )
    drawn.append(
        f'<text x="{WIDTH}" y="11" text-anchor="end" font-size="11" fill="#55605b">{most:.0f} {text(unit)}</text>'
    )
    return f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img">{"".join(drawn)}</svg>'
