"""The buttons over a scene: four views, glass, and turning and zooming for who has no mouse."""

import ipywidgets

from rigkit.view.pieces import button


class Toolbar(ipywidgets.HBox):
    """look(view), step(change of an Eye), whole(), glass(on) are called on a press."""

    def __init__(self, look, step, whole, glass):
        looks = [button(name.capitalize(), told, lambda name=name: look(name)) for name, told in (
            ("front", "Look from the front, parallel"), ("side", "Look from the character's left, parallel"),
            ("top", "Look from above, parallel"), ("perspective", "Look from the front left, in perspective"))]
        turn = [button(text, told, act) for text, told, act in (
            ("Nearer", "Bring the view nearer", lambda: step(lambda eye: eye.nearer(1.25))),
            ("Farther", "Move the view farther away", lambda: step(lambda eye: eye.nearer(0.8))),
            ("Turn left", "Carry the eye to the left", lambda: step(lambda eye: eye.turned(-0.2618, 0))),
            ("Turn right", "Carry the eye to the right", lambda: step(lambda eye: eye.turned(0.2618, 0))),
            ("Whole", "Frame the whole figure", whole))]
        self.glass = ipywidgets.ToggleButton(value=False, description="See through", tooltip="Draw the model as glass", layout=ipywidgets.Layout(width="auto"))
        self.glass.observe(lambda change: glass(change["new"]), names="value")
        super().__init__([*looks, self.glass, *turn], layout=ipywidgets.Layout(flex_flow="row wrap"))
