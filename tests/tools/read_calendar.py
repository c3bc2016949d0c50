"""Reads calendars with the package `icalendar`, which shares no code with the program under test, and
prints what it found as one JSON array, in the shape that read_calendar.mjs prints.

    read_calendar.py FILE...

`problems` is of this reader alone: what a parser forgives, by the words of RFC 5545 and RFC 5546. It is
empty for a clean calendar. It knows nothing of what a calendar should say: the tests compare.
"""

import datetime
import json
import pathlib
import re
import sys

import icalendar

# RFC 5545, section 3.1: at most 75 octets a line, the line break not counted.
LONGEST_LINE = 75
# RFC 5545, sections 3.6 and 3.6.1: what stands in a calendar, and in an event, once.
ONCE_IN_CALENDAR = ("PRODID", "VERSION")
ONCE_IN_EVENT = ("UID", "DTSTAMP", "DTSTART")


def raw_problems(raw):
    found = []
    if re.search(rb"(?<!\r)\n|\r(?!\n)", raw):
        found.append("a line does not end in CRLF")
    if not raw.endswith(b"\r\n"):
        found.append("the last line does not end")
    lines = raw.split(b"\r\n")
    if any(len(line) > LONGEST_LINE for line in lines):
        found.append(f"a line is longer than {LONGEST_LINE} octets")
    for line in lines:
        try:
            if re.search(r"[\x00-\x08\x0a-\x1f\x7f-\x9f]", line.decode()):
                found.append("a control character")
        except UnicodeDecodeError:
            found.append("a character is torn")
    return found


def component_problems(calendar):
    found = []
    for component in calendar.walk():
        found += [f"{component.name} {name}: {error}" for name, error in component.errors]
    for name in ONCE_IN_CALENDAR:
        if not isinstance(calendar.get(name), icalendar.vText):
            found.append(f"{name} is not there once")
    if not calendar.subcomponents:
        found.append("nothing is in it")
    uids = []
    for event in calendar.walk("VEVENT"):
        for name in ONCE_IN_EVENT:
            if name not in event or isinstance(event[name], list):
                found.append(f"{name} is not there once")
        # RFC 5546, sections 3.2.1 and 3.2.5: who sends it stands in each entry.
        if "METHOD" in calendar and "ORGANIZER" not in event:
            found.append("ORGANIZER is missing")
        if "DTEND" in event and "DTSTART" in event and event["DTEND"].dt <= event["DTSTART"].dt:
            found.append("it ends before it begins")
        uids.append(str(event.get("UID")))
    if len(uids) != len(set(uids)):
        found.append("two entries have one UID")
    return found


def date(event, name):
    """As ISO 8601 writes it; a moment in UTC ends in Z."""
    found = event[name].dt
    if isinstance(found, datetime.datetime):
        return found.isoformat().replace("+00:00", "Z")
    return found.isoformat()


def text(component, name):
    return str(component[name]) if name in component else None


def whole_days(event):
    dates = [event[name].dt for name in ("DTSTART", "DTEND")]
    return not any(isinstance(one, datetime.datetime) for one in dates)


def entry(event):
    return {
        "uid": text(event, "UID"),
        "summary": text(event, "SUMMARY"),
        "description": text(event, "DESCRIPTION"),
        "dtstart": date(event, "DTSTART"),
        "dtend": date(event, "DTEND"),
        "whole_days": whole_days(event),
        "sequence": int(event["SEQUENCE"]),
        "status": text(event, "STATUS"),
        "transparency": text(event, "TRANSP"),
        "stamp": date(event, "DTSTAMP"),
        "organiser": text(event, "ORGANIZER"),
    }


def read(raw):
    calendar = icalendar.Calendar.from_ical(raw)
    refresh = calendar.get("REFRESH-INTERVAL")
    return {
        "version": text(calendar, "VERSION"),
        "method": text(calendar, "METHOD"),
        "name": text(calendar, "NAME"),
        "refresh": None if refresh is None else refresh.to_ical().decode(),
        "entries": [entry(event) for event in calendar.walk("VEVENT")],
        "problems": raw_problems(raw) + component_problems(calendar),
    }


def main():
    if len(sys.argv) < 2 or sys.argv[1].startswith("-"):
        sys.exit(__doc__)
    found = [read(pathlib.Path(name).read_bytes()) for name in sys.argv[1:]]
    json.dump(found, sys.stdout, indent=2)
    print()


if __name__ == "__main__":
    main()
