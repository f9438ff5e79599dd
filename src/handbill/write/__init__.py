"""Writing what leaves the shop: message headers, flowed text, the `.eml`."""
