"""Catalogues: CSV as RFC 4180 and the csv module have it, JSON as RFC 8259 and json do, every mistake."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.conftest import Shop

from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, MistakesError, Place
from handbill.base.money import Money
from handbill.base.source import child, parse_yaml
from handbill.catalogue import Catalogue, ProductRow, ReviewRow, load, load_products, load_reviews
from handbill.catalogue.objects import read_json
from handbill.catalogue.sheet import DELIMITERS, Sheet, decode, read_csv
from handbill.models.brand import Columns
from handbill.models.catalogue import Product, Review

HEAD = "sku,name,price,link"


def products(
    folder: Path,
    content: str | bytes,
    columns: Mapping[str, str] | None = None,
    *,
    name: str = "products.csv",
    currency: str = "EUR",
    cache: Cache | None = None,
) -> Catalogue[ProductRow]:
    raw = content if isinstance(content, bytes) else content.encode()
    (folder / name).write_bytes(raw)
    return load_products(Columns(file=name, columns=dict(columns or {})), folder, folder, currency, cache)


def reviews(folder: Path, content: str, name: str = "reviews.csv") -> Catalogue[ReviewRow]:
    (folder / name).write_text(content, encoding="utf-8", newline="")
    return load_reviews(Columns(file=name), folder, folder, None)


def refused(
    folder: Path,
    content: str | bytes,
    columns: Mapping[str, str] | None = None,
    name: str = "products.csv",
    currency: str = "EUR",
) -> list[str]:
    with pytest.raises(MistakesError) as caught:
        products(folder, content, columns, name=name, currency=currency)
    return [str(mistake) for mistake in caught.value.mistakes]


# --- what a file gives -----------------------------------------------------------------------------------


def test_a_product_has_ready_values(tmp_path: Path) -> None:
    text = (
        "Code,Name,Kind,Price,Was,Was from,Was until,Colours,Picture,Alt,Link,Copy,Stock,Shelf\n"
        'K-1, Tarn ,kettle,45,89.50,2026-09-01,2027-01-31,"night blue:#283B5D; rust : #b53",p.png,'
        'A kettle,/t,"1.6 l, enamel",7,B4\nK-2,Fell,,9.9,,,,,,,/f,,,\n'
    )
    found = products(tmp_path, text, {"sku": "Code"})
    assert list(found.keys()) == ["K-1", "K-2"]
    assert found.get("K-1") == ProductRow(
        sku="K-1", name=" Tarn ", kind="kettle", price=Money(Decimal("45"), "EUR"),
        was=Money(Decimal("89.50"), "EUR"), was_from=date(2026, 9, 1), was_until=date(2027, 1, 31),
        colours=(("night blue", "#283b5d"), ("rust", "#bb5533")), picture="p.png", alt="A kettle", link="/t",
        copy="1.6 l, enamel", stock="7", place=Place("products.csv", 2, 1),
    )  # fmt: skip
    second = found.pick("K-2")
    assert (second.was, second.was_from, second.colours, second.copy) == (None, None, (), "")
    assert second.place.line == 3


def test_a_review_has_ready_values(tmp_path: Path) -> None:
    text = (
        "Id,Product,Name,Place,Stars,Date,Source,Verified,Relationship,Title,Text\n"
        'R-1,K-1,Ada,Harrowmere,5,2026-11-14,shop site,matched to an order,,Good,"One.\r\nTwo."\n'
        "R-2,,Bo,,,,,,works in the shop,,Fine\n"
    )
    found = reviews(tmp_path, text)
    assert found.get("R-1") == ReviewRow(
        id="R-1", product="K-1", name="Ada", place_of_person="Harrowmere", stars=5, date=date(2026, 11, 14),
        source="shop site", verified="matched to an order", relationship="", title="Good", text="One.\nTwo.",
        place=Place("reviews.csv", 2, 1),
    )  # fmt: skip
    assert found.pick("R-2").place == Place("reviews.csv", 4, 1)
    assert (found.pick("R-2").stars, found.pick("R-2").verified) == (None, "")


def test_an_unknown_key_names_the_nearest(tmp_path: Path) -> None:
    folder = tmp_path / "brands" / "orrowby"
    folder.mkdir(parents=True)
    (folder / "products.csv").write_text(f"{HEAD}\nK-102,Tarn,45,/t\nS-110,Wick,24,/w\n")
    found = load_products(Columns(file="products.csv"), folder, tmp_path, "EUR", None)
    assert found.file == "brands/orrowby/products.csv"
    assert found.get("K-1O2") is None
    with pytest.raises(Fault) as caught:
        found.pick("K-1O2")
    assert caught.value.message == "no product K-1O2 in brands/orrowby/products.csv"
    assert caught.value.nearest == "K-102"


@pytest.mark.parametrize("mark", DELIMITERS)
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"])
def test_marks_line_breaks_and_byte_order_marks(tmp_path: Path, mark: str, ending: str, bom: bytes) -> None:
    lines = ["SKU,Name,Price,Link", 'K-1,"Ta""rn",45,/t', "", ",,,", "K-2,Fell,9,/f"]
    text = ending.join(lines).replace(",", mark)
    found = products(tmp_path, bom + text.encode())
    assert [(found.pick(key).name, found.pick(key).place.line) for key in found.keys()] == [  # noqa: SIM118
        ('Ta"rn', 2),
        ("Fell", 5),
    ]


# --- against the csv module (RFC 4180) and the json module (RFC 8259) -------------------------------------

# A cell may hold all of UTF-8 but NUL. Carriage returns are left out, since cells break lines as \n only.
CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\0\r"), max_size=12)


def cells_of(sheet: Sheet) -> list[list[str]]:
    return [[cell.value for cell in row.cells.values()] for row in sheet.rows]


@given(st.lists(st.tuples(CELLS, CELLS, CELLS), max_size=4), st.sampled_from(DELIMITERS), st.booleans())
def test_any_cell_comes_through(rows: list[tuple[str, ...]], mark: str, windows: bool) -> None:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=mark, lineterminator="\r\n" if windows else "\n")
    writer.writerows([("a", "b", "c"), *rows])
    sheet = read_csv(decode(out.getvalue().encode(), "x.csv"), "x.csv", len)
    assert sheet.mistakes == []
    assert cells_of(sheet) == [list(row) for row in rows if any(cell.strip() for cell in row)]


@given(st.text(st.sampled_from('a",\n; '), max_size=30))
def test_rows_are_those_of_the_csv_module(body: str) -> None:
    text = "a,b\n" + body
    try:
        expected = list(csv.reader(io.StringIO(text), strict=True))[1:]
    except csv.Error:
        expected = None
    sheet = read_csv(text, "x.csv", lambda names: names == ["a", "b"])
    if expected is None:
        assert any("quote" in mistake.message for mistake in sheet.mistakes)
        return
    kept = [row for row in expected if any(cell.strip() for cell in row)]
    assert cells_of(sheet) == [row for row in kept if len(row) == 2]
    assert len(sheet.mistakes) == sum(len(row) != 2 for row in kept)


@given(st.lists(st.tuples(CELLS, CELLS), max_size=4))
def test_a_cell_starts_where_its_place_says(rows: list[tuple[str, ...]]) -> None:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL).writerows([("a", "b"), *rows])
    text = out.getvalue()
    lines = text.split("\n")
    for row in read_csv(text, "x.csv", len).rows:
        for cell in row.cells.values():
            quoted = '"' + cell.value.replace('"', '""') + '"'
            rest = "\n".join([lines[cell.line - 1][cell.column - 1 :], *lines[cell.line :]])
            assert rest.startswith(quoted)


VALUES = st.recursive(
    st.none() | CELLS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(CELLS, inner, max_size=3),
    max_leaves=6,
)


@given(
    st.lists(st.dictionaries(CELLS, VALUES, max_size=4), max_size=4),
    st.booleans(),
    st.sampled_from([None, 1, "\t"]),
)
def test_json_is_read_as_the_json_module_does(
    rows: list[dict[str, object]], ascii_: bool, indent: int | str | None
) -> None:
    text = json.dumps(rows, ensure_ascii=ascii_, indent=indent)
    sheet = read_json(text, "x.json")
    assert sheet.mistakes == []
    assert [{key: cell.value for key, cell in row.cells.items()} for row in sheet.rows] == rows
    lines = text.split("\n")
    assert all(lines[row.line - 1][row.column - 1] == "{" for row in sheet.rows)


@given(st.text(st.sampled_from('[]{}",:1-.e0tn\\u '), max_size=14))
def test_what_the_json_module_refuses_is_refused(body: str) -> None:
    text = f'[{{"a": {body}}}]'
    try:
        json.loads(text, parse_constant=lambda name: json.loads("no " + name))
    except json.JSONDecodeError:
        with pytest.raises(MistakesError):
            read_json(text, "x.json")


def test_json_gives_what_csv_gives(tmp_path: Path) -> None:
    rows = [
        {"SKU": "K-1", "name": "Tarn", "price": 45.5, "was": "89", "link": "/t", "stock": 7, "kind": None,
         "colours": [{"name": "rust", "colour": "#b35838"}], "tags": ["x", {"y": True}]},
    ]  # fmt: skip
    found = products(tmp_path, json.dumps(rows, indent=2), name="products.json").pick("K-1")
    text = "sku,name,price,was,link,stock,kind,colours\nK-1,Tarn,45.5,89,/t,7,,rust:#b35838\n"
    twin = products(tmp_path, text).pick("K-1")
    assert found.place == Place("products.json", 2, 3)
    names = [name for name in ProductRow.__slots__ if name != "place"]
    assert [getattr(found, name) for name in names] == [getattr(twin, name) for name in names]


# --- mistakes --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ("K-1,Tarn,45", "products.csv:2:1: row 2: 3 cells; expected 4 as in the header"),
        (
            "K-1,Tarn,45,/t,x",
            "products.csv:2:16: row 2: 5 cells; expected 4 as in the header;"
            " a cell that holds , stands in quotes",
        ),
        (" ,Tarn,45,/t", "products.csv:2:1: row 2, sku: sku is empty"),
        ("K-1, ,45,/t", "products.csv:2:5: row 2, name: name is empty"),
        ("K-1,Tarn,,/t", "products.csv:2:10: row 2, price: price is empty"),
        (
            'K-1,"Ta\nrn",4x,/t',
            'products.csv:3:5: row 2, price: "4x" is not a price; expected a price such as 12.90',
        ),
        (
            'K-1,Tarn,"45,90",/t',
            'products.csv:2:10: row 2, price: "45,90" is not a price; expected a price such as 12.90;'
            " nearest: 45.90",
        ),
        # ISO 4217: the euro has two decimals.
        (
            "K-1,Tarn,45.999,/t",
            'products.csv:2:10: row 2, price: "45.999" has 3 decimals, EUR has 2;'
            " expected 2 decimals, and no separator of thousands",
        ),
        (
            'K-1,"Ta"rn,45,/t',
            "products.csv:2:9: row 2: text after a closing quote;"
            ' expected quotes inside a quoted cell written twice ("")',
        ),
        (
            "K-1,Tarn,0.00,/t",
            "products.csv:2:10: row 2, price: a price of 0;"
            " expected more than 0: a gift is a section of its own, without a price",
        ),
        ('K-1,"Tarn,45,/t', 'products.csv:2:5: row 2: a quote that is never closed; expected a closing "'),
    ],
)
def test_a_bad_row_is_one_mistake(tmp_path: Path, row: str, expected: str) -> None:
    assert refused(tmp_path, f"{HEAD}\n{row}\n") == [expected]


@pytest.mark.parametrize(
    ("field", "cell", "expected"),
    [
        ("was", "45", "was EUR 45 is not above the price EUR 45.00: no reduction; expected the higher"),
        ("was", "44.99", "was EUR 44.99 is not above the price EUR 45.00: no reduction; expected the higher"),
        ("was", "89 CHF", '"89 CHF" is in CHF, the prices here are in EUR; expected EUR or no code'),
        ("stock", "plenty", "'plenty' is no number of pieces; expected a whole number, sold out, in stock,"),
        ("stock", "-1", "'-1' is no number of pieces; expected a whole number, sold out, in stock,"),
        ("was_from", "2027-02-29", "'2027-02-29' is not a date; expected such as 2027-01-31"),
        ("was_until", "20270131", "'20270131' is not a date; expected such as 2027-01-31"),
        ("colours", "rust:#b3583", "'rust:#b3583' is not a colour of a product; expected name:#rrggbb"),
        ("colours", "ok:#fff;#b35838", "'#b35838' is not a colour of a product; expected name:#rrggbb"),
        ("colours", ":#b35838", "':#b35838' is not a colour of a product; expected name:#rrggbb"),
    ],
)
def test_a_bad_cell_is_one_mistake(tmp_path: Path, field: str, cell: str, expected: str) -> None:
    text = f"{field},{HEAD}\n,K-0,Fell,9,/f\n{cell},K-1,Tarn,45.00,/t\n"
    (found,) = refused(tmp_path, text)
    assert found.startswith(f"products.csv:3:1: row 3, {field}: {expected}")


def test_an_old_price_that_ends_before_it_begins(tmp_path: Path) -> None:
    text = f"{HEAD},was,was_from,was_until\nK-1,Tarn,45,/t,89,2027-02-01,2027-01-31\n"
    (found,) = refused(tmp_path, text)
    expected = "row 2, was_until: the old price held until 2027-01-31, before it began on 2027-02-01"
    assert found.startswith(f"products.csv:2:30: {expected}")


# ISO 4217 list one: no decimals for the yen, three for the Kuwaiti dinar.
@pytest.mark.parametrize(("currency", "good", "bad"), [("JPY", "4500", "45.0"), ("KWD", "4.125", "4.1255")])
def test_decimals_are_those_of_the_currency(tmp_path: Path, currency: str, good: str, bad: str) -> None:
    found = products(tmp_path, f"{HEAD}\nK-1,Tarn,{good},/t\n", currency=currency)
    assert found.pick("K-1").price == Money(Decimal(good), currency)
    assert len(refused(tmp_path, f"{HEAD}\nK-1,Tarn,{bad},/t\n", currency=currency)) == 1


def test_a_currency_out_of_use_is_one_mistake(tmp_path: Path) -> None:
    (found,) = refused(tmp_path, f"{HEAD}\nK-1,Tarn,45,/t\nK-2,Tarn,45,/t\n", currency="ERU")
    assert "currency" in found
    assert found.endswith("nearest: EUR")


@pytest.mark.parametrize("stars", ["0", "6", "4.5", "five", "-1"])
def test_stars_are_one_to_five(tmp_path: Path, stars: str) -> None:
    with pytest.raises(MistakesError) as caught:
        reviews(tmp_path, f"id,name,stars,text\nR-1,Ada,{stars},Good\n")
    expected = f"reviews.csv:2:9: row 2, stars: '{stars}' stars; expected a whole number from 1 to 5"
    assert str(caught.value) == expected


def test_a_key_written_twice_names_the_first_line(tmp_path: Path) -> None:
    found = refused(tmp_path, f"{HEAD}\nK-1,Tarn,45,/t\nK-2,Fell,9,/f\n K-1 ,Beck,3,/b\n")
    assert found == ["products.csv:4:1: row 4, sku: 'K-1' is written twice (first at line 2)"]
    one_line = '[{"sku":"K","name":"a","price":1,"link":"/"},{"sku":"K","name":"b","price":1,"link":"/"}]'
    (found_json,) = refused(tmp_path, one_line, name="products.json")
    assert "item 2, sku: 'K' is written twice (first at line 1)" in found_json


def test_all_mistakes_come_at_once_in_order(tmp_path: Path) -> None:
    found = refused(tmp_path, f'{HEAD},was\nK-1,,x,/t,\nK-1,Fell,9,/f\nK-1,Beck,9,,8\n"K')
    assert [line.split(": ")[1] for line in found] == [
        "row 2, name", "row 2, price", "row 3", "row 4, sku", "row 4, link", "row 4, was", "row 5",
    ]  # fmt: skip


# --- headers ---------------------------------------------------------------------------------------------


def test_a_mapped_header_that_is_missing_names_the_nearest(tmp_path: Path) -> None:
    found = refused(tmp_path, "sku;name;Preis;link\nK-1;Tarn;45;/t\n", {"price": "Pries"})
    expected = "products.columns.price: no column 'Pries' in products.csv; nearest: Preis"
    assert found == [f"products.csv:1:1: {expected}"]


def test_a_required_column_that_is_missing_is_said_once(tmp_path: Path) -> None:
    found = refused(tmp_path, "sku,name,prise,link\nK-1,Tarn,45,/t\nK-2,Fell,9,/f\n")
    assert found == [
        "products.csv:1:1: no column for price; expected a column price, or its header under"
        " products.columns in brand.yaml; nearest: prise"
    ]


def test_two_fields_under_one_header(tmp_path: Path) -> None:
    text = "sku,name,Price,link\nK-1,Tarn,45,/t\n"
    found = refused(tmp_path, text, {"price": "Price", "was": "Price"})
    assert len(found) == 1
    assert "products.columns.was: price and was stand under one header, 'Price'" in found[0]
    # A header that is mapped to one field is not read for the field of its own name too.
    named = products(tmp_path, "sku,kind,price,link\nK-1,Tarn,45,/t\n", {"name": "kind"}).pick("K-1")
    assert (named.name, named.kind) == ("Tarn", "")


def test_a_field_that_is_none(tmp_path: Path) -> None:
    (found,) = refused(tmp_path, f"{HEAD}\nK-1,Tarn,45,/t\n", {"pric": "price"})
    assert "products.columns.pric: no field pric in a product" in found
    assert found.endswith("nearest: price")


@pytest.mark.parametrize("twin", ["Price", "price"])
def test_a_header_written_twice(tmp_path: Path, twin: str) -> None:
    (found,) = refused(tmp_path, f"sku,name,price,link,{twin}\nK-1,Tarn,45,/t,4\n")
    expected = f"header: '{twin}' is a second column for price (first at column 10)"
    assert found.startswith(f"products.csv:1:21: {expected}")


def test_doubled_headers_that_nothing_reads_do_no_harm(tmp_path: Path) -> None:
    assert len(products(tmp_path, f"{HEAD},Tag,Tag,,\nK-1,Tarn,45,/t,a,b,c,d\n")) == 1


def test_mistakes_in_the_columns_stand_in_the_brand(tmp_path: Path) -> None:
    text = b"products:\n  file: products.csv\n  columns:\n    price: Pries\n    pric: x\n"
    doc = parse_yaml(text, "brand.yaml")
    at = child(doc.root, "products")
    (tmp_path / "products.csv").write_text("sku,name,Preis,link\nK-1,Tarn,45,/t\n")
    columns = Columns(file="products.csv", columns={"price": "Pries", "pric": "x"})
    with pytest.raises(MistakesError) as caught:
        load_products(columns, tmp_path, tmp_path, "EUR", None, at=at)
    assert [str(mistake.place) for mistake in caught.value.mistakes] == ["brand.yaml:4:12", "brand.yaml:5:5"]
    with pytest.raises(MistakesError) as caught:
        load_products(Columns(file="product.csv"), tmp_path, tmp_path, "EUR", None, at=at)
    where, message = Place("brand.yaml", 2, 9), "no such file: product.csv"
    assert caught.value.mistakes == (Mistake(where, "products.file", message, "", "products.csv"),)


# --- files -----------------------------------------------------------------------------------------------


def test_what_is_not_text_is_refused_with_its_place(tmp_path: Path) -> None:
    found = refused(tmp_path, f"{HEAD}\nKé-1,Tär\0n,45,/t\n")
    assert found == ["products.csv:2:9: a NUL byte; expected text"]
    latin = f"{HEAD}\r\nK€,T".encode() + b"\xe4rn,45,/t\r\n"
    assert refused(tmp_path, latin) == ["products.csv:2:5: not UTF-8; expected a file saved as UTF-8"]
    wide = refused(tmp_path, HEAD.encode("utf-16"))
    assert wide == ["products.csv:1:1: not UTF-8; expected a file saved as UTF-8"]
    assert refused(tmp_path, b"\xef\xbb\xbf\r\n") == ["products.csv:1:1: the file is empty"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('{"sku": "K-1"}', "1:1: no list"),
        ('[\n  {"sku": "K-1", "sku": "K-2"}]', "2:18: item 1: 'sku' is written twice (first at line 2)"),
        ('[{"sku": "K-1"},]', "1:17: item 2: JSON syntax: no value"),
        ('[{"sku": "K\n-1"}]', "1:10: item 1: JSON syntax: text that is never closed"),
        ('[{"sku": "\\x"}]', "1:11: item 1: JSON syntax: Invalid \\escape"),
        ('[{"sku": "\\u0000"}]', "1:10: item 1: the text holds U+0000, which is no character"),
        ('[{"sku": "\\ud800"}]', "1:10: item 1: the text holds U+D800, which is no character"),
        ('[{"sku": 01}]', "1:10: item 1: JSON syntax: no value"),
        ("[7]", "1:2: item 1: not an object"),
        ("[] []", "1:4: text after the end of the list"),
        ("[" + "[" * 5000, "nested more than 8 levels deep"),
        ('[{"sku":"K","name":["a"],"price":1,"link":"/"}]', "1:20: item 1, name: a list where text"),
    ],
)
def test_json_mistakes(tmp_path: Path, text: str, expected: str) -> None:
    assert any(expected in line for line in refused(tmp_path, text, name="products.json"))


def test_a_file_too_large_is_refused(tmp_path: Path) -> None:
    with open(tmp_path / "products.csv", "wb") as file:
        file.truncate(load.MAX_BYTES + 1)
    with pytest.raises(MistakesError, match="has 20,000,001 bytes, more than the 20,000,000 allowed"):
        load_products(Columns(file="products.csv"), tmp_path, tmp_path, "EUR", None)


def test_files_stay_inside_the_workspace(tmp_path: Path) -> None:
    root = tmp_path / "shop"
    root.mkdir()
    (tmp_path / "products.csv").write_text(f"{HEAD}\n")
    (root / "link.csv").symlink_to(tmp_path / "products.csv")
    os.mkfifo(root / "pipe.csv")
    (root / "folder.csv").mkdir()
    for name, message in {
        "../products.csv": "leaves the workspace",
        "link.csv": "passes through a link",
        str(tmp_path / "products.csv"): "is an absolute path",
        "pipe.csv": "is not a file",
        "folder.csv": "is not a file",
        "products.xlsx": "is not a file of products",
        "none.csv": "no such file",
        "x" * 5000 + ".csv": "name too long",
    }.items():
        with pytest.raises(MistakesError, match=f"(?i){message}") as caught:
            load_products(Columns(file=name), root, root, "EUR", None)
        assert len(caught.value.mistakes) == 1


# --- cache -----------------------------------------------------------------------------------------------

FULL = f"{HEAD},was,was_until,colours\nK-1,Tarn,45,/t,89,2027-01-31,rust:#b35838\nK-2,Fell,9,/f,,,\n"


def test_warm_equals_cold(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache = Cache(tmp_path / "cache")
    cold = products(tmp_path, FULL, cache=cache)
    monkeypatch.setattr("handbill.catalogue.check.check", None)  # a second check would fail
    warm = products(tmp_path, FULL, cache=cache)
    assert warm == cold
    assert [warm.get(key) for key in warm.keys()] == [cold.get(key) for key in cold.keys()]  # noqa: SIM118


def test_a_change_of_file_columns_or_currency_is_seen(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "cache")
    assert products(tmp_path, FULL, cache=cache).pick("K-1").price.currency == "EUR"
    assert products(tmp_path, FULL, cache=cache, currency="CHF").pick("K-1").price.currency == "CHF"
    assert products(tmp_path, FULL.replace("Tarn", "Beck"), cache=cache).pick("K-1").name == "Beck"
    assert products(tmp_path, FULL, {"alt": "colours"}, cache=cache).pick("K-1").alt == "rust:#b35838"


def test_a_damaged_entry_is_read_anew(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "cache")
    cold = products(tmp_path, FULL, cache=cache)
    for entry in (path for path in cache.folder.rglob("*") if path.is_file()):
        entry.write_bytes(entry.read_bytes()[:-1] + b"?")
    assert products(tmp_path, FULL, cache=cache) == cold


def test_a_warm_load_imports_no_parser_and_no_checker(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "cache")
    products(tmp_path, FULL, cache=cache)
    code = """
import sys
from pathlib import Path
from types import SimpleNamespace
from handbill.base.cache import Cache
from handbill.catalogue import load_products
here = Path(sys.argv[1])
columns = SimpleNamespace(file="products.csv", columns={})
assert load_products(columns, here, here, "EUR", Cache(here / "cache")).pick("K-2").name == "Fell"
print(*sorted({"csv", "json", "yaml", "pydantic", "datetime"} & set(sys.modules)))
"""
    run = [sys.executable, "-c", code, str(tmp_path)]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    done = subprocess.run(run, check=True, capture_output=True, text=True, env=env)
    assert done.stdout.split() == []


def test_rows_and_models_name_the_same_fields() -> None:
    for row, model in ((ProductRow, Product), (ReviewRow, Review)):
        fields = [info.alias or name for name, info in model.model_fields.items()]
        own = {"place": "place_of_person"} if model is Review else {}
        assert [own.get(name, name) for name in fields] == [name for name in row.__slots__ if name != "place"]
        assert model.model_json_schema()["required"]


def test_a_row_is_told_where_it_stands_and_for_itself_alone(shop: Shop) -> None:
    """A wrong picture is the shop's mistake; what the mail then lacks is none of the campaign's."""
    path = shop.campaign(
        "  - {block: product-stack, products: [L-100]}\n", "subject: '${offer.best_percent} off'\n"
    )
    shop.change("brands/pellow/products.csv", "wren.png", "wrn.png")
    assert shop.mistakes(path) == [
        "brands/pellow/products.csv:2:1: product L-100, picture: no picture wrn.png "
        "in brands/pellow/pictures; nearest: wren.png"
    ]
    shop.change("brands/pellow/products.csv", "40,80", "much,80")
    (line,) = shop.mistakes(path)
    assert line.startswith("brands/pellow/products.csv:2:17: row 2, price: ")
