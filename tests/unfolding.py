"""Parts of a page that fold."""

from playwright.sync_api import Page


def unfold(page: Page, part: str) -> None:
    """Open the part of this name, as a person does."""
    page.locator("details:not([open]) > summary", has_text=part).first.click()
