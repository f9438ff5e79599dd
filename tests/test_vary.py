"""Patches on a campaign: what each does, what stays the same object, and every mistake at its line.

The reference for what a variant comes to is the same campaign edited by hand, and for the product of axes
`itertools.product` of the standard library.
"""

from __future__ import annotations

import itertools
import json
import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.workspaces import make

from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.base.source import Doc, parse_yaml, plain
from handbill.loader import Loader
from handbill.pipeline import Desk
from handbill.vary.plan import Plan, twins
from handbill.vary.read import read_plan

HEAD = """\
handbill: 1
campaign: spring
brand: pellow
send: 2027-01-15T08:00
subject: A letter
preheader: Under it
offer: {kind: markdown, ends: 2027-01-17T23:59}
"""
STACK = """\
stack:
  - block: masthead
  - block: hero
    id: top
    headline: One
    copy: Some words.
    button: {label: Look, link: /look}
    picture: {file: wren.png, alt: A lamp}
  - block: product-stack
    products: [L-100, {sku: L-200, caption: Second}]
  - block: copy
    copy: First passage.
  - block: copy
    copy: Second passage.
  - block: closing
    button: {label: All, link: /all}
  - block: footer-nav
"""
BASE = HEAD + STACK  # variants: begins at line 24
LINE = BASE.count("\n") + 1


@pytest.fixture
def desk(shop: Any) -> Any:
    """A campaign opened: the base with `variants` after it."""

    def opened(variants: str, base: str = BASE) -> Desk:
        path = shop.put("campaigns/spring.yaml", base + variants)
        loader = Loader(shop.root, Cache())
        return Desk(loader, loader.read(path))

    return opened


def planned(variants: str) -> Plan:
    plan, mistakes = read_plan(parse_yaml((BASE + variants).encode(), "campaigns/spring.yaml"))
    assert mistakes == []
    return plan


def arm(patch: str) -> str:
    """One arm `a` beside a baseline; the patch is a flow mapping, on the third line below `variants:`."""
    return f"variants:\n  axes:\n    arm: {{base: {{}}, a: {patch}}}\n"


def stack(desk: Desk, variant: str) -> dict[str, Any]:
    """The variant's sections by id, as plain data."""
    return {one.id: plain(one.node) for one in desk.patched(desk.plan.find(variant)).sections}


# -- ids and the product


def test_a_campaign_without_variants_is_main() -> None:
    plan = planned("")
    assert [one.id for one in plan] == ["main"]
    assert plan[0].choices == {}
    assert plan[0].brand is None
    assert plan[0].language is None


AXES = st.dictionaries(
    st.sampled_from(["arm", "segment", "tone", "day"]),
    st.lists(st.sampled_from(["a", "b", "c-2", "25-34", "Z"]), min_size=1, max_size=4, unique=True),
    min_size=1,
    max_size=3,
)


def block_of(axes: dict[str, list[str]]) -> str:
    """YAML of axes whose values all set the subject's part of a section, each in a field of its own."""
    lines = ["variants:", "  axes:"]
    for axis, values in axes.items():
        lines.append(f"    {axis}:")
        lines += [f"      {value}: {{set: {{top.{axis}-{value}: x}}}}" for value in values]
    return "\n".join(lines) + "\n"


@given(axes=AXES, data=st.data())
@settings(max_examples=60)
def test_axes_multiply_and_trim_as_itertools_does(axes: dict[str, list[str]], data: st.DataObject) -> None:
    whole = [dict(zip(axes, chosen, strict=True)) for chosen in itertools.product(*axes.values())]
    picked = data.draw(st.lists(st.sampled_from(whole), max_size=2, unique_by=str))
    dropped = data.draw(st.lists(st.sampled_from(whole), max_size=2, unique_by=str))
    left = [one for one in whole if (not picked or one in picked) and one not in dropped]
    fitting = all(one in (picked or whole) for one in dropped)
    text = block_of(axes)
    for part, trims in (("only", picked), ("except", dropped)):
        if trims:
            text += f"  {part}: [{', '.join(str(one) for one in trims)}]\n"
    plan, mistakes = read_plan(parse_yaml((BASE + text).encode(), "x.yaml"))
    if not left or not fitting:
        assert mistakes
        return
    assert mistakes == []
    assert [dict(one.choices) for one in plan] == left
    assert len(plan) == len(left)
    assert [one.id for one in plan] == [",".join(f"{axis}={one[axis]}" for axis in axes) for one in left]
    for number, one in enumerate(plan):
        assert plan.number(one.id) == number
        assert plan.find(one.id) == one == plan[number - len(plan)]


@given(axes=AXES)
@settings(max_examples=30)
def test_a_new_value_changes_no_other_id(axes: dict[str, list[str]]) -> None:
    before = {one.id for one in planned(block_of(axes))}
    axis = next(iter(axes))
    after = {one.id for one in planned(block_of({**axes, axis: ["new", *axes[axis]]}))}
    assert before < after
    # what NTFS, FAT and POSIX file systems take in a name, and none reads as a device or a path
    assert all(re.fullmatch(r"[A-Za-z0-9=,-]{1,200}", one) for one in after)


def test_named_variants_stand_after_the_axes() -> None:
    plan = planned(arm("{drop: closing}") + "  named:\n    late: {set: {subject: Late}, language: de-DE}\n")
    assert [one.id for one in plan] == ["arm=base", "arm=a", "late"]
    assert plan[2].choices == {"language": "de-DE"}
    assert plan[2].language == "de-DE"
    assert plan.choices() == {"arm": ["base", "a"], "language": ["de-DE"]}
    alone = planned("variants: {named: {late: {set: {subject: Late}}}}\n")
    assert [one.id for one in alone] == ["main", "late"]


def test_the_baseline_changes_least() -> None:
    plan = planned("variants:\n  axes:\n    arm: {a: {drop: closing}, b: {}}\n    language: [en-GB, de-DE]\n")
    assert plan.baseline.id == "arm=b,language=en-GB"
    trimmed = planned("variants:\n  axes:\n    arm: {a: {drop: closing}, b: {}}\n  except: {arm: b}\n")
    assert trimmed.baseline.id == "arm=a"


def test_the_baseline_is_in_the_campaigns_own_shop_and_language() -> None:
    """Wherever they stand among the values, which another order of these does not change."""
    written = BASE.replace("send:", "language: en-IE\nsend:", 1)
    for brands, tongues in itertools.product(
        ("[pellow, tern]", "[tern, pellow]"), ("[en-IE, de]", "[de, en-IE]")
    ):
        text = f"{written}variants: {{axes: {{brand: {brands}, language: {tongues}}}}}\n"
        plan, mistakes = read_plan(parse_yaml(text.encode(), "x.yaml"))
        assert mistakes == []
        assert plan.baseline.id == "brand=pellow,language=en-IE"


def test_another_order_of_values_changes_no_mail(desk: Any) -> None:
    arms = ["base: {}", "a: {set: {top.headline: Two}}", "b: {drop: closing}"]
    sizes = ["s: {}", "m: {set: {subject: Other}}"]
    made: list[dict[str, bytes]] = []
    for first, second in ((arms, sizes), (arms[::-1], sizes[::-1])):
        opened = desk(f"variants: {{axes: {{arm: {{{', '.join(first)}}}, size: {{{', '.join(second)}}}}}}}\n")
        ids = [one.id for one in opened.plan]
        made.append({name: opened.render(opened.mail(at), name).eml for at, name in enumerate(ids)})
    assert made[0] == made[1]
    assert list(made[0]) == list(made[1])[::-1]


def test_an_unknown_id_has_the_nearest() -> None:
    with pytest.raises(Fault) as caught:
        planned(arm("{drop: closing}")).find("arm=bsae")
    assert caught.value.nearest == "arm=base"
    assert "arm=a" in caught.value.expected


def test_memory_does_not_grow_with_the_product() -> None:
    """What a plan holds, by pickling it: the same for 9 and for 9**4 variants, per value."""
    import pickle

    def size(values: int) -> int:
        names = {f"x{axis}": [f"v{one}" for one in range(values)] for axis in ("a", "b", "c", "d")}
        plan = planned(block_of(names))
        assert len(plan) == values**4
        return len(pickle.dumps([[one.name for one in axis.values] for axis in plan.axes])) // values

    assert size(9) < 2 * size(3)


# -- what patches do


@pytest.mark.parametrize(
    ("patch", "section", "expected"),
    [
        ("{set: {top.headline: Two}}", "top", {"headline": "Two"}),
        ("{set: {top.kicker: New}}", "top", {"kicker": "New"}),
        ("{set: {top.picture.alt: Other}}", "top", {"picture": {"file": "wren.png", "alt": "Other"}}),
        ("{set: {top.button.label: Go}}", "top", {"button": {"label": "Go", "link": "/look"}}),
        ("{set: {product-stack.products: [L-200]}}", "product-stack", {"products": ["L-200"]}),
        (
            "{set: {product-stack.products.L-100.caption: First}}",
            "product-stack",
            {"products": [{"sku": "L-100", "caption": "First"}, {"sku": "L-200", "caption": "Second"}]},
        ),
        (
            "{set: {product-stack.products.1.caption: Other}}",
            "product-stack",
            {"products": ["L-100", {"sku": "L-200", "caption": "Other"}]},
        ),
        ("{drop: [product-stack.products.0]}", "product-stack",
         {"products": [{"sku": "L-200", "caption": "Second"}]}),
        ("{drop: [product-stack.products.L-200.caption]}", "product-stack",
         {"products": ["L-100", {"sku": "L-200"}]}),
        ("{set: {closing.headline: Bye, closing.button.label: Rest}}", "closing",
         {"headline": "Bye", "button": {"label": "Rest", "link": "/all"}}),
    ],
)  # fmt: skip
def test_fields_of_sections(desk: Any, patch: str, section: str, expected: dict[str, Any]) -> None:
    opened = desk(arm(patch))
    before, after = stack(opened, "arm=base"), stack(opened, "arm=a")
    assert after[section] == {**before[section], **expected}
    assert {**after, section: None} == {**before, section: None}


def test_a_dropped_field_is_gone(desk: Any) -> None:
    opened = desk(arm("{drop: [top.button, preheader, offer.ends]}"))
    made = opened.patched(opened.plan.find("arm=a"))
    assert "button" not in plain(made.sections[1].node)
    assert "preheader" not in plain(made.head)
    assert plain(made.head)["offer"] == {"kind": "markdown"}


def test_fields_of_the_campaign(desk: Any) -> None:
    patch = "{set: {subject: Other, preheader: Else, offer.ends: 2027-01-18T10:00, send: 2027-01-16T08:00}}"
    opened = desk(arm(patch))
    before, after = opened.mail(0), opened.mail(1)
    assert after.subject.sampled.plain == "Other"
    assert after.preheader.sampled.plain == "Else"
    assert (before.campaign.send.day, after.campaign.send.day) == (15, 16)
    assert after.campaign.offer.ends.day == 18
    assert before.campaign.offer.ends.day == 17


@pytest.mark.parametrize(
    ("patch", "order"),
    [
        ("{drop: [closing, copy]}", "masthead top product-stack copy-2 footer-nav"),
        ("{drop: copy-2}", "masthead top product-stack copy closing footer-nav"),
        ("{move: {closing: {before: top}}}", "masthead closing top product-stack copy copy-2 footer-nav"),
        ("{move: {top: {after: closing}, masthead: {after: top}}}",
         "product-stack copy copy-2 closing top masthead footer-nav"),
        ("{add: {after: top, section: {block: note, copy: N}}}",
         "masthead top note product-stack copy copy-2 closing footer-nav"),
        ("{add: {before: top, section: {block: copy, copy: N}}}",
         "masthead copy-3 top product-stack copy copy-2 closing footer-nav"),
        ("{add: [{after: top, sections: [{block: note, id: n, copy: N}, {block: copy, copy: M}]},"
         " {after: top, section: {block: copy, copy: O}}]}",
         "masthead top n copy-3 copy-4 product-stack copy copy-2 closing footer-nav"),
        ("{drop: closing, add: {after: closing, section: {block: note, copy: N}}}",
         "masthead top product-stack copy copy-2 note footer-nav"),
        ("{move: {top: {after: closing}}, add: {after: top, section: {block: note, copy: N}}}",
         "masthead product-stack copy copy-2 closing top note footer-nav"),
        ("{replace: {closing: {block: copy, copy: Bye}}}",
         "masthead top product-stack copy copy-2 closing footer-nav"),
    ],
)  # fmt: skip
def test_sections_go_where_they_are_told(desk: Any, patch: str, order: str) -> None:
    opened = desk(arm(patch))
    assert " ".join(stack(opened, "arm=a")) == order
    opened.mail(1)  # and what comes out is a mail


def test_a_standing_section_can_be_added(desk: Any, shop: Any) -> None:
    shop.put("brands/pellow/standing/tail.yaml",
             "sections: [{block: note, id: small, copy: N}, {block: copy, copy: M}]\n")  # fmt: skip
    opened = desk(arm("{add: {after: top, section: {standing: tail, set: {small.copy: O}}}}"))
    made = stack(opened, "arm=a")
    assert list(made)[2:4] == ["small", "copy-3"]
    assert made["small"]["copy"] == "O"


def test_when_and_otherwise_can_be_patched(desk: Any) -> None:
    opened = desk(arm("{set: {copy.when: recipient.vip, copy.otherwise: {copy: Others.}, top.lang: de}}"))
    made = {one.id: one for one in opened.patched(opened.plan.find("arm=a")).sections}
    assert made["copy"].when == "recipient.vip"
    assert made["copy"].other is not None
    assert plain(made["copy"].other.node)["copy"] == "Others."
    assert made["top"].lang == "de"


def test_what_no_patch_touches_is_the_same_object(desk: Any) -> None:
    opened = desk(
        "variants:\n  axes:\n"
        "    arm: {base: {}, a: {set: {top.headline: Two}}, b: {set: {subject: Other}}}\n"
        "    segment: {all: {}, some: {drop: closing, set: {copy.copy: Else}}}\n"
    )
    plain_, a, b, some, a_some = (
        opened.patched(opened.plan.find(f"arm={arm},segment={segment}"))
        for arm, segment in (("base", "all"), ("a", "all"), ("b", "all"), ("base", "some"), ("a", "some"))
    )
    by_id = {one.id: one for one in plain_.sections}
    assert all((one is by_id[one.id]) == (one.id != "top") for one in a.sections)
    assert a.head is plain_.head
    assert a.doc is plain_.doc
    assert b.sections == plain_.sections
    assert all(map(lambda x, y: x is y, b.sections, plain_.sections))
    assert b.head is not plain_.head
    assert all((one is by_id[one.id]) == (one.id != "copy") for one in some.sections)
    made = {one.id: one for one in (*a.sections, *some.sections) if one is not by_id[one.id]}
    assert {one.id for one in a_some.sections if one is made.get(one.id)} == {"top", "copy"}
    untouched = by_id["top"].node
    assert plain(untouched)["headline"] == "One"  # nothing was written on


# -- a patch is what a hand would write

FIELDS = {"top": "headline", "copy": "copy", "copy-2": "copy", "closing": "headline"}
WORDS = st.text(st.sampled_from("abc xyz."), min_size=1, max_size=12).map(str.strip).filter(bool)


@st.composite
def edits(draw: st.DrawFn) -> tuple[dict[str, str], list[str], list[tuple[str, bool, str]], str]:
    """Fields set, sections dropped, additions (where, before, words), and a subject."""
    drops = draw(st.lists(st.sampled_from(["copy", "copy-2", "closing"]), max_size=2, unique=True))
    free = [one for one in FIELDS if one not in drops]
    sets = draw(st.dictionaries(st.sampled_from(free), WORDS.map("w ".__add__), max_size=3))
    places = ["masthead", *FIELDS, "footer-nav"]
    adds = draw(st.lists(st.tuples(st.sampled_from(places), st.booleans(), WORDS), max_size=2))
    return sets, drops, adds, draw(WORDS)


@given(made=edits())
@settings(max_examples=25)
def test_a_patch_comes_to_what_a_hand_edit_does(made: Any, loader: Loader) -> None:
    sets, drops, adds, subject = made
    patch: dict[str, Any] = {"set": {f"{name}.{FIELDS[name]}": words for name, words in sets.items()}}
    patch["set"]["subject"] = f"S {subject}"
    if drops:
        patch["drop"] = drops
    if adds:
        patch["add"] = [
            {
                "before" if before else "after": at,
                "section": {"block": "note", "id": f"n-{number}", "copy": w},
            }
            for number, (at, before, w) in enumerate(adds)
        ]
    text = BASE.replace("pellow", "orrowby").replace("wren", "one")
    text = text.replace("L-100", "K-101").replace("L-200", "K-102")  # the shop of `workspaces`
    data = plain(parse_yaml(text.encode(), "campaigns/spring.yaml").root)
    for section, id_ in zip(data["stack"], ("masthead", "top", "product-stack", "copy", "copy-2", "closing",
                                            "footer-nav"), strict=True):  # fmt: skip
        section["id"] = id_
    tail: dict[str, list[Any]] = {}
    edited = json.loads(json.dumps(data))
    for section in edited["stack"]:
        if section["id"] in sets:
            section[FIELDS[section["id"]]] = sets[section["id"]]
    for number, (at, before, words) in enumerate(adds):
        note = {"block": "note", "id": f"n-{number}", "copy": words}
        index = next(n for n, one in enumerate(edited["stack"]) if one["id"] == at)
        if before:
            edited["stack"].insert(index, note)
        else:
            tail.setdefault(at, []).append(note)
            edited["stack"].insert(index + len(tail[at]), note)
    edited["stack"] = [one for one in edited["stack"] if one["id"] not in drops]
    edited["subject"] = f"S {subject}"
    data["variants"] = {"axes": {"arm": {"base": {}, "a": patch}}}
    varied = Desk(loader, document(data))
    by_hand = Desk(loader, document(edited))
    mine, theirs = varied.render(varied.mail(1)), by_hand.render(by_hand.mail(0))
    assert (mine.html, mine.text, mine.eml) == (theirs.html, theirs.text, theirs.eml)


def document(data: Any) -> Doc:
    """Plain data as a campaign's nodes: JSON is YAML."""
    return parse_yaml(json.dumps(data).encode(), "campaigns/spring.yaml")


@pytest.fixture(scope="module")
def loader(tmp_path_factory: pytest.TempPathFactory) -> Loader:
    """One shop for every example of a property."""
    return Loader(make(tmp_path_factory.mktemp("vary")), Cache())


# -- equals


def test_equals_are_a_mistake_at_the_value_that_differs() -> None:
    plan = planned(arm("{set: {top.headline: 'One '}}") + "    segment: {all: {}, some: {drop: copy}}\n")
    one, other = plan.find("arm=base,segment=some"), plan.find("arm=a,segment=some")
    found = twins(plan, one, other)
    assert str(found) == (
        f"campaigns/spring.yaml:{LINE + 2}:21: variants, axes, arm, a: arm=a,segment=some comes out the same "
        "as arm=base,segment=some; expected a change that shows, or same: intended beside it"
    )


def test_equals_may_be_intended() -> None:
    plan = planned(arm("{same: intended}"))
    assert plan[1].same
    assert twins(plan, plan[0], plan[1]) is None
    whole = planned(
        "variants:\n  same: intended\n  axes:\n    arm: {base: {}, a: {set: {top.headline: X}}}\n"
    )
    assert all(one.same for one in whole)
