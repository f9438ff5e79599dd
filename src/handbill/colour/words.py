"""Colours by their names. Enters: a shop's word for a colour; leaves: #rrggbb, or nothing.

The shop's own names come first, then CSS Color 4's 148, then everyday words in nine other languages, each for
the CSS colour of that name (from memory: a native reader should check them).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from functools import lru_cache

from handbill.base.errors import nearest
from handbill.colour.names import NAMES

# German, French, Spanish, Italian, Dutch, Portuguese, Japanese, Arabic, Hebrew
_WORDS = {
    "black": "schwarz noir negro nero zwart preto 黒 أسود שחור",
    "white": "weiß weiss blanc blanco bianco wit branco 白 أبيض לבן",
    "gray": "grau gris grigio grijs cinza cinzento 灰色 グレー رمادي אפור",
    "red": "rot rouge rojo rosso rood vermelho 赤 أحمر אדום",
    "orange": "naranja arancione oranje laranja オレンジ برتقالي כתום",
    "yellow": "gelb jaune amarillo giallo geel amarelo 黄色 أصفر צהוב",
    "green": "grün gruen vert verde groen 緑 أخضر ירוק",
    "blue": "blau bleu azul blu blauw 青 أزرق כחול",
    "purple": "lila violett morado violeta viola paars roxo 紫 بنفسجي סגול",
    "pink": "rosa rose roze cor-de-rosa ピンク وردي ורוד",
    "brown": "braun marron brun marrón marrone bruin marrom castanho 茶色 بني חום",
    "beige": "beis bege ベージュ بيج בז'",
    "turquoise": "türkis tuerkis turquesa turchese ターコイズ فيروزي טורקיז",
    "navy": "marineblau bleu-marine azul-marino blu-navy marineblauw azul-marinho 紺 ネイビー كحلي",
    "gold": "or doré oro dorado goud dourado ゴールド ذهبي זהב",
    "silver": "silber argent argenté plata plateado argento zilver prateado シルバー فضي כסף",
}


def named(word: str, own: Mapping[str, str]) -> str | None:
    """The colour #rrggbb that `word` names, whatever its case, spaces and hyphens; `own` names come first."""
    key = _folded(word)
    mine = {_folded(name): colour for name, colour in own.items()}
    return mine.get(key) or _known().get(key)


def near(word: str, own: Mapping[str, str]) -> str:
    """The known name nearest to `word`, or nothing."""
    return nearest(word, [*own, *NAMES, *(one for line in _WORDS.values() for one in line.split())])


@lru_cache(maxsize=1)
def _known() -> dict[str, str]:
    words = {_folded(word): NAMES[name] for name, line in _WORDS.items() for word in line.split()}
    return {**words, **NAMES}


def _folded(name: str) -> str:
    kept = unicodedata.normalize("NFC", name).casefold()
    return "".join(one for one in kept if one not in " -_'")
