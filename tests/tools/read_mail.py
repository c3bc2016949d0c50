"""Reads mails as a stranger would, and prints what it found as one JSON array.

    read_mail.py FILE...

It uses Python's own `email` and `html.parser` packages, which share no code with the program under
test. `defects` and `html_problems` are empty for a clean mail. It knows nothing of what a mail should
say: the tests compare.
"""

import email
import email.policy
import html.parser
import json
import pathlib
import re
import sys

NAMED = [
    "Auto-Submitted",
    "List-Unsubscribe",
    "List-Unsubscribe-Post",
    "X-Auto-Response-Suppress",
    "In-Reply-To",
    "References",
    "Reply-To",
]
# Elements without an end tag: HTML Living Standard, section 13.1.2, "Void elements".
VOID = set("area base br col embed hr img input link meta source track wbr".split())
# RFC 5322, section 2.1.1: at most 998 characters a line, the CRLF not counted.
LONGEST_LINE = 998


class TagBalance(html.parser.HTMLParser):
    """Wants every element closed, in the order opposite to opening; stricter than HTML asks."""

    def __init__(self):
        super().__init__()
        self.open = []
        self.problems = []

    def handle_starttag(self, tag, attrs):
        if tag not in VOID:
            self.open.append((tag, self.getpos()[0]))

    def handle_startendtag(self, tag, attrs):
        if tag not in VOID:
            self.problems.append(f"line {self.getpos()[0]}: <{tag}/> does not close <{tag}>")

    def handle_endtag(self, tag):
        line = self.getpos()[0]
        if tag not in [name for name, _ in self.open]:
            self.problems.append(f"line {line}: </{tag}> closes nothing")
            return
        while self.open:
            name, began = self.open.pop()
            if name == tag:
                return
            self.problems.append(f"line {began}: <{name}> is not closed before </{tag}>")


def html_problems(text):
    balance = TagBalance()
    balance.feed(text)
    balance.close()
    left = [f"line {line}: <{tag}> is never closed" for tag, line in balance.open]
    return balance.problems + left


def raw_defects(raw):
    """What a parser forgives: RFC 5322 sections 2.1.1 and 2.3 for lines, 2.2 for headers, 3.6 for counts."""
    found = []
    if re.search(rb"(?<!\r)\n|\r(?!\n)", raw):
        found.append("a line does not end in CRLF")
    if any(len(line) > LONGEST_LINE for line in re.split(rb"\r?\n", raw)):
        found.append(f"a line is longer than {LONGEST_LINE} bytes")
    head = re.split(rb"\r?\n\r?\n", raw, maxsplit=1)[0]
    if not head.isascii():
        found.append("a header has a byte that is not ASCII")
    names = [name.lower() for name in re.findall(rb"(?m)^([!-9;-~]+):", head)]
    for name in (b"date", b"from"):
        if name not in names:
            found.append(f"no {name.decode()} header")
    for name in (b"date", b"from", b"to", b"cc", b"subject", b"message-id", b"reply-to"):
        if names.count(name) > 1:
            found.append(f"more than one {name.decode()} header")
    return found


def parsed_defects(mail):
    found = []
    for part in mail.walk():
        found += [type(defect).__name__ for defect in part.defects]
        for name, value in part.items():
            found += [f"{name}: {type(defect).__name__}" for defect in value.defects]
        if not part.is_multipart():
            # Only decoding tells whether the transfer encoding and the character set hold.
            try:
                before = len(part.defects)
                payload = part.get_payload(decode=True)
                found += [type(defect).__name__ for defect in part.defects[before:]]
                if part.get_content_maintype() == "text":
                    payload.decode(part.get_content_charset("us-ascii"))
            except (LookupError, UnicodeDecodeError) as error:
                found.append(f"{part.get_content_type()}: {error}")
    return found


def addresses(mail, name):
    return [str(one) for header in mail.get_all(name, []) for one in header.addresses]


def body(mail, kind):
    """The part's text, with the line ends of the wire (CRLF) turned into plain ones."""
    part = mail.get_body((kind,))
    if part is None:
        return None
    try:
        content = part.get_content()
    except LookupError:
        # A character set that does not exist, which is among the defects already.
        content = part.get_payload(decode=True).decode("ascii", "replace")
    return content.replace("\r\n", "\n")


def text(mail, name):
    return str(mail[name]) if name in mail else None


def calendars(mail):
    """Each calendar in it: how its head names it, and its text with the line ends of the wire."""
    kinds = ("text/calendar", "application/ics")
    found = [part for part in mail.walk() if part.get_content_type() in kinds]
    return [
        {
            "content_type": part.get_content_type(),
            "method": part.get_param("method"),
            "charset": part.get_content_charset(),
            "filename": part.get_filename(),
            "text": part.get_payload(decode=True).decode("utf-8", "replace"),
        }
        for part in found
    ]


def read(raw):
    mail = email.message_from_bytes(raw, policy=email.policy.default)
    defects = raw_defects(raw) + parsed_defects(mail)
    page = body(mail, "html")
    return {
        "from": addresses(mail, "From"),
        "to": addresses(mail, "To"),
        "cc": addresses(mail, "Cc"),
        "subject": text(mail, "Subject"),
        "date": mail["Date"].datetime.isoformat() if mail["Date"] and mail["Date"].datetime else None,
        "message_id": text(mail, "Message-ID"),
        "headers": {name: text(mail, name) for name in NAMED if name in mail},
        "content_types": [part.get_content_type() for part in mail.walk()],
        "attachments": [part.get_filename() for part in mail.iter_attachments()]
        if mail.is_multipart()
        else [],
        "calendars": calendars(mail),
        "text": body(mail, "plain"),
        "html": page,
        "html_problems": html_problems(page) if page is not None else [],
        "defects": defects,
    }


def main():
    if len(sys.argv) < 2 or sys.argv[1].startswith("-"):
        sys.exit(__doc__)
    mails = [read(pathlib.Path(name).read_bytes()) for name in sys.argv[1:]]
    json.dump(mails, sys.stdout, indent=2)
    print()


if __name__ == "__main__":
    main()
