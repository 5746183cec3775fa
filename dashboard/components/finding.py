"""The field that opens a plug's page by its label, typed or read by a phone's scanner."""

from dash.development.base_component import Component

from dashboard.components.markup import element, said
from dashboard.components.parts import drawing


def field() -> Component:
    """Return the field; assets/find_plug.js goes to the page."""
    inside = element(
        "form",
        said("label", "Label of the plug in your hand", for_="find-plug"),
        element(
            "div",
            element(
                "input",
                id_="find-plug",
                name="label",
                type="text",
                autocomplete="off",
                autocapitalize="characters",
                spellcheck="false",
                enterkeyhint="go",
            ),
            said("button", "Open", type="submit"),
            class_="find-row",
        ),
        class_="find field",
        novalidate="",
    )
    return drawing(inside, className="find-host")
