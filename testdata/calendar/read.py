"""Prints the events of an iCalendar file, read by an independent parser
(Debian's python3-icalendar), one JSON object a line. Also says what RFC 5545
asks of the bytes: CRLF line ends, at most 75 octets a line."""
import json
import sys

import icalendar

raw = sys.stdin.buffer.read()
lines = raw.split(b"\r\n")
print(json.dumps({
    "bare_line_feeds": raw.replace(b"\r\n", b"").count(b"\n"),
    "longest": max(len(line) for line in lines),
    "folded": sum(line.startswith(b" ") for line in lines),
    "ends": raw.endswith(b"END:VCALENDAR\r\n"),
}))
cal = icalendar.Calendar.from_ical(raw)
print(json.dumps({"version": str(cal["VERSION"]), "prodid": str(cal["PRODID"]), "broken": [str(e) for e in cal.errors]}))
for e in cal.walk("VEVENT"):
    print(json.dumps({
        "uid": str(e["UID"]), "sequence": int(e["SEQUENCE"]), "status": str(e["STATUS"]), "summary": str(e["SUMMARY"]),
        "location": str(e["LOCATION"]), "description": str(e["DESCRIPTION"]), "stamp": e["DTSTAMP"].dt.isoformat(),
        "start": e["DTSTART"].dt.isoformat(), "end": e["DTEND"].dt.isoformat(), "broken": [str(x) for x in e.errors],
    }, ensure_ascii=False))
