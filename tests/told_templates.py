"""The test client is told of a page's own template and context, not of each part of the page.

Django tells it of every part and field and copies the context each time; a page has hundreds, and
that was a good part of what asking for a page cost.
"""

from django.template import Context, RequestContext, Template
from django.test.signals import template_rendered
from django.utils.safestring import SafeString


def tell_of_pages_only() -> None:
    """Take the place of what Django puts into templates for tests, which takes it out again."""
    Template._render = _rendered  # type: ignore[attr-defined]


def _rendered(self: Template, context: Context) -> SafeString:
    if isinstance(context, RequestContext) and context.template is self:
        template_rendered.send(sender=self, template=self, context=context)
    return self.nodelist.render(context)
