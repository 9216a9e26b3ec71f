"""The one printable page: template and style. No script, no picture from elsewhere, no address.

Contrast at least 4.5:1 for words (WCAG 2.2, 1.4.3); 320 px without scrolling sideways (1.4.10), where a table's rows become
blocks with the head before each cell; A4 with the first page by itself.
"""

from typing import Final

STYLE: Final = """
:root { --ink: #1f1f1f; --soft: #4a4a4a; --line: #8a8a8a; --band: #efefef; }
* { box-sizing: border-box; }
svg * { stroke-linejoin: round; stroke-linecap: butt; }
body { margin: 0; background: #ffffff; color: var(--ink); font: 1rem/1.45 Georgia, "Liberation Serif", serif; }
main { max-width: 54rem; margin: 0 auto; padding: 1rem; overflow-wrap: break-word; }
h1, h2, th, caption, figcaption, svg text { font-family: "Liberation Sans", Arial, sans-serif; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 0.5rem 0 0; }
h2 { font-size: 1.15rem; margin: 1.6rem 0 0.4rem; border-bottom: 2px solid var(--ink); }
p { margin: 0 0 0.6rem; }
.term, .how, figcaption, footer { color: var(--soft); }
.how { font-size: 0.85rem; }
.summary p { font-size: 1.12rem; } .summary .how { font-size: 0.85rem; }
ol { margin: 0; padding-left: 1.4rem; }
ol.change li { font-size: 1.12rem; margin-bottom: 0.6rem; }
a { color: var(--ink); } a.method { font-weight: 400; }
table { width: 100%; border-collapse: collapse; margin: 0.8rem 0; font-size: 0.9rem; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: 600; font-size: 0.9rem; padding-bottom: 0.25rem; }
th, td { text-align: left; vertical-align: top; padding: 0.2rem 0.5rem 0.2rem 0; border-bottom: 1px solid var(--line); }
thead th { background: var(--band); font-size: 0.8rem; }
tbody th { font-weight: 400; }
section { display: flow-root; }
.plots { float: right; width: 45%; margin-left: 1.2rem; }
figure { margin: 0.3rem 0 0.8rem; }
table { clear: both; }
figure svg { display: block; width: 100%; height: auto; }
figcaption { font-size: 0.85rem; }
dt { font-weight: 600; } dd { margin: 0 0 0.4rem; } .notes { font-size: 0.85rem; }
footer { margin-top: 1.5rem; font-size: 0.85rem; }
@media screen and (max-width: 40rem) {
  .plots { float: none; width: auto; margin: 0; }
  table, caption, tbody, tr, th, td { display: block; } thead { display: none; }
  tr { border-bottom: 2px solid var(--line); padding: 0.3rem 0; } th, td { border: 0; padding: 0; }
  tbody th { font-weight: 600; } td::before { content: attr(data-head) ": "; color: var(--soft); }
}
@page { size: A4; margin: 14mm 15mm; }
@media print {
  html { font-size: 9.5pt; } body { line-height: 1.25; } main { max-width: none; padding: 0; }
  .summary { break-after: page; }
  .summary p, ol.change li { font-size: 13pt; line-height: 1.4; margin-bottom: 0.6rem; }
  .summary .how { font-size: 0.85rem; line-height: 1.25; } h1 { font-size: 20pt; }
  .summary h2 { font-size: 14pt; margin-top: 1.2rem; }
  h2 { margin: 0.5rem 0 0.25rem; } h2, dt { break-after: avoid; } p { margin-bottom: 0.25rem; }
  table, tr, figure, dd, dt, .lead, .whole { break-inside: avoid; }
  table { margin: 0.4rem 0; } th, td { padding: 0.08rem 0.4rem 0.08rem 0; } a { text-decoration: none; }
  figure { margin: 0.2rem 0; } .notes { font-size: 8pt; line-height: 1.25; columns: 2; }
}
"""

TEMPLATE: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{{ report.title }}, {{ report.term }}</title>
<style>{{ style|safe }}</style>
</head>
<body>
<main>
<div class="summary">
<h1>{{ report.title }}</h1>
<p class="term">{{ report.term }}</p>
{% for sentence in report.sentences %}
<p>{{ sentence|together }}</p>
{% endfor %}
<h2>{{ report.change.title }}</h2>
{% if report.change.lines|length > 1 %}
<ol class="change">
{% for line in report.change.lines %}
<li>{{ line|together }}</li>
{% endfor %}
</ol>
{% else %}
<p>{{ report.change.lines[0]|together }}</p>
{% endif %}
{{ how(report.change.notes) }}
{% if without %}
<p class="how">{{ without }}</p>
{% endif %}
</div>
{% for section in report.sections %}
<section id="{{ section.key }}"{% if not section.tables %} class="whole"{% endif %}>
<div class="lead">
<h2>{{ section.title }}</h2>
{% if section.pictures|selectattr("key", "in", plots)|list %}
<div class="plots">
{% for picture in section.pictures if picture.key in plots %}
<figure>
<div role="img" aria-label="{{ picture.alt }}">{{ plots[picture.key]|safe }}</div>
<figcaption>{{ picture.caption|together }} {{ method(picture.note) }}</figcaption>
</figure>
{% endfor %}
</div>
{% endif %}
{% for line in section.lines %}
<p>{{ line|together }}</p>
{% endfor %}
{{ how(section.notes) }}
</div>
{% for table in section.tables %}
<table role="table">
<caption>{{ table.caption }} {{ method(table.note) }}</caption>
<thead role="rowgroup"><tr role="row">
{%- for head in table.head %}<th role="columnheader" scope="col">{{ head }}</th>{% endfor %}</tr></thead>
<tbody role="rowgroup">
{% for row in table.rows %}
<tr role="row">{% for cell in row %}{% if loop.first %}<th role="rowheader" scope="row">{{ cell }}</th>{% else -%}
<td role="cell" data-head="{{ table.head[loop.index0] }}">{{ cell }}</td>{% endif %}{% endfor %}</tr>
{% endfor %}
</tbody>
</table>
{% endfor %}
</section>
{% endfor %}
<section id="notes">
<h2>How it is worked out</h2>
<dl class="notes">
{% for key, note in notes.items() %}
<dt id="note-{{ key }}">[{{ loop.index }}] {{ note.title }}</dt>
<dd>{{ note.text }}</dd>
{% endfor %}
</dl>
</section>
<footer><p>{{ advisory }}</p></footer>
</main>
</body>
</html>
"""

HOW: Final = """{% macro method(key) -%}
<a class="method" href="#note-{{ key }}" aria-label="method: {{ notes[key].title }}">[{{ numbers[key] }}]</a>
{%- endmacro %}
{% macro how(keys) %}
<p class="how">How it is worked out:
{% for key in keys %}
<a href="#note-{{ key }}">{{ notes[key].title }} [{{ numbers[key] }}]</a>{{ ", " if not loop.last }}
{% endfor %}</p>
{%- endmacro %}"""
