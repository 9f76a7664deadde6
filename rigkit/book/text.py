"""Markdown, code and what cells print, as HTML.

Markdown goes through nbconvert's renderer, code through Pygments, each with classes
only; the colours are in assets/book.css. A heading gets an id from its words. Mathematical
notation in dollar signs would need a script from elsewhere, and is refused.
"""

import html
import re

_HEADING = re.compile(r"<h([1-6])(?: [^>]*)?>(.*?)</h\1>", re.S)
_MATHS = re.compile(r"(?<![\\\w$])\$(?=\S)[^$`\n]*(?<=\S)\$(?!\d)|\$\$|\\\(|\\\[")


def markdown(source, taken):
    """Markdown as HTML. taken: ids that are in use on the page; those of new headings are added."""
    from nbconvert.filters import markdown2html_mistune

    refuse_maths(source)
    made = markdown2html_mistune(source)
    made = re.sub(r'<a class="anchor-link"[^>]*>.*?</a>', "", made)
    made = _HEADING.sub(lambda found: _heading(found, taken), made)
    made = re.sub(r"<table>", '<div class="wide" tabindex="0" role="region" aria-label="table"><table>', made).replace("</table>", "</table></div>")
    return re.sub(r"<pre(?: [^>]*)?>", '<pre tabindex="0">', made)


def refuse_maths(source):
    """Raise ValueError where a text holds notation in dollar signs, outside of code."""
    plain = re.sub(r"```.*?```|`[^`]*`", "", source, flags=re.S)
    found = _MATHS.search(plain)
    if found:
        raise ValueError(f"a text holds mathematical notation: {found.group()!r}; pages draw none, so write the formula in letters or as a code block")


def code(source):
    """Python as highlighted HTML."""
    from pygments import highlight
    from pygments.formatters import HtmlFormatter
    from pygments.lexers import PythonLexer

    return f'<pre class="code" tabindex="0"><code>{highlight(source, PythonLexer(), HtmlFormatter(nowrap=True)).rstrip()}</code></pre>'


def printed(text):
    """What a cell printed."""
    return f'<pre class="printed" tabindex="0">{html.escape(text.rstrip())}</pre>'


def slug(text, taken):
    """A new id from a heading's words.

    >>> slug("Step 2 · Look, and say whose left", {"step-1"})
    'step-2-look-and-say-whose-left'
    """
    base = "-".join(re.findall(r"[a-z0-9.]+", text.lower())) or "part"
    made, n = base, 2
    while made in taken:
        made, n = f"{base}-{n}", n + 1
    return made


def plain(markup):
    """The words of a piece of HTML."""
    return html.unescape(re.sub(r"<[^>]+>", "", markup)).strip()


def headings(page):
    """The headings of a page that have an id: (level, id, words)."""
    return [(int(level), name, plain(words)) for level, name, words in re.findall(r'<h([1-6]) id="([^"]+)">(.*?)</h\1>', page, re.S)]


def _heading(found, taken):
    level, words = found.groups()
    name = slug(plain(words), taken)
    taken.add(name)
    return f'<h{level} id="{name}">{words}</h{level}>'
