"""A language opened. Enters: a campaign's file and a language tag; leaves: the `Translator` for it.

Texts of standing sections lie beside those, in `standing/texts/LANG.yaml` or `standing/texts/NAME/LANG.yaml`,
and serve every campaign. What a campaign's own file says comes first.
"""

from __future__ import annotations

from pathlib import Path

from handbill.base.errors import Mistake, MistakesError, Place
from handbill.expand import Expanded
from handbill.loader import Loader
from handbill.texts.apply import Translator
from handbill.texts.read import Texts, load_texts, text_files
from handbill.texts.source import Specs, sources


def translator(
    loader: Loader,
    campaign: Path,
    name: str,
    language: str,
    baseline: Expanded,
    specs: Specs,
    own: Expanded | None = None,
    at: Place | None = None,
) -> tuple[Translator | None, list[Mistake]]:
    """What translates variants of the campaign called `name`, or what is wrong with its texts. `baseline` is
    the campaign before any patch, in its own brand; `own` the same in the variants', where that is another;
    `at` is where the language was asked for."""
    at = at or Place(baseline.doc.name)
    try:
        texts = load_texts(loader, campaign, name, language, at)
        standing = standing_texts(loader, own or baseline, specs, language)
    except MistakesError as error:
        return None, list(error.mistakes)
    if texts is None:
        return None, [no_texts(loader, campaign, name, language, at)]
    return Translator(texts, baseline, specs, standing), []


def standing_texts(loader: Loader, expanded: Expanded, specs: Specs, language: str) -> dict[str, Texts]:
    """The texts beside the standing sections that a campaign uses, by the file these come from.

    Raises MistakesError with all that is wrong in them.
    """
    files = dict.fromkeys(one.place.file for one in sources(expanded, specs))
    found: dict[str, Texts] = {}
    wrong: list[Mistake] = []
    for file in files:
        path = loader.root / file
        if file == expanded.doc.name or not path.is_relative_to(loader.root) or not path.is_file():
            continue
        try:
            texts = load_texts(loader, path, path.stem, language)
        except MistakesError as error:
            wrong.extend(error.mistakes)
            continue
        if texts is not None:
            found[file] = texts
    if wrong:
        raise MistakesError(wrong)
    return found


def no_texts(loader: Loader, campaign: Path, name: str, language: str, at: Place) -> Mistake:
    """There is no file of texts for a language that was asked for."""
    own, shared = (loader.name(path) for path in text_files(campaign, name, language))
    expected = f"{shared} or {own}; handbill texts export begins one"
    return Mistake(at, "", f"no texts in {language} for {name}", expected)
