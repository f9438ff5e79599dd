"""Link texts that say nothing alone."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule
from handbill.preflight.part import Part

_NOTHING = {
    "en": {
        "click", "click here", "here", "more", "read more", "learn more", "find out more", "see more",
        "this link", "link", "go", "this", "details", "view", "tap here", "press here", "continue",
    },
    "de": {
        "hier", "hier klicken", "klick hier", "klicken", "mehr", "weiterlesen", "mehr lesen", "mehr erfahren",
        "weiter",
    },
    "fr": {"ici", "cliquez ici", "en savoir plus", "plus", "lire la suite"},
    "es": {"aquí", "haz clic aquí", "más", "leer más", "ver más"},
    "it": {"qui", "clicca qui", "di più", "leggi di più", "scopri di più"},
    "nl": {"hier", "klik hier", "meer", "lees meer", "meer lezen"},
}  # fmt: skip


def each(part: Part) -> Iterator[Hit]:
    """Links whose words could stand on any link, and bare addresses."""
    words = _NOTHING.get(part.spoken.language.partition("-")[0], set()) | _NOTHING["en"]
    for link in part.page.links:
        name = link.name.strip(" →›»>.!…").casefold()
        if name in words:
            yield Hit(f"“{link.name}” does not say where it leads", part.at(link.name))
        elif name.startswith(("http://", "https://", "www.")):
            yield Hit(f"a bare address is read out letter by letter: {link.name}", part.at(link.name))


RULE = Rule(
    slug="link-words",
    group="access",
    severity=WARNING,
    needs=frozenset({"html"}),
    about="A link's words say where it leads.",
    why="Screen readers list links without the text around them. Looked for in six languages.",
    source="WCAG 2.2 SC 2.4.4 (level A); which phrases say nothing: common practice",
    remedy="Say what the reader finds there: “See the whole sale”.",
    each=each,
)
