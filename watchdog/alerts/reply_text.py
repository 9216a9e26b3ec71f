"""The text of a mail, whatever mail program made it: parts, character sets, HTML.

Every step is bounded and takes time in proportion to the mail's length, since anybody can write one: no pattern here can be
made to look at a letter more than a few times. Attached files and attached mails are passed over.
"""

import re
from collections.abc import Iterator
from email.errors import MessageError
from email.header import decode_header, make_header
from email.message import Message
from html import unescape

MOST_PARTS = 50
"""parts looked at; a reply with a signature and some pictures has ten"""
MOST_DEPTH = 8
"""parts within parts"""
HIDDEN = dict.fromkeys([0xAD, 0x200B, 0x200C, 0x200D, 0x2060, 0xFEFF])
"""letters that nobody sees and that mail programs put where a long word may be broken"""

_TAG = re.compile(r"<(/?)([A-Za-z][A-Za-z0-9]*)[^<>]*>|<[!?][^<>]*>")
_BLOCKS = frozenset(
    {"address", "blockquote", "body", "br", "div", "dt", "h1", "h2", "h3", "h4", "li", "p", "pre", "table", "tr"}
)
_UNSEEN = frozenset({"head", "script", "style", "title"})
RULE = "________"
"""what a ruled line of HTML becomes: some mail programs set the quoted mail apart by nothing else"""


def header(mail: Message, name: str) -> str:
    """The header `name` as people read it; '' where there is none."""
    written = mail.get(name)
    if written is None:
        return ""
    try:
        return str(make_header(decode_header(str(written)))).strip()
    except (ValueError, LookupError, MessageError):  # no such character set, or letters that it has not
        return str(written).strip()


def texts(mail: Message) -> tuple[str, ...]:
    """The readable parts in their order: first those of plain text, then the HTML ones as plain text."""
    plain, made = [], []
    for part in _parts(mail, MOST_DEPTH):
        kind = part.get_content_type()
        if kind == "text/html":
            made.append(text_of_html(_decoded(part)))
        elif kind == "text/plain":
            plain.append(_decoded(part))
    return tuple(text.translate(HIDDEN).replace("\xa0", " ") for text in (*plain, *made))


def text_of_html(html: str) -> str:
    """`html` as plain text; each line inside a quoted block begins with '> '."""
    pieces: list[str] = []
    at = quoted = unseen = 0

    def put(text: str) -> None:
        if not unseen:
            text = " ".join(unescape(text).split("\n"))
            pieces.append(text)

    for tag in _TAG.finditer(html):
        put(html[at : tag.start()])
        at = tag.end()
        ends, name = bool(tag[1]), (tag[2] or "").lower()
        if name in _UNSEEN:
            unseen = max(0, unseen + (-1 if ends else 1))
        elif name == "blockquote":
            quoted = max(0, quoted + (-1 if ends else 1))
        if name == "hr":
            pieces.append(f"\n{RULE}\n")
        elif name in _BLOCKS:
            pieces.append("\n> " if quoted else "\n")
    put(html[at:])
    return "".join(pieces)


def _parts(mail: Message, depth: int) -> Iterator[Message]:
    """The parts that can be text, without recursion: a mail can be made of parts within parts without end."""
    waiting: list[tuple[Message, int]] = [(mail, depth)]
    looked = 0
    while waiting and looked < MOST_PARTS:
        part, left = waiting.pop()
        looked += 1
        if part.get_content_maintype() == "multipart":
            inside = part.get_payload()
            if isinstance(inside, list) and left:
                waiting += [(one, left - 1) for one in reversed(inside[:MOST_PARTS]) if isinstance(one, Message)]
        elif part.get_content_disposition() != "attachment":
            yield part


def _decoded(part: Message) -> str:
    """The part's text; letters that do not fit its character set are replaced."""
    payload = part.get_payload(decode=True)
    if not isinstance(payload, bytes):
        return ""
    try:
        return payload.decode(part.get_content_charset() or "utf-8", "replace")
    except (LookupError, ValueError):  # no such character set, or one that is no text
        return payload.decode("latin-1")
