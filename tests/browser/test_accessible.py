"""The check itself: what it must see, and what it must let pass."""

from playwright.sync_api import Browser

from tests.browser.accessible import violations

SOUND = "<html lang=en><head><title>A page</title></head><body><main><h1>Heading</h1>{}</main></body></html>"


def test_faults_of_a_page_are_told_by_their_rule_and_a_sound_page_has_none(chromium: Browser) -> None:
    page = chromium.new_page()
    page.set_content(SOUND.format("<p>Read.</p>"))
    assert violations(page) == []
    page.set_content(SOUND.format('<img src="data:,"><p style="color:#ccc;background:#fff">Pale</p>'))
    assert {rule["id"] for rule in violations(page)} == {"image-alt", "color-contrast"}
    assert all(rule["nodes"][0]["html"] for rule in violations(page))
    page.close()
