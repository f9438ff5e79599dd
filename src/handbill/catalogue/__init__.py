"""A shop's products and reviews. Enters: CSV or JSON files; leaves: checked rows by key, or every mistake."""

from handbill.catalogue.load import load_products, load_reviews
from handbill.catalogue.rows import Catalogue, ProductRow, ReviewRow

__all__ = ["Catalogue", "ProductRow", "ReviewRow", "load_products", "load_reviews"]
