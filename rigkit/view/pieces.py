"""Small ipywidgets that look alike: headings, notes, buttons, sliders, number fields, tables, a status line, a box to copy from."""

import html

import ipywidgets

from rigkit.view import naming

WIDE = "98%"


def headline(text):
    """The HTML of the sentence over a picture."""
    return f'<div class="{naming.CAPTION}" style="font-weight:600;line-height:1.4">{html.escape(text)}</div>'


def note(text):
    """A sentence in small type."""
    return ipywidgets.HTML(f'<div style="line-height:1.35;font-size:0.92em;opacity:0.85">{html.escape(text)}</div>')


def heading(text, colour):
    """A short heading with a mark in the colour of what it is about."""
    return ipywidgets.HTML(
        f'<div style="font-weight:600;margin-top:2px;line-height:1.5"><span aria-hidden="true" style="display:inline-block;width:0.7em;height:0.7em;'
        f'border-radius:50%;background:{colour};border:1px solid #555;margin-right:0.45em"></span>{html.escape(text)}</div>')


def button(text, told, act):
    """A button; `act()` runs on a press."""
    made = ipywidgets.Button(description=text, tooltip=told, layout=ipywidgets.Layout(width="max-content", min_width="60px"))
    made.on_click(lambda _: act())
    return made


def slider(text, value, low, high, step, told, label_pixels=76):
    """A labelled slider with an editable number; zero lies on its grid."""
    low, high = step * round(low / step), step * round(high / step)
    return ipywidgets.FloatSlider(
        value=min(max(value, low), high), min=low, max=high, step=step, description=text, tooltip=told,
        readout_format=".3f" if step < 0.1 else ".0f", layout=ipywidgets.Layout(width=WIDE), style={"description_width": f"{label_pixels}px"})


def number(text, value, step):
    """A labelled number field."""
    return ipywidgets.FloatText(value=value, step=step, description=text, layout=ipywidgets.Layout(width="95%"), style={"description_width": "54px"})


def copy_box(told):
    """A field with text to select and copy."""
    return ipywidgets.Textarea(
        description="", tooltip=told, layout=ipywidgets.Layout(width=WIDE, height="92px"), placeholder=told)


def table(rows, title):
    """An HTML table of (label, value) rows."""
    body = "".join(
        f'<tr><th scope="row" style="text-align:left;font-weight:500;padding:1px 10px 1px 0;opacity:0.8;white-space:nowrap">{html.escape(str(a))}</th>'
        f'<td style="font-variant-numeric:tabular-nums;padding:1px 0">{html.escape(str(b))}</td></tr>' for a, b in rows)
    return f'<table style="border-collapse:collapse;font-size:0.92em;line-height:1.4"><caption style="text-align:left;font-weight:600;padding-bottom:2px">{html.escape(title)}</caption>{body}</table>' if rows else ""


def status(text, busy=False):
    """A line that screen readers read out when it changes; while it is `busy` (WAI-ARIA 1.2, aria-busy) they may wait for the end."""
    waiting = ' aria-busy="true"' if busy else ""
    return f'<div role="status" aria-live="polite"{waiting} style="min-height:1.5em;line-height:1.4">{html.escape(text)}</div>'
