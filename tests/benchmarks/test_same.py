"""The baseline is honest: the mail it makes is the mail handbill makes, after normalising (see normal.py).

Source: the outputs of two inliners that are not ours (premailer, css-inline) and the standard library's
EmailMessage, read back by html5lib and the standard library's parser.
"""

from __future__ import annotations

import pytest

from handbill.resolve.mail import Mail

from . import normal
from .baseline import Baseline
from .demo import load_mail, next_variant
from .subject import Press


@pytest.fixture(scope="module")
def mail() -> Mail:
    return load_mail()


@pytest.fixture(scope="module")
def press(mail: Mail) -> Press:
    return Press(mail)


@pytest.mark.parametrize("inliner", ["premailer", "css-inline"])
def test_both_make_the_same_mail(mail: Mail, press: Press, inliner: str) -> None:
    baseline = Baseline(mail)
    theirs, ours = baseline.make(baseline.contexts(mail), inliner), press.every(mail)
    assert normal.page(theirs.html.decode()) == normal.page(ours.html.decode())
    assert normal.text(theirs.text.decode()) == normal.text(ours.text.decode())
    assert normal.message(theirs.eml) == normal.message(ours.eml)


def test_kept_sections_make_the_same_bytes(mail: Mail, press: Press) -> None:
    every = press.every(mail)
    for number in range(len(mail.sections)):
        assert press.next(next_variant(mail, number)) == every
    assert press.every(next_variant(mail)) == every


def test_normalising_keeps_what_matters() -> None:
    assert normal.page('<p style="color:red">a</p>') != normal.page('<p style="color:blue">a</p>')
    assert normal.page('<p align="left">a</p>') != normal.page("<p>a</p>")
    assert normal.page("<p>a</p>") != normal.page("<p>b</p>")
    assert normal.page('<p style="padding:1px 2px">a</p>') == normal.page(
        '<p style="padding-left:2px;padding-right:2px;padding-bottom:1px;padding-top:1px">a</p>'
    )
