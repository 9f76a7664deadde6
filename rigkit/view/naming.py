"""Words for what the widget libraries leave without any: names for canvases and sliders, reasons for a scene that does not answer.

ipywidgets offers no attribute for these, and a screen reader would say "slider" and
no more. So a scene carries one short script, in the only place a widget's HTML
lets one run: it copies the caption to the canvas (WAI-ARIA 1.2, role "img"), and
each slider's label to its handle and to its number, and looks again when something is put in.
Where a page forbids scripts in its HTML, the names are missing and nothing else.

A scene stops to answer in two ways that no Python hears of. A page keeps eight
canvases, whichever kernels they belong to; in a page with two notebooks it takes the oldest
away, and draws it again once the pointer is over it. And after a restart of the
kernel nobody listens any more. Both are told by style rules over the scene.
"""

import html

INSIDE = "rigkit-desk"  # the class of the box in which things are named
CAPTION = "rigkit-caption"

_SCRIPT = f"""
(function (desk) {{
  if (!desk || desk.rigkitNames) return;
  function put(found, named) {{
    for (var key in named) if (found.getAttribute(key) !== named[key]) found.setAttribute(key, named[key]);
  }}
  function name() {{
    var said = desk.querySelector('.{CAPTION}'), caption = said && said.textContent.trim() || '3D scene';
    desk.querySelectorAll('.rigkit-scene canvas, .rigkit-scene img').forEach(function (one) {{
      put(one, one.tagName === 'IMG' ? {{alt: caption}} : {{role: 'img', 'aria-label': caption}});
    }});
    desk.querySelectorAll('.widget-slider').forEach(function (slider) {{
      var label = slider.querySelector('.widget-label'), text = label && (label.title || label.textContent).trim();
      if (!text) return;
      slider.querySelectorAll('[role=slider]').forEach(function (one) {{ put(one, {{'aria-label': text}}); }});
      slider.querySelectorAll('.widget-readout').forEach(function (one) {{ put(one, {{role: 'textbox', 'aria-label': text}}); }});
    }});
  }}
  name();
  desk.rigkitNames = new MutationObserver(name);
  desk.rigkitNames.observe(desk, {{childList: true, subtree: true}});
}})(this.closest('.{INSIDE}'))
"""

RESTS = "This scene rests: a page draws eight at a time. Move the pointer over it to wake it."
RESTARTED = "The kernel was restarted and no longer knows this scene. Run the cell again to turn and change it."
GONE = ".jupyter-widgets-disconnected"  # the class ipywidgets gives what its kernel has forgotten

_STYLE = f"""
.rigkit-scene {{ position: relative; }}
.rigkit-scene:has(> img)::after {{
  content: "{RESTS}"; position: absolute; left: 0; right: 0; bottom: 0; padding: 6px 10px; color: #eeeeee; background: #333333; pointer-events: none; }}
.{INSIDE}{GONE}::before {{
  content: "{RESTARTED}"; font: inherit; display: block; padding: 4px 10px; margin-bottom: 4px; color: #eeeeee; background: #333333; }}
.{INSIDE} {GONE}::before {{ display: none; }}
"""


def bridge():
    """Script and style rules as HTML, to stand in a box of the class INSIDE."""
    script, style = (" ".join(text.split()) for text in (_SCRIPT, _STYLE))
    return f'<style onload="{html.escape(script)}">{style}</style>'
