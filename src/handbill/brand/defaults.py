"""handbill's plain house style: what holds where a brand says nothing. Plain data, px throughout.

Grounds and inks pass 4.5:1 in both schemes (WCAG 2.2, 1.4.3); faces are on every common system.
"""

from __future__ import annotations

SANS = "Arial, Helvetica, sans-serif"
MONO = "'Courier New', Courier, monospace"

# role -> (light, dark); a role's name borrows that role
COLOURS: dict[str, tuple[str, str]] = {
    "page": ("#f3f3f1", "#111213"),
    "ground": ("#ffffff", "#1a1b1d"),
    "title": ("#1b1c1e", "#f3f3f1"),
    "text": ("#3c3e42", "#d8d9dc"),
    "muted": ("text", "text"),
    "accent": ("title", "title"),
    "link": ("title", "title"),
    "line": ("#d9d9d6", "#3b3d41"),
    "ring": ("muted", "muted"),
    "button": ("#1b1c1e", "#f3f3f1"),
    "button-label": ("#ffffff", "#1a1b1d"),
    "outline": ("button", "button"),
    "price": ("title", "title"),
    "was": ("muted", "muted"),
    "stars": ("accent", "accent"),
    "card": ("#f3f3f1", "#26282b"),
    "tile": ("card", "card"),  # what product shots cut from their backdrops stand on
    "over": ("title", "title"),  # copy that lies over a picture
    "ink-light": ("#ffffff", "#ffffff"),  # copy on a dark picture, where the picture decides
    "ink-dark": ("#17181a", "#17181a"),  # and on a light one
    "code": ("title", "title"),  # the code of an offer
    "frame": ("outline", "outline"),  # the lines around it
    "small-link": ("muted", "muted"),  # links in legal lines
}

# role -> face parent, size, line, weight, style, tracking, phone (size, line, tracking)
TypeRow = tuple[str, float, float, str, str, float, tuple[float, float, float] | None]
TYPE: dict[str, TypeRow] = {
    "display": ("", 46, 50, "700", "normal", -0.5, (36, 40, -0.5)),
    "title": ("display", 30, 36, "700", "normal", -0.2, (27, 33, -0.2)),
    "feature": ("title", 30, 36, "700", "normal", -0.2, (27, 33, -0.2)),
    "name": ("feature", 21, 27, "700", "normal", 0, None),
    "name-small": ("name", 21, 27, "700", "normal", 0, None),
    "price": ("name", 21, 27, "700", "normal", 0, None),
    "price-large": ("price", 26, 32, "700", "normal", 0, None),
    "quote": ("text", 20, 30, "400", "normal", 0, (19, 28, 0)),
    "aside": ("quote", 22, 32, "400", "italic", 0, (20, 29, 0)),  # a line said in passing
    "kicker": ("text", 17, 25, "700", "normal", 0, None),
    "caption": ("text", 14, 20, "400", "normal", 0, None),
    "lead": ("text", 18, 28, "400", "normal", 0, None),
    "text": ("", 16, 25, "400", "normal", 0, None),
    "was": ("text", 16, 27, "400", "normal", 0, None),
    "small": ("text", 13, 20, "400", "normal", 0, None),
    "tiny": ("small", 12, 18, "400", "normal", 0, None),  # under small pictures
    "label": ("text", 14, 20, "700", "normal", 0, None),
    "button": ("text", 16, 24, "700", "normal", 0, None),
    "button-small": ("button", 15, 22, "700", "normal", 0, None),  # on pictures
    "bar": ("button", 16, 24, "700", "normal", 0, None),  # a button as wide as what it closes
    "navigation": ("text", 16, 32, "400", "normal", 0, None),
    "code": ("", 38, 46, "700", "normal", 3, (32, 40, 2)),
}
UNDERLINED = frozenset({"navigation"})
FACES = {"display": SANS, "text": SANS, "code": MONO}

# name -> (desktop, phone)
SPACE: dict[str, tuple[int, int]] = {
    "side": (40, 24),
    "section": (48, 40),
    "step-1": (8, 8),
    "step-2": (12, 12),
    "step-3": (18, 18),
    "step-4": (28, 24),
    "step-5": (40, 32),
    "step-6": (64, 48),
}
CORNERS: dict[str, tuple[int, int]] = {"picture": (0, 0), "card": (0, 0), "swatch": (9, 9)}
