"""The one sheet that every page is printed on: no script, no picture, nothing from elsewhere.

Colours are chosen for a contrast of at least 4.5:1 for words and 3:1 for edges, in light and in dark (WCAG 2.2, 1.4.3 and
1.4.11); a button is higher than 44 px (2.5.5); everything fits into 320 px without scrolling sideways (1.4.10).
"""

from base64 import b64encode
from hashlib import sha256

from jinja2 import DictLoader, Environment, StrictUndefined

from watchdog.page.views import View

STYLE = """
:root { color-scheme: light dark; --paper: #faf8f4; --ink: #1c2126; --quiet: #4b545c; --line: #767d83; --press: #7c2d12;
  --on-press: #ffffff; }
@media (prefers-color-scheme: dark) { :root { --paper: #15181b; --ink: #eeeae3; --quiet: #b4b9bd; --line: #868d93;
  --press: #f3b583; --on-press: #1e1207; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 1.125rem/1.5 system-ui, sans-serif; }
main { max-width: 34rem; margin: 0 auto; padding: 1rem; overflow-wrap: anywhere; }
h1 { font-size: 1.5rem; line-height: 1.25; margin: 0.5rem 0 1rem; }
p { margin: 0 0 1rem; }
.first { font-size: 1.25rem; font-weight: 600; }
dl { margin: 0 0 1rem; border-top: 1px solid var(--line); }
dt { color: var(--quiet); padding-top: 0.5rem; }
dd { margin: 0; padding-bottom: 0.5rem; border-bottom: 1px solid var(--line); }
button { display: block; width: 100%; min-height: 3.5rem; margin: 0 0 0.75rem; padding: 0.5rem 1rem; font: inherit;
  font-weight: 600; color: var(--on-press); background: var(--press); border: 2px solid var(--press); border-radius: 0.5rem;
  touch-action: manipulation; }
button:focus-visible { outline: 3px solid var(--ink); outline-offset: 3px; }
small { display: block; font-size: 1rem; color: var(--quiet); }
"""

POLICY = "; ".join(
    (
        "default-src 'none'",
        f"style-src 'sha256-{b64encode(sha256(STYLE.encode()).digest()).decode()}'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
"""Content-Security-Policy: of all that a page can load, this one style and nothing else"""

# In the order in which it is read: what it is, what to do, the button, then the rest.
_SHEET = """<!DOCTYPE html>
<html lang="{{ lang }}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex, nofollow">
<title>{{ view.heading }}</title>
<style>{{ style|safe }}</style>
</head>
<body>
<main>
<h1>{{ view.heading }}</h1>
{% for line in view.lines %}
<p{% if loop.first %} class="first"{% endif %}>{{ line }}</p>
{% endfor %}
{% if view.buttons %}
<form method="post" accept-charset="utf-8">
{% for value, label in view.buttons %}
<button type="submit" name="answer" value="{{ value }}">{{ label }}</button>
{% endfor %}
</form>
{% endif %}
{% if view.note %}
<p>{{ view.note }}</p>
{% endif %}
{% if view.facts %}
<dl>
{% for label, fact in view.facts %}
<dt>{{ label }}</dt>
<dd>{{ fact }}</dd>
{% endfor %}
</dl>
{% endif %}
<small>{{ advisory }}</small>
</main>
</body>
</html>
"""

_ENVIRONMENT = Environment(
    loader=DictLoader({"sheet": _SHEET}),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def sheet(view: View, lang: str, advisory: str) -> str:
    """The page for `view`. Whatever stands in it is text: marks in it are escaped."""
    return _ENVIRONMENT.get_template("sheet").render(view=view, lang=lang, advisory=advisory, style=STYLE)
