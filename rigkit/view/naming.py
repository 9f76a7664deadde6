"""Names for what the widget libraries leave without one: the canvas, the handles of sliders, their numbers.

ipywidgets offers no attribute for these, and a screen reader would say "slider" and
no more. So a scene carries one short script, in the only place a widget's HTML
lets one run: it copies the caption to the canvas (WAI-ARIA 1.2, role "img"), and
each slider's label to its handle and to its number, and looks again when something is put in.
Where a page forbids scripts in its HTML, the names are missing and nothing else.
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


def bridge():
    """The script as HTML, to stand in a box of the class INSIDE."""
    return f'<style onload="{html.escape(" ".join(_SCRIPT.split()))}"></style>'
