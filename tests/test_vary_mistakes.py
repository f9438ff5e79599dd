"""Every mistake of `variants:`, each made by a new user in a new workspace: one line at the place, nothing written.

The messages are this program's own; that YAML is refused for what YAML itself forbids is in its
specification 1.2.2 (section 3.2.1.3 on unique keys, 7.1 on alias nodes).
"""

# ruff: noqa: E501 - messages whole, on one line

from __future__ import annotations

import re
from contextlib import chdir
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner, Result
from tests.conftest import Shop
from tests.test_vary import BASE

from handbill.cli.main import cli
from handbill.models.picture import PictureIn
from handbill.vary.practice import PRACTICE

BLOCKS = Path(__file__).parents[1] / "blocks"


def fields(block: str) -> dict[str, dict[str, object]]:
    """What a built-in block's own file says of its fields."""
    found: dict[str, dict[str, object]] = yaml.safe_load((BLOCKS / block / "block.yaml").read_text("utf-8"))[
        "fields"
    ]
    return found


SHORT = {
    "@ARM@": "variants, axes, arm, a",
    "@IDS@": "masthead, top, product-stack, copy, copy-2, closing, footer-nav",
    "@PARTS@": "set, drop, add, move, replace, practice, same",
    "@RULES@": ", ".join(PRACTICE),
    "@PICTURE@": ", ".join(PictureIn.model_fields),
    "@HERO@": ", ".join(["tone", *fields("hero")]),
    "@PRODUCT@": ", ".join(["sku", "tone", *fields("product-stack")["products"]["of"]]),  # type: ignore[misc]
    "@BLOCKS@": ", ".join(sorted(one.parent.name for one in BLOCKS.glob("*/block.yaml"))),
}


def told(shop: Shop, variants: str, base: str = BASE, *options: str) -> list[str]:
    """What `handbill compile` says of a campaign with `variants`, without the campaign's file's name."""
    shop.put("campaigns/spring.yaml", base + variants)
    done = compiled(shop, *options)
    assert (done.exit_code, done.stdout) == (2, ""), (done.output, done.exception)
    assert not (shop.root / "out").exists()
    return [one.replace("campaigns/spring.yaml:", "") for one in done.stderr.splitlines()]


def compiled(shop: Shop, *options: str) -> Result:
    """`handbill compile` in the workspace's folder."""
    with chdir(shop.root):
        return CliRunner().invoke(cli, ["compile", "campaigns/spring.yaml", *options])


def whole(lines: list[str]) -> list[str]:
    return [re.sub("@[A-Z]+@", lambda one: SHORT[one[0]], line) for line in lines]


# fmt: off
NOTHING = [
    ("{set: {top.headline: One}}", ["27:31: @ARM@, set: top.headline has that value already (12:15); expected another value, or no line"]),
    ("{set: {subject: A letter}}", ["27:31: @ARM@, set: subject has that value already (5:10); expected another value, or no line"]),
    ("{set: {offer.kind: markdown}}", ["27:31: @ARM@, set: offer.kind has that value already (7:15); expected another value, or no line"]),
    ("{set: {top.button.label: Look}}", ["27:31: @ARM@, set: top.button.label has that value already (14:21); expected another value, or no line"]),
    ("{set: {top.picture: {alt: A lamp, file: wren.png}}}", ["27:31: @ARM@, set: top.picture has that value already (15:14); expected another value, or no line"]),
    ("{set: {product-stack.products: [L-100, {caption: Second, sku: L-200}]}}", ["27:31: @ARM@, set: product-stack.products has that value already (17:15); expected another value, or no line"]),
    ("{set: {product-stack.products.L-200.caption: Second}}", ["27:31: @ARM@, set: product-stack.products.L-200.caption has that value already (17:45); expected another value, or no line"]),
    ("{set: {product-stack.products.L-100.sku: L-100}}", ["27:31: @ARM@, set: product-stack.products.L-100.sku has that value already (17:16); expected another value, or no line"]),
    ("{drop: [top.kicker]}", ["27:32: @ARM@, drop: there is no top.kicker to drop"]),
    ("{drop: [dir]}", ["27:32: @ARM@, drop: there is no dir to drop"]),
    ("{drop: offer.starts}", ["27:31: @ARM@, drop: there is no offer.starts to drop"]),
    ("{drop: [product-stack.products.L-100.caption]}", ["27:32: @ARM@, drop: there is no product-stack.products.L-100.caption to drop"]),
    ("{move: {closing: {before: footer-nav}}}", ["27:32: @ARM@, move: closing stands before footer-nav already; expected another place, or no line"]),
    ("{move: {closing: {after: copy-2}}}", ["27:32: @ARM@, move: closing stands after copy-2 already; expected another place, or no line"]),
    ("{move: {top: {after: top}}}", ["27:45: @ARM@, move: top moves to where it is; expected another section's id"]),
    ("{move: {top: {after: copy}, copy: {before: top}}}", ["27:52: @ARM@, move: copy stands before top already; expected another place, or no line"]),
    ("{replace: {closing: {block: closing, button: {link: /all, label: All}}}}", ["27:35: @ARM@, replace: closing is that section already; expected another section, or no line"]),
    ("{replace: {masthead: {block: masthead, id: masthead}}}", ["27:35: @ARM@, replace: masthead is that section already; expected another section, or no line"]),
]
WRITTEN = [
    ("Two", ["27:24: @ARM@: text where a patch is expected; expected set, drop, add, move or replace, or {} for the campaign as it is"]),
    ("[set]", ["27:24: @ARM@: a list where a patch is expected; expected set, drop, add, move or replace, or {} for the campaign as it is"]),
    ("~", ["27:24: @ARM@: nothing where a patch is expected; expected set, drop, add, move or replace, or {} for the campaign as it is"]),
    ("{sett: {top.headline: Two}}", ["27:25: @ARM@: unknown field sett; expected one of @PARTS@; nearest: set"]),
    ("{top.headline: Two}", ["27:25: @ARM@: unknown field top.headline; expected set: {top.headline: …}"]),
    ("{subject: Two}", ["27:25: @ARM@: unknown field subject; expected set: {subject: …}"]),
    ("{set: {}}", ["27:30: @ARM@, set: set holds nothing; expected set: {id.field: value}"]),
    ("{set: []}", ["27:30: @ARM@, set: set is a mapping; expected set: {id.field: value}"]),
    ("{drop: []}", ["27:31: @ARM@, drop: drop holds nothing; expected drop: [id]"]),
    ("{drop: {}}", ["27:31: @ARM@, drop: drop is a list of names; expected drop: [id]"]),
    ("{drop: [[top]]}", ["27:32: @ARM@, drop: drop is a list of names; expected drop: [id]"]),
    ("{move: {}}", ["27:31: @ARM@, move: move holds nothing; expected move: {id: {after: id}}"]),
    ("{move: {closing: top}}", ["27:41: @ARM@, move, closing: a move says where to; expected move: {id: {after: id}}"]),
    ("{move: {closing: {}}}", ["27:41: @ARM@, move, closing: nothing says where it goes; expected before: id or after: id"]),
    ("{move: {closing: {befor: top}}}", ["27:42: @ARM@, move, closing: unknown field befor; expected one of before, after; nearest: before"]),
    ("{move: {closing: {before: top, after: top}}}", ["27:55: @ARM@, move, closing: before and after exclude each other; expected before: id or after: id"]),
    ("{move: {closing: {before: [top]}}}", ["27:50: @ARM@, move, closing: before names a section; expected before: id"]),
    ("{add: []}", ["27:30: @ARM@, add: add holds nothing; expected add: [{after: id, section: {block: name}}]"]),
    ("{add: note}", ["27:30: @ARM@, add: an addition is a mapping; expected add: [{after: id, section: {block: name}}]"]),
    ("{add: {after: top}}", ["27:30: @ARM@, add: no section to add; expected section: or sections:"]),
    ("{add: {section: {block: note, copy: N}}}", ["27:30: @ARM@, add: nothing says where it goes; expected before: id or after: id"]),
    ("{add: {after: top, secton: {block: note, copy: N}}}", ["27:43: @ARM@, add: unknown field secton; expected one of before, after, section, sections; nearest: section"]),
    ("{add: {after: top, sections: {block: note}}}", ["27:53: @ARM@, add: sections is a list of sections; expected - block: name"]),
    ("{add: {after: top, section: {block: note, copy: N}, sections: [{block: note, copy: N}]}}", ["27:86: @ARM@, add: section and sections exclude each other; expected one of them"]),
    ("{add: {after: top, section: note}}", ["27:52: @ARM@, add: a section is a mapping; expected - block: name"]),
    ("{add: {after: top, section: {blok: note, copy: N}}}", ["27:52: @ARM@, add: a section names its block; expected block: or standing:; nearest: blok → block"]),
    ("{replace: {closing: words}}", ["27:44: @ARM@, replace, closing: a section is a mapping; expected - block: name"]),
    ("{replace: {closing: {block: copy, id: other, copy: x}}}", ["27:62: @ARM@, replace, closing: the section keeps its id closing; expected no id:"]),
    ("{same: yes}", ["27:31: @ARM@, same: yes is not a choice; expected same: intended"]),
    ("{practice: []}", ["27:35: @ARM@, practice: practice holds nothing; expected practice: [NAME]"]),
    ("{set: {.headline: x}}", ["27:31: @ARM@, set: .headline names no field; expected id.field, such as top.headline"]),
]
UNKNOWN = [
    ("{drop: [toop]}", ["27:32: @ARM@, drop: no section toop; expected one of @IDS@; nearest: top"]),
    ("{set: {tpo.headline: x}}", ["27:31: @ARM@, set: no section tpo; expected one of @IDS@; nearest: top"]),
    ("{set: {tops: x}}", ["27:31: @ARM@, set: tops names no field; expected id.field, or one of subject, preheader, offer, language, dir, send; nearest: top"]),
    ("{set: {top: x}}", ["27:31: @ARM@, set: top names no field; expected set: {top.field: …}"]),
    ("{set: {sbject: x}}", ["27:31: @ARM@, set: sbject names no field; expected id.field, or one of subject, preheader, offer, language, dir, send; nearest: subject"]),
    ("{set: {headline: x}}", ["27:31: @ARM@, set: headline names no field; expected id.field, or one of subject, preheader, offer, language, dir, send"]),
    ("{set: {top.hedline: x}}", ["27:31: @ARM@, set, top.hedline: unknown field hedline; expected one of @HERO@; nearest: headline"]),
    ("{drop: [top.hedline]}", ["27:32: @ARM@, drop, top.hedline: unknown field hedline; expected one of @HERO@; nearest: headline"]),
    ("{set: {top.headline.deep: x}}", ["27:31: @ARM@, set, top.headline.deep: 'One' is text and has no deep; expected a field"]),
    ("{set: {top.button.lable: x}}", ["27:31: @ARM@, set, top.button.lable: unknown field lable; expected one of label, link; nearest: label"]),
    ("{set: {top.picture.fil: wren.png}}", ["27:31: stack[1] hero, picture.fil: unknown field fil; expected one of @PICTURE@; nearest: file"]),
    ("{set: {top.picture.file: wrn.png}}", ["27:49: stack[1] hero, picture.file: no picture wrn.png in brands/pellow/pictures; nearest: wren.png"]),
    ("{set: {top.picture.dark: wrn.png}}", ["27:49: stack[1] hero, picture.dark: no picture wrn.png in brands/pellow/pictures; nearest: wren.png"]),
    ("{set: {offer.end: 2027-01-18T10:00}}", ["27:31: offer.end: unknown field end; expected one of kind, starts, ends; nearest: ends"]),
    ("{set: {product-stack.products.L-10O.caption: x}}", ["27:31: @ARM@, set, product-stack.products.L-10O.caption: no entry L-10O; expected one of L-100, L-200; nearest: L-100"]),
    ("{drop: [product-stack.products.2]}", ["27:32: @ARM@, drop, product-stack.products.2: no entry 2; expected one of L-100, L-200"]),
    ("{set: {product-stack.products.L-100.capton: x}}", ["27:31: @ARM@, set, product-stack.products.L-100.capton: unknown field capton; expected one of @PRODUCT@; nearest: caption"]),
    ("{set: {product-stack.products: L-999}}", ["27:55: stack[2] product-stack, products[0]: no product L-999 in brands/pellow/products.csv"]),
    ("{set: {selling-points.points.0.words: x}}", ["27:31: @ARM@, set: no section selling-points; expected one of @IDS@"]),
    ("{move: {closng: {before: top}}}", ["27:32: @ARM@, move: no section closng; expected one of @IDS@; nearest: closing"]),
    ("{move: {closing: {before: tops}}}", ["27:50: @ARM@, move: no section tops; expected one of @IDS@; nearest: top"]),
    ("{add: {after: clsing, section: {block: note, copy: N}}}", ["27:38: @ARM@, add: no section clsing; expected one of @IDS@; nearest: closing"]),
    ("{add: {after: closing, section: {block: noet, copy: N}}}", ["27:64: @ARM@, add noet: no block noet; expected one of @BLOCKS@; nearest: note"]),
    ("{add: {after: closing, section: {standing: footr}}}", ["27:67: @ARM@, add footr: no standing section footr; expected one of closing, footer, proof; nearest: footer"]),
    ("{replace: {closng: {block: copy, copy: x}}}", ["27:35: @ARM@, replace: no section closng; expected one of @IDS@; nearest: closing"]),
    ("{replace: {closing: {block: cpoy, copy: x}}}", ["27:52: @ARM@, replace, closing cpoy: no block cpoy; expected one of @BLOCKS@; nearest: copy"]),
    ("{practice: closing-buton}", ["27:35: @ARM@, practice, closing-buton: no rule closing-buton; expected one of @RULES@; nearest: closing-button"]),
    ("{set: {brand: tern}}", ["27:31: @ARM@, set: a patch cannot change the campaign's own brand; expected a brand axis"]),
    ("{drop: [stack]}", ["27:32: @ARM@, drop: a patch cannot change the campaign's own stack; expected drop, add, move, replace, or set: {id.field: value}"]),
    ("{set: {campaign: other}}", ["27:31: @ARM@, set: a patch cannot change the campaign's own name; expected one campaign: for all variants"]),
    ("{set: {variants: x}}", ["27:31: @ARM@, set: a patch cannot change the campaign's own variants; expected patches without variants of their own"]),
    ("{set: {top.block: copy}}", ["27:31: @ARM@, set: block of a section cannot be set; expected replace: {top: a whole section}"]),
    ("{set: {top.id: other}}", ["27:31: @ARM@, set: id of a section cannot be set; expected replace: {top: a whole section}"]),
    ("{drop: subject}", ["27:31: @ARM@, drop: subject cannot be left out; expected another value, under set:"]),
    ("{drop: [top.headline]}", ["27:32: @ARM@, drop: top.headline cannot be left out; expected another value, under set:"]),
    ("{drop: [product-stack.products.L-100.sku]}", ["27:32: @ARM@, drop: product-stack.products.L-100.sku cannot be left out; expected another value, under set:"]),
    ("{drop: [top.button.label]}", ["27:32: stack[1] hero, button: label is missing; expected label: …"]),
    ("{drop: [product-stack.products.L-100, product-stack.products.L-200]}", ["27:32: stack[2] product-stack, products: 0 entries; expected at least 1"]),
    ("{set: {offer.ends: tomorrow}}", ["27:43: offer.ends: 'tomorrow' is not a date and time; expected such as 2027-01-15T08:00"]),
    ("{set: {subject: ''}}", ["27:40: subject: subject is empty"]),
    ("{set: {top.headline: {a: b}}}", ["27:45: stack[1] hero, headline: a mapping where text is expected"]),
    ("{set: {copy.when: vip}}", ["27:42: stack[3] copy: when: vip is not a recipient field; expected when: recipient.name"]),
    ("{set: {copy.otherwise: {copy: x}}}", ["27:31: stack[3] copy: otherwise stands without a when; expected when: recipient.name beside it"]),
]
IDS = [
    ("{add: {after: closing, section: {block: note, id: top, copy: N}}}", ["27:74: @ARM@, add note: the id top is used twice; expected another id (first at 11:9)"]),
    ("{add: [{after: closing, section: {block: note, id: n, copy: N}}, {before: closing, section: {block: note, id: n, copy: M}}]}", ["27:134: @ARM@, add[1] note: the id n is used twice; expected another id (first at 27:75)"]),
    ("{add: {after: closing, section: {block: note, id: Top!, copy: N}}}", ["27:74: @ARM@, add note, id: 'Top!' is not a name; expected lower-case letters, digits and hyphens, a letter first"]),
    ("{drop: top, add: {after: copy, section: {block: note, id: top, copy: N}}}", ["27:82: @ARM@, add note: the id top is used twice; expected another id (first at 11:9)"]),
]
ITSELF = [
    ("{set: {top.button: {label: A, link: /a}, top.button.label: B}}", ["27:65: @ARM@: sets top.button.label, and the same patch sets top.button (27:31); expected one of the two"]),
    ("{set: {top.headline: Two}, drop: [top]}", ["27:31: @ARM@: sets top.headline, and the same patch drops top (27:58); expected one of the two"]),
    ("{set: {top.button.label: Two}, drop: [top.button]}", ["27:31: @ARM@: sets top.button.label, and the same patch drops top.button (27:62); expected one of the two"]),
    ("{drop: [top, top]}", ["27:37: @ARM@, drop: drops top, the same again (27:32); expected one of the two"]),
    ("{drop: [top], move: {top: {after: closing}}}", ["27:32: @ARM@: drops top, and the same patch moves top (27:45); expected one of the two"]),
    ("{replace: {top: {block: copy, copy: x}}, set: {top.headline: y}}", ["27:71: @ARM@: sets top.headline, and the same patch replaces top (27:35); expected one of the two"]),
    ("{replace: {top: {block: copy, copy: x}}, drop: [top]}", ["27:35: @ARM@, replace: replaces top, and the same patch drops top (27:72); expected one of the two"]),
    ("{set: {offer: {kind: markdown}, offer.ends: 2027-01-18T10:00}}", ["27:56: @ARM@: sets offer.ends, and the same patch sets offer (27:31); expected one of the two"]),
    ("{drop: [masthead, top, product-stack, copy, copy-2, closing, footer-nav]}", ["27:21: @ARM@: no section is left in arm=a; expected a stack"]),
    ("{practice: [closing-button, filled-buttons]}", ["27:52: @ARM@: sets closing.button_look, and the same patch drops closing (27:36); expected one of the two"]),
]
FIGHTS = [
    ("{set: {top.headline: Two}}", "{set: {top.headline: Three}}", ["28:33: variants, axes, tone, b: sets top.headline, and arm=a sets top.headline (27:31); expected one of the two, or an except: for both"]),
    ("{set: {top.button: {label: A, link: /a}}}", "{set: {top.button.label: Three}}", ["28:33: variants, axes, tone, b: sets top.button.label, and arm=a sets top.button (27:31); expected one of the two, or an except: for both"]),
    ("{set: {top.button.label: A}}", "{set: {top.button: {label: B, link: /a}}}", ["28:33: variants, axes, tone, b: sets top.button, and arm=a sets top.button.label (27:31); expected one of the two, or an except: for both"]),
    ("{drop: [top]}", "{set: {top.headline: Three}}", ["28:33: variants, axes, tone, b: sets top.headline, and arm=a drops top (27:32); expected one of the two, or an except: for both"]),
    ("{set: {top.headline: Three}}", "{drop: [top]}", ["28:34: variants, axes, tone, b: drops top, and arm=a sets top.headline (27:31); expected one of the two, or an except: for both"]),
    ("{drop: [top.button]}", "{set: {top.button.label: Three}}", ["28:33: variants, axes, tone, b: sets top.button.label, and arm=a drops top.button (27:32); expected one of the two, or an except: for both"]),
    ("{drop: [top]}", "{move: {top: {after: closing}}}", ["28:34: variants, axes, tone, b: moves top, and arm=a drops top (27:32); expected one of the two, or an except: for both"]),
    ("{move: {top: {after: closing}}}", "{drop: [top]}", ["28:34: variants, axes, tone, b: drops top, and arm=a moves top (27:32); expected one of the two, or an except: for both"]),
    ("{move: {top: {after: closing}}}", "{move: {top: {after: copy}}}", ["28:34: variants, axes, tone, b: moves top, and arm=a moves top (27:32); expected one of the two, or an except: for both"]),
    ("{move: {top: {after: closing}}}", "{move: {copy: {after: top}}}", ["28:34: variants, axes, tone, b: moves copy after top, and arm=a moves top (27:32); expected one of the two, or an except: for both"]),
    ("{move: {copy: {after: top}}}", "{move: {top: {after: closing}}}", ["28:34: variants, axes, tone, b: moves top, and arm=a moves copy after top (27:32); expected one of the two, or an except: for both"]),
    ("{replace: {top: {block: copy, copy: x}}}", "{set: {top.headline: Three}}", ["28:33: variants, axes, tone, b: sets top.headline, and arm=a replaces top (27:35); expected one of the two, or an except: for both"]),
    ("{replace: {top: {block: copy, copy: x}}}", "{replace: {top: {block: copy, copy: y}}}", ["28:37: variants, axes, tone, b: replaces top, and arm=a replaces top (27:35); expected one of the two, or an except: for both"]),
    ("{replace: {top: {block: copy, copy: x}}}", "{drop: [top]}", ["28:34: variants, axes, tone, b: drops top, and arm=a replaces top (27:35); expected one of the two, or an except: for both"]),
    ("{add: {after: top, section: {block: note, id: n, copy: x}}}", "{add: {after: copy, section: {block: note, id: n, copy: y}}}", ["28:73: variants, axes, tone, b: adds a section n, and arm=a adds a section n (27:70); expected an id: of its own for one of the two"]),
    ("{add: {after: top, section: {block: note, copy: x}}}", "{add: {after: copy, section: {block: note, copy: y}}}", ["28:55: variants, axes, tone, b: adds a section note, and arm=a adds a section note (27:52); expected an id: of its own for one of the two"]),
    ("{set: {subject: A}}", "{set: {subject: B}}", ["28:33: variants, axes, tone, b: sets subject, and arm=a sets subject (27:31); expected one of the two, or an except: for both"]),
    ("{set: {preheader: A}}", "{drop: preheader}", ["28:33: variants, axes, tone, b: drops preheader, and arm=a sets preheader (27:31); expected one of the two, or an except: for both"]),
    ("{drop: [product-stack.products.0]}", "{set: {product-stack.products.L-100.caption: x}}", ["28:33: variants, axes, tone, b: sets product-stack.products.L-100.caption, and arm=a drops product-stack.products.0 (27:32); expected one of the two, or an except: for both"]),
    ("{drop: [masthead, top, product-stack, copy]}", "{drop: [copy-2, closing, footer-nav]}", ["28:23: variants, axes, tone, b: no section is left in arm=a,tone=b; expected a stack", "28:23: variants, axes, tone, b: with tone=b, no link of this mail is the unsubscribe; expected - standing: footer, or - block: footer-nav, at the end of the stack, without when:"]),
]
PLAN = [
    ("variants: [a, b]\n", ["25:11: variants: not a mapping; expected axes: or named: below variants:"]),
    ("variants:\n", ["25:10: variants: this names no variants; expected axes: or named: below variants:"]),
    ("variants: {}\n", ["25:11: variants: this names no variants; expected axes: or named: below variants:"]),
    ("variants: text\n", ["25:11: variants: not a mapping; expected axes: or named: below variants:"]),
    ("variants:\n  axis: {arm: {a: {}}}\n", ["26:3: variants: unknown field axis; expected one of axes, only, except, named, practice, same; nearest: axes"]),
    ("variants:\n  arm: {a: {}, b: {drop: top}}\n", ["26:3: variants: unknown field arm; expected one of axes, only, except, named, practice, same; an axis stands below them, axes: {arm: …}"]),
    ("variants:\n  axes: [arm]\n", ["26:9: variants, axes: axes is a mapping of axes by name; expected axes: {arm: {control: {}, …}}"]),
    ("variants:\n  axes: {arm: [a, b]}\n", ["26:15: variants, axes, arm: names alone change nothing; this axis takes patches; expected arm: {name: {set: {…}}}"]),
    ("variants:\n  axes: {arm: {}}\n", ["26:15: variants, axes, arm: an axis has values; expected arm: {name: {set: {…}}}"]),
    ("variants:\n  axes: {arm: a}\n", ["26:15: variants, axes, arm: an axis has values; expected arm: {name: {set: {…}}}"]),
    ("variants:\n  axes: {arm: {a: {}, b: {}}}\n", ["26:23: variants, axes, arm: b changes nothing, and neither does a (line 26); expected one baseline, or same: intended for a test of equals"]),
    ("variants:\n  axes: {Arm: {a: {}}}\n", ["26:10: variants, axes: 'Arm' is not a name; expected lower-case letters, digits and hyphens, a letter first"]),
    ("variants:\n  axes: {../x: {a: {}}}\n", ["26:10: variants, axes: '../x' is not a name; expected lower-case letters, digits and hyphens, a letter first"]),
    ("variants:\n  axes: {variant: {a: {}}}\n", ["26:10: variants, axes: variant stands for named variants; expected another name"]),
    ("variants:\n  axes: {arm: {a b: {}, a/b: {drop: top}, a.b: {drop: top}, a=b: {drop: top}, 'a,b': {drop: top}, -a: {drop: top}, ä: {drop: top}}}\n", ["26:16: variants, axes, arm: a b is not a name; expected letters, digits and hyphens", "26:25: variants, axes, arm: a/b is not a name; expected letters, digits and hyphens", "26:43: variants, axes, arm: a.b is not a name; expected letters, digits and hyphens", "26:61: variants, axes, arm: a=b is not a name; expected letters, digits and hyphens", "26:79: variants, axes, arm: a,b is not a name; expected letters, digits and hyphens", "26:99: variants, axes, arm: -a is not a name; expected letters, digits and hyphens", "26:116: variants, axes, arm: ä is not a name; expected letters, digits and hyphens"]),
    ("variants:\n  axes: {arm: {xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx: {}}}\n", ["26:16: variants, axes, arm: a name of 61 characters; expected at most 60"]),
    ("variants:\n  axes: {arm: {a: {}, A: {drop: copy}}}\n", ["26:23: variants, axes, arm: A and a (line 26) would share a folder; expected names that differ in more than capitals"]),
    ("variants:\n  axes: {arm: {base: {}, base: {drop: copy}}}\n", ["26:26: 'base' is written twice (first at line 26)"]),
    ("variants:\n  axes: {language: en-IE}\n", ["26:20: variants, axes, language: an axis has values; expected language: [name, name]"]),
    ("variants:\n  axes: {language: [en-IE, en-IE]}\n", ["26:28: variants, axes, language: en-IE is there already (line 26); expected each name once"]),
    ("variants:\n  axes: {language: [en-IE, klingon]}\n", ["26:28: variants, axes, language: klingon is not a language; expected a BCP 47 tag such as de or en-GB"]),
    ("variants:\n  axes: {language: [en-IE, de_DE]}\n", ["26:28: variants, axes, language: de_DE is not a language; expected a BCP 47 tag such as de or en-GB"]),
    ("variants:\n  axes: {language: [en-IE, de-DE]}\n", ["26:28: no texts in de-DE for spring; expected campaigns/texts/de-DE.yaml or campaigns/texts/spring/de-DE.yaml; handbill texts export begins one"]),
    ("variants:\n  axes: {language: [en-IE, xx-YY]}\n", ["26:28: no texts in xx-YY for spring; expected campaigns/texts/xx-YY.yaml or campaigns/texts/spring/xx-YY.yaml; handbill texts export begins one", "26:28: language: no language data for \"xx-YY\"; expected a BCP 47 tag such as en-GB"]),
    ("variants:\n  axes: {brand: [pellow, pelow]}\n", ["26:26: brand: no brand pelow; expected one of pellow; nearest: pellow"]),
    ("variants:\n  named: [a]\n", ["26:10: variants, named: named variants are a mapping; expected named: {id: {set: {…}}}"]),
    ("variants:\n  named: {}\n", ["26:10: variants, named: named variants are a mapping; expected named: {id: {set: {…}}}"]),
    ("variants:\n  named: {main: {drop: copy}}\n", ["26:11: variants, named: main is a name that output or some computer keeps; expected another name"]),
    ("variants:\n  named: {nul: {drop: copy}}\n", ["26:11: variants, named: nul is a name that output or some computer keeps; expected another name"]),
    ("variants:\n  named: {pictures: {drop: copy}}\n", ["26:11: variants, named: pictures is a name that output or some computer keeps; expected another name"]),
    ("variants:\n  named: {late one: {drop: copy}}\n", ["26:11: variants, named: 'late one' is not a name; expected lower-case letters, digits and hyphens, a letter first"]),
    ("variants:\n  named: {late: {}}\n", ["26:11: variants, named: late changes nothing; expected set, drop, add, move or replace, or a brand: or language: of its own"]),
    ("variants:\n  named: {late: }\n", ["26:17: variants, named, late: nothing where a patch is expected; expected set, drop, add, move or replace, or a brand: or language: of its own"]),
    ("variants:\n  named: {late: {same: intended, lnguage: de-DE}}\n", ["26:34: variants, named, late: unknown field lnguage; expected one of @PARTS@, brand, language; nearest: language"]),
    ("variants:\n  named: {late: {language: de-DE}}\n", ["26:28: no texts in de-DE for spring; expected campaigns/texts/de-DE.yaml or campaigns/texts/spring/de-DE.yaml; handbill texts export begins one"]),
    ("variants:\n  named: {late: {brand: nope}}\n", ["26:25: brand: no brand nope; expected one of pellow"]),
    ("variants:\n  same: intented\n  axes: {arm: {a: {}, b: {drop: copy}}}\n", ["26:9: variants, same: intented is not a choice; expected same: intended"]),
    ("variants:\n  practice: [navigation-at-the-foot]\n", ["26:14: variants, practice, navigation-at-the-foot: no rule navigation-at-the-foot; expected one of @RULES@; nearest: navigation-at-foot"]),
    ("variants:\n  practice: [code-near-top, amount-near-top]\n", ["26:14: variants, practice, code-near-top: there is no code; expected a section of the block offer-code", "26:29: variants, practice, amount-near-top: the opening says no amount; expected ${offer.best_percent} or the like in it"]),
    ("variants:\n  practice: []\n", ["26:13: variants, practice: no rule is named; expected practice: [NAME, …]"]),
    ("variants:\n  practice: {}\n", ["26:13: variants, practice: no rule is named; expected practice: [NAME, …]"]),
    ("variants:\n  practice: [closing-button, closing-button]\n", ["26:30: variants, practice: closing-button is there already (line 26); expected each name once"]),
    ("variants:\n  axes: {practice: [usual, closing-button]}\n  practice: [button-early]\n", ["27:13: variants: practice is an axis already; expected one of the two"]),
]
TRIMS = [
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  only: {}\n", ["27:9: variants, only: a choice is a mapping; expected only: [{axis: value}]"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  only: []\n", ["27:9: variants, only: only holds nothing; expected only: [{axis: value}]"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  only: a\n", ["27:9: variants, only: a choice is a mapping; expected only: [{axis: value}]"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  only: {amr: a}\n", ["27:10: variants, only: no axis amr; expected one of arm; nearest: arm"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  only: {arm: be}\n", ["27:15: variants, only: arm has no value be; expected one of a, bee; nearest: bee"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  except: {arm: c}\n", ["27:17: variants, except: arm has no value c; expected one of a, bee"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  except: {arm: []}\n", ["27:17: variants, except: no value of arm; expected except: [{axis: value}]"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  except: {arm: [a, bee]}\n", ["27:11: variants, except: this leaves no variant; expected at least one"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  only: {arm: a}\n  except: {arm: a}\n", ["28:11: variants, except: only and except leave no variant; expected at least one"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  only: {arm: a}\n  except: {arm: bee}\n", ["28:11: variants, except: no variant that this leaves out is there; expected another choice, or no line"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  only: [{arm: a}, {arm: [a]}]\n", ["27:20: variants, only: every variant that this keeps is kept already; expected another choice, or no line"]),
    ("variants:\n  axes: {arm: {a: {}, bee: {drop: copy}}}\n  except: [{arm: a}, {arm: [a]}]\n", ["27:22: variants, except: no variant that this leaves out is there; expected another choice, or no line"]),
    ("variants:\n  named: {late: {drop: copy}}\n  only: {arm: a}\n", ["27:10: variants, only: no axis arm; expected axes to choose from"]),
    ("variants:\n  axes: {arm: {a: {}, b: {drop: copy}}}\n  named: {late: {drop: top}}\n  except: {variant: late}\n", ["28:12: variants, except: no axis variant: except trims axes, and leaves named variants as they are; expected one of arm"]),
]
ALIASES = [
    ("variants:\n  axes: &a\n    arm: {a: *a}\n", ["26:9: an alias refers to a value that contains it"]),
    ("variants:\n  axes:\n    arm: {base: {}, a: &p {set: {top.headline: *p}}}\n", ["27:24: an alias refers to a value that contains it"]),
    ("variants:\n  axes:\n    arm: {base: {}, a: {set: {top.headline: *nope}}}\n", ["27:45: YAML syntax: found undefined alias"]),
    ("variants:\n  axes:\n    arm: {base: {}, a: {set: {top.headline: A, top.headline: B}}}\n", ["27:48: 'top.headline' is written twice (first at line 27)"]),
    ("variants:\n  axes:\n    arm: {base: {}, a: {drop: copy}\n", ["27:10: YAML syntax: { opens here and never closes; expected } at the end"]),
]
EQUAL = [
    ("variants:\n  axes: {arm: {a: {}, b: {set: {offer.ends: 2027-01-18T10:00}}}}\n", ["26:23: variants, axes, arm, b: arm=b comes out the same as arm=a; expected a change that shows, or same: intended beside it"]),
    ("variants:\n  axes:\n    arm: {base: {}, a: {drop: top}}\n    tone: {usual: {}, b: {drop: top}}\n", ["27:21: variants, axes, arm, a: arm=a,tone=usual comes out the same as arm=base,tone=b; expected a change that shows, or same: intended beside it"]),
    ("variants:\n  axes: {arm: {a: {}, b: {drop: copy}}}\n  named: {arm: {drop: copy}}\n", ["27:11: variants, named, arm: arm comes out the same as arm=b; expected a change that shows, or same: intended beside it"]),
    ("variants:\n  named: {late: {drop: copy}, later: {drop: copy}}\n", ["26:31: variants, named, later: later comes out the same as late; expected a change that shows, or same: intended beside it"]),
    ("variants:\n  axes: {arm: {base: {}, a: &p {drop: copy}, b: *p}}\n", ["26:46: variants, axes, arm, b: arm=b comes out the same as arm=a; expected a change that shows, or same: intended beside it"]),
]
# fmt: on


def arm(patch: str) -> str:
    return f"variants:\n  axes:\n    arm: {{base: {{}}, a: {patch}}}\n"


@pytest.mark.parametrize(("patch", "lines"), [*NOTHING, *WRITTEN, *UNKNOWN, *IDS, *ITSELF])
def test_a_patch(shop: Shop, patch: str, lines: list[str]) -> None:
    """In order: what changes nothing, what is no patch, what is not there, ids, what fights itself."""
    assert told(shop, arm(patch)) == whole(lines)


def both(first: str, second: str) -> str:
    return f"{arm(first)}    tone: {{usual: {{}}, b: {second}}}\n"


@pytest.mark.parametrize(("first", "second", "lines"), FIGHTS)
def test_two_patches_of_one_variant(shop: Shop, first: str, second: str, lines: list[str]) -> None:
    assert told(shop, both(first, second)) == whole(lines)


@pytest.mark.parametrize(("first", "second", "lines"), FIGHTS)
def test_patches_that_never_meet_do_not_fight(shop: Shop, first: str, second: str, lines: list[str]) -> None:
    apart = both(first, second) + "  except: {arm: a, tone: b}\n"
    shop.put("campaigns/spring.yaml", BASE + apart)
    done = compiled(shop)
    if any("unsubscribe" in line for line in lines):  # a patch that is wrong by itself
        assert done.exit_code != 0
        return
    assert done.exit_code == 0, done.exception
    assert len(list((shop.root / "out/spring").glob("arm=*"))) == 3


@pytest.mark.parametrize(("variants", "lines"), [*PLAN, *TRIMS, *ALIASES, *EQUAL])
def test_the_variants(shop: Shop, variants: str, lines: list[str]) -> None:
    """In order: axes and names, `only` and `except`, aliases and YAML, mails that come out the same."""
    assert told(shop, variants) == whole(lines)


def many(axes: int, values: int, length: int = 1) -> str:
    one = ", ".join(f"v{number:0{length}d}: {{drop: copy}}" for number in range(values))
    return "variants:\n  axes:\n" + "".join(f"    a{number}: {{{one}}}\n" for number in range(axes))


@pytest.mark.parametrize(
    ("variants", "line"),
    [
        (many(13, 1), "39:5: variants, axes: 13 axes; expected at most 12"),
        (many(5, 11), "27:5: variants, axes: the axes multiply to 161,051 variants, more than the 100,000 allowed; "
                      "expected fewer values, or several campaigns"),
        (many(4, 2, 50), "27:5: variants, axes: ids of 219 characters, which name folders; "
                         "expected shorter names, 200 in all"),
        (f"variants:\n  axes: {{arm: {{a: {{}}, b: {{drop: copy}}}}}}\n  only: [{', '.join(['{arm: a}'] * 201)}]\n",
         "27:9: variants, only: 201 choices; expected at most 200"),
        (f"variants:\n  axes: {{arm: {{a: {{}}, b: {{set: {{{', '.join(f'top.x{n}: y' for n in range(1001))}}}}}}}}}\n",
         "26:26: variants, axes, arm, b: 1,001 changes, more than the 1,000 allowed; expected a campaign of its own"),
    ],
)  # fmt: skip
def test_too_many(shop: Shop, variants: str, line: str) -> None:
    assert told(shop, variants) == [line]


def test_a_large_axis_makes_one_line_for_each_place(shop: Shop) -> None:
    """Thirty headlines against thirty make nine hundred fights, and thirty places to mend."""
    arms = ", ".join(f"v{number}: {{set: {{top.headline: V{number}}}}}" for number in range(30))
    tones = "".join(f"      w{number}: {{set: {{top.headline: W{number}}}}}\n" for number in range(30))
    variants = f"variants:\n  axes:\n    arm: {{{arms}}}\n    tone:\n{tones}"
    expected = [
        f"{29 + number}:{17 + len(str(number))}: variants, axes, tone, w{number}: sets top.headline, and arm=v0 sets "
        "top.headline (27:22); expected one of the two, or an except: for both"
        for number in range(30)
    ]
    assert told(shop, variants) == expected
    (shop.root / "campaigns/spring.yaml").unlink()
    assert told(shop, variants, BASE, "--jobs", "2") == expected


def test_all_at_once(shop: Shop) -> None:
    """Wherever the parts of `variants:` are wrong, and the campaign's own stack as well."""
    variants = """\
variants:
  axes:
    arm: {base: {}, a: {set: {top.headlne: A}, drop: [cpy], move: {closing: {after: tp}}}, b: {sett: {}}}
    language: [en-IE, fr-FR]
    con: {x: {}, nul: {set: {subject: ''}}}
  only: [{arm: d}]
  named: {aux: {drop: copy}}
  same: no
  practice: [nope]
"""
    assert told(shop, variants, BASE.replace("copy: First", "cpoy: First")) == whole([
        "18:5: stack[3] copy, copy: copy is missing",
        "19:5: stack[3] copy, cpoy: unknown field cpoy; expected one of tone, kicker, headline, copy, button, align, "
        "size, heading_size, button_look; nearest: copy",
        "27:31: @ARM@, set, top.headlne: unknown field headlne; expected one of @HERO@; nearest: headline",
        "27:55: @ARM@, drop: no section cpy; expected one of @IDS@; nearest: copy",
        "27:85: @ARM@, move: no section tp; expected one of @IDS@; nearest: top",
        "27:96: variants, axes, arm, b: unknown field sett; expected one of @PARTS@; nearest: set",
        "28:23: no texts in fr-FR for spring; expected campaigns/texts/fr-FR.yaml or "
        "campaigns/texts/spring/fr-FR.yaml; handbill texts export begins one",
        "29:39: subject: subject is empty",
        "30:16: variants, only: arm has no value d; expected one of base, a, b",
        "31:11: variants, named: aux is a name that output or some computer keeps; expected another name",
        "32:9: variants, same: no is not a choice; expected same: intended",
        "33:14: variants, practice, nope: no rule nope; expected one of @RULES@",
    ])  # fmt: skip


@pytest.mark.parametrize(("patch", "lines"), [NOTHING[0], UNKNOWN[0], WRITTEN[0], ITSELF[1]])
def test_nothing_of_an_earlier_run_is_lost(shop: Shop, patch: str, lines: list[str]) -> None:
    shop.put("campaigns/spring.yaml", BASE)
    assert compiled(shop).exit_code == 0
    before = {one: one.read_bytes() for one in (shop.root / "out").rglob("*") if one.is_file()}
    assert before
    shop.put("campaigns/spring.yaml", BASE + arm(patch))
    done = compiled(shop)
    assert done.exit_code == 2
    assert done.stderr.replace("campaigns/spring.yaml:", "").splitlines() == whole(lines)
    assert {one: one.read_bytes() for one in (shop.root / "out").rglob("*") if one.is_file()} == before


@pytest.mark.parametrize(
    "variants",
    [
        "variants:\n  axes: {arm: {a: {}, b: {same: intended}}}\n",
        "variants:\n  same: intended\n  axes: {arm: {a: {}, b: {}}}\n",
        "variants:\n  named: {late: {same: intended}}\n",
        "variants:\n  axes: {arm: {a: {}, b: {set: {offer.ends: 2027-01-18T10:00}, same: intended}}}\n",
    ],
)
def test_equals_that_are_intended(shop: Shop, variants: str) -> None:
    shop.put("campaigns/spring.yaml", BASE + variants)
    assert compiled(shop).exit_code == 0
    mails = [one.read_bytes() for one in (shop.root / "out/spring").glob("*/email.html")]
    assert len(mails) == 2
    assert mails[0] == mails[1]


def test_a_named_variant_may_be_called_like_an_axis(shop: Shop) -> None:
    """Ids of axes hold an equals sign, names never do, so no two folders are the same."""
    variants = "variants:\n  axes: {arm: {a: {}, b: {drop: copy}}}\n  named: {arm: {drop: top}, a: {drop: closing}}\n"
    shop.put("campaigns/spring.yaml", BASE + variants)
    assert compiled(shop).exit_code == 0
    folders = {one.parent.name for one in (shop.root / "out/spring").glob("*/email.html")}
    assert folders == {"arm=a", "arm=b", "arm", "a"}


def test_a_section_that_another_shop_lacks(shop: Shop) -> None:
    """Standing sections are each shop's own: ids in a patch are those of the shop it is for."""
    shop.put("brands/tern/brand.yaml", "handbill: 1\nbrand: tern\nextends: pellow\nname: Tern\n")
    for name in ("products.csv", "reviews.csv"):
        shop.put(f"brands/tern/{name}", (shop.root / f"brands/pellow/{name}").read_bytes())
    for brand, more in (("pellow", ", {block: note, id: more, copy: More.}"), ("tern", "")):
        shop.put(
            f"brands/{brand}/standing/end.yaml",
            f"sections: [{{block: note, id: small, copy: Small.}}{more}]\n",
        )
    variants = "variants:\n  axes:\n    arm: {base: {}, a: {drop: more}}\n    brand: [pellow, tern]\n"
    base = BASE + "  - standing: end\n"
    assert told(shop, variants, base) == [
        "28:31: variants, axes, arm, a, drop: no section more for tern; expected one of masthead, top, "
        "product-stack, copy, copy-2, closing, footer-nav, small"
    ]
    shop.put("campaigns/spring.yaml", base + variants + "  except: {arm: a, brand: tern}\n")
    assert compiled(shop).exit_code == 0
    assert len(list((shop.root / "out/spring").glob("arm=*"))) == 3


def test_what_is_wrong_at_one_place_is_said_once(shop: Shop) -> None:
    """Entries count otherwise in each variant, and the line to mend is the same."""
    base = BASE.replace("[L-100, {sku", "[L-100, L-3OO, {sku")
    assert told(shop, arm("{drop: [product-stack.products.L-100]}"), base) == [
        "17:23: stack[2] product-stack, products[0]: no product L-3OO in brands/pellow/products.csv; nearest: L-200"
    ]


@pytest.mark.parametrize(
    ("brand", "rule", "line"),
    [
        ("blocks: {masthead: {navigation: inline}}", "navigation-at-foot", "the navigation stands at the top already"),
        ("blocks: {footer-nav: {navigation: none}}", "navigation-at-foot",
         "no navigation stands at the foot; expected a footer-nav that shows it"),
        ("blocks: {product-stack: {now_word: alone}}", "old-price-beside-new",
         "no section shows prices that it could show without the old ones; expected a product-stack"),
        ("blocks: {product-stack: {button_look: outline}, closing: {button_look: outline}, copy: {button_look: outline}}",
         "filled-buttons", "no section's button could be an outline instead; expected a product-stack or a closing"),
    ],
)  # fmt: skip
def test_rules_that_a_shop_does_not_follow(shop: Shop, brand: str, rule: str, line: str) -> None:
    """A shop's own defaults count, not the block's alone."""
    shop.change("brands/pellow/brand.yaml", "legal:", f"{brand}\nlegal:")
    assert told(shop, f"variants: {{practice: {rule}}}\n") == [f"25:22: variants, practice, {rule}: {line}"]
