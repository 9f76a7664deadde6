"""The pages of the book as HTML: a chapter, the index, what the book is made of.

Nothing on a page points to another machine, and a content security policy says so
to the browser: what is not beside the page or inside it is not loaded.
"""

import base64
import html
import json
import re

from rigkit import __version__
from rigkit.book import text

POLICY = ("default-src 'none'; script-src 'self' file: 'unsafe-inline'; style-src 'self' file: 'unsafe-inline'; "
          "img-src 'self' file: data:; base-uri 'none'; form-action 'none'")
_CHECKPOINT = re.compile(r"<blockquote>\s*<p><strong>Checkpoint ([0-9.]+)")


def chapter(told, blocks, recorded, picture, links):
    """The inside of a chapter's page. told: its Chapter; picture(number): the address of a scene's still picture; links: (before, after) or None.

    Returns (what the page shows, its table of contents).
    """
    taken, parts = {"contents"}, []
    for block in blocks:
        parts.append(_block(block, recorded, picture, taken))
    shown = _CHECKPOINT.sub(lambda found: f'<blockquote class="checkpoint" id="checkpoint-{found[1]}"><p><strong>Checkpoint {found[1]}', "\n".join(parts))
    return f'{_banner(told)}\n{shown}\n{_onwards(links)}', contents(text.headings(shown))


def contents(headings):
    """A table of contents of the two upper levels below the title, as HTML."""
    rest = headings[1:]
    levels = sorted({level for level, *_ in rest})[:2]
    kept = [one for one in rest if one[0] in levels]
    items = "".join(f'<li class="level{levels.index(level) + 1}"><a href="#{name}">{html.escape(words)}</a></li>' for level, name, words in kept)
    return f'<nav class="contents" aria-label="Contents"><details open><summary>In this chapter</summary><ol>{items}</ol></details></nav>' if items else ""


def index(chapters, walk, picture):
    """The inside of the first page: the job, Tally walking, the table of chapters."""
    rows = "".join(
        f'<tr><td>{one.id}</td><th scope="row"><a href="{page_name(one)}">{html.escape(one.title)}</a><br><span>{html.escape(one.idea)}</span></th>'
        f"<td>{one.minutes}</td><td>{sum(c.points for c in one.checkpoints)}</td><td>{len(one.checkpoints)}</td></tr>" for one in chapters)
    return f"""<h1 id="top">Rig a robot, and measure it</h1>
<p class="lead">Someone takes a finished hard-surface robot model and prepares it for an animator: joints where the model bends, a slight pre-bend so that
each limb bends one known way, the other side mirrored, feet that roll, controls that anyone can read. Nearly every step is judged by eye. Here it is measured.</p>
<p>You build the limbs of Tally, an invented robot, chapter by chapter. These pages are the workbook for reading: scenes turn, sliders move the robot, our answers are folded. To write answers of your own and have them checked, open it with <code>rigkit lab</code>.</p>
{scene(0, walk, picture)}
<h2 id="chapters">The chapters</h2>
<div class="wide" tabindex="0" role="region" aria-label="The chapters">
<table class="chapters"><thead><tr><th scope="col">No.</th><th scope="col">Chapter</th><th scope="col">Minutes</th><th scope="col">Points</th><th scope="col">Checkpoints</th></tr></thead>
<tbody>{rows}</tbody></table></div>
<p>It is a textbook with its answers at the back: looking is allowed. <a href="about.html">What these pages are made of</a>.</p>"""


def about(licence):
    """The inside of the page on what the book is made of. licence: the text of ours."""
    return f"""<h1 id="top">About these pages</h1>
<p>Made by <code>rigkit book</code>, rigkit {__version__}. Tally, its dimensions, every name and all demo data are invented.</p>
<h2 id="alone">They need nothing</h2>
<p>No page loads a script, a font, a picture or a number from elsewhere; the browser is told to refuse it. The 3D scenes are drawn by a script of our own with WebGL 2,
without a library. They can be read from a memory stick. Where scripts are off, a still picture stands in place of each scene, with the same numbers.</p>
<h2 id="right">What is computed here, and what was computed before</h2>
<p>A limb with a target is solved on the page, by the formula of chapter 06; a test holds it equal to the package's own solver. Every other slider walks through
settings that Python worked out when the pages were made; what you read is exactly what Python said. A motion is kept at even times and straightened out between them.</p>
<h2 id="keys">Without a mouse</h2>
<p>Every scene has buttons for its views. With the focus on a picture, the arrow keys turn it, <kbd>+</kbd> and <kbd>-</kbd> bring it nearer or farther. What can be dragged has sliders and number fields.
With a mouse: drag to turn, drag with the right button or Shift to shift; the wheel zooms once the picture has the focus, or with Ctrl.</p>
<h2 id="licence">Licence</h2>
<p>Text, script, model and styles are rigkit's own, under the MIT licence. The colours of sides and axes are those of Okabe and Ito (2002).
The pages carry no code of others; Markdown and code were turned into HTML by nbconvert and Pygments, of which nothing stays in the pages.</p>
<pre class="printed" tabindex="0">{html.escape(licence)}</pre>
<p><a href="index.html">To the chapters</a></p>"""


def whole(title, inside, *, head, tail, nav="", described="", home="index.html"):
    """A complete page. head: styles; tail: scripts; nav: the table of contents; home: where the title leads, None on a page of its own."""
    name = f'<a href="{home}">Rigging, measured</a>' if home else "<span>Rigging, measured</span>"
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="description" content="{html.escape(described, quote=True)}">
<title>{html.escape(title)}</title>
{head}
</head>
<body>
<a class="skip" href="#main">To the text</a>
<header class="top">{name}<button type="button" class="unfold-all" aria-pressed="false" hidden>Unfold all answers</button></header>
<div class="page">
{nav}
<main id="main">
{inside}
</main>
</div>
{tail}
</body>
</html>
"""


def scene(number, told, picture):
    """A scene's place on a page: caption, picture for where no script runs, numbers, readout."""
    rows = "".join(f'<tr><th scope="row">{html.escape(a)}</th><td>{html.escape(b)}</td></tr>' for a, b in told["rows"])
    wide, high = told["size"]
    return f"""<figure class="scene" data-scene="{number}">
<figcaption>{html.escape(told["caption"])}</figcaption>
<div class="parts"><div class="view"><div class="stage" style="aspect-ratio:{wide}/{high}"></div>
<noscript><img src="{picture(number)}" width="{wide}" height="{high}" alt="Still picture: {html.escape(told["caption"], quote=True)}" loading="lazy"></noscript>
<p class="told" role="status">{html.escape(told["told"])}</p></div>
<div class="beside"><table class="numbers"{"" if rows else " hidden"}><caption>Numbers</caption><tbody>{rows}</tbody></table>{told.get("aside", "")}</div></div>
</figure>"""


def page_name(told):
    """The file name of a chapter's page."""
    return f"{told.id}-{told.slug}.html"


def data(name, value):
    """Data for a script, inside the page."""
    return f'<script type="application/json" id="{name}">{in_script(json.dumps(value, separators=(",", ":")))}</script>'


def in_script(source):
    """A script's text so that nothing in it ends the element early."""
    return source.replace("</", "<\\/").replace("<!--", "<\\!--")


def inline_png(encoded):
    """The address of a picture given as base64 text."""
    return f"data:image/png;base64,{encoded}"


def encoded(png):
    """PNG bytes as base64 text."""
    return base64.b64encode(png).decode("ascii")


def _block(block, recorded, picture, taken):
    if block.kind == "text":
        return re.sub(r'href="([^":]+)\.ipynb', r'href="\1.html', text.markdown(block.source, taken))
    source = text.code(block.source)
    outputs = "\n".join(_output(kind, value, recorded, picture) for kind, value in block.outputs)
    if block.kind == "worked":
        return f'<details class="worked"><summary>Our answer</summary>\n{source}\n{outputs}\n</details>'
    if block.kind == "task":
        return f'<div class="cell task"><p class="label">Yours to fill in</p>\n{source}\n{outputs}\n</div>'
    if block.folded:
        return f'<div class="cell">{source}\n<details class="worked"><summary>What it shows with our answers</summary>\n{outputs}\n</details></div>'
    return f'<div class="cell">{source}\n{outputs}\n</div>'


def _output(kind, value, recorded, picture):
    if kind == "text":
        return text.printed(value) if value.strip() else ""
    return f'<div class="shown">{value}</div>' if kind == "html" else scene(value, recorded["scenes"][value], picture)


def _banner(told):
    points = sum(one.points for one in told.checkpoints)
    return (f'<p class="banner">Chapter {told.id}, {told.minutes} minutes, {points} points. These pages are for reading: the scenes turn and move, '
            f"the cells do not run. To fill in, check and hand in, open the chapter with <code>rigkit lab</code>.</p>")


def _onwards(links):
    if links is None:
        return ""
    before, after = links
    found = [f'<a rel="prev" href="{page_name(before)}">← {before.id} {html.escape(before.title)}</a>' if before else '<a href="index.html">← The chapters</a>',
             f'<a rel="next" href="{page_name(after)}">{after.id} {html.escape(after.title)} →</a>' if after else '<a href="index.html">The chapters →</a>']
    return f'<nav class="onwards" aria-label="Chapters">{"".join(found)}</nav>'
