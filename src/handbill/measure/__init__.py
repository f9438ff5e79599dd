"""Measuring without a browser. Enters: a `Document`; leaves: boxes in CSS px, and readings taken from
them."""

from handbill.measure.layout import DESKTOP, PHONE, PHONES, Box, Layout, Screen, SectionBox, band, measure
from handbill.measure.readings import Button, Link, Picture, Readings, Sighting, Text, readings

__all__ = [
    "DESKTOP", "PHONE", "PHONES", "Box", "Button", "Layout", "Link", "Picture", "Readings", "Screen",
    "SectionBox", "Sighting", "Text", "band", "measure", "readings",
]  # fmt: skip
