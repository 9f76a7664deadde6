"""Pieces of a page, every text in them escaped: tables, lists, bars, and the page around them."""

import html

STYLE = """
:root { color-scheme: light; }
body { font: 16px/1.5 system-ui, sans-serif; color: #1a1a1a; background: #fff; max-width: 68rem; margin: 2rem auto; padding: 0 1.5rem; }
h1 { font-size: 1.6rem; margin: 0 0 .25rem; } h2 { font-size: 1.2rem; margin: 2.2rem 0 .5rem; }
h3 { font-size: 1rem; margin: 1.4rem 0 .3rem; }
p.about { color: #4a4f54; margin: .2rem 0 1rem; }
table { border-collapse: collapse; margin: .5rem 0; } caption { text-align: left; color: #4a4f54; padding-bottom: .3rem; }
th, td { border-bottom: 1px solid #d0d4d8; padding: .25rem .8rem .25rem 0; text-align: left; vertical-align: top; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.loud { border: 3px solid #8a3800; padding: .6rem 1rem; font-weight: 600; }
.bar { display: inline-block; vertical-align: middle; } .lines { border-left: 6px solid #8a3800; padding: .1rem 1rem; margin: .5rem 0; }
pre { white-space: pre-wrap; background: #f3f4f5; padding: .6rem .8rem; overflow-wrap: anywhere; }
a { color: #0b5394; } td { overflow-wrap: anywhere; }
"""


class Raw:
    """A table cell that is markup already."""

    def __init__(self, markup):
        self.markup = markup


def bar(share):
    """A bar as long as a share of 1."""
    width = 120 * min(max(share, 0.0), 1.0)
    return Raw(
        '<svg class=bar width="122" height="12" aria-hidden="true">'
        '<rect x=".5" y=".5" width="121" height="11" fill="none" stroke="#4a4f54"/>'
        f'<rect x="1" y="1" width="{width:.1f}" height="10" fill="#0072B2"/></svg>'
    )


def in_lines(lines):
    """Texts below each other in one cell."""
    return Raw("<br>".join(escape(line) for line in lines))


def link(target, text):
    """A text that leads to another page."""
    return Raw(f'<a href="{escape(target)}">{escape(text)}</a>')


def table(caption, heads, rows, numbers=(), heading=""):
    """A table: heads, rows of texts or Raw; numbers: which columns stand to the right."""

    def cells(tag, values):
        return "".join(
            f"<{tag}{' class=number' if i in numbers else ''}>{v.markup if isinstance(v, Raw) else escape(v)}</{tag}>"
            for i, v in enumerate(values)
        )

    told = f"<caption>{escape(caption)}</caption>" if caption else ""
    body = "".join(f"<tr>{cells('td', row)}</tr>" for row in rows)
    return (
        f"<h2>{escape(heading)}</h2>" if heading else ""
    ) + f"<table>{told}<thead><tr>{cells('th', heads)}</tr></thead><tbody>{body}</tbody></table>"


def bullets(title, lines):
    """Texts as a list under a title, or nothing."""
    return (
        f"<div class=lines><h3>{escape(title)}</h3><ul>{''.join(f'<li>{escape(line)}</li>' for line in lines)}</ul></div>" if lines else ""
    )


def page(title, body):
    """A whole page that loads nothing and runs nothing. body: pieces of markup."""
    policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="{policy}">'
        f'<meta name="viewport" content="width=device-width"><title>{escape(title)}</title><style>{STYLE}</style></head>\n<body>\n'
        + "\n".join(part for part in body if part)
        + "\n</body></html>\n"
    )


def escape(value):
    """A text as markup shows it."""
    return html.escape(str(value))
