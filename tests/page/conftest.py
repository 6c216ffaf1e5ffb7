"""What every test of the page may ask for."""

from tests.page.browser import chromium, complaints, open_page, page
from tests.page.running import running, start

__all__ = ["chromium", "complaints", "open_page", "page", "running", "start"]
