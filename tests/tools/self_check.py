"""Proves that the test tools can fail: run by tests/run before anything that trusts them.

    self_check.py        sends mails with smtplib to smtp_server.py in each mode, reads them back;
                         lets the generator of requests loose on an API with planted faults;
                         has both readers of calendars and the checker of HTML look at planted faults
"""

import contextlib
import http.server
import json
import pathlib
import smtplib
import socket
import subprocess
import sys
import tempfile
import threading
import unittest
from email.message import EmailMessage

import read_calendar
import read_mail

HERE = pathlib.Path(__file__).parent
CLEAN = (
    b"Date: Sat, 14 Mar 2026 09:00:00 +0000\r\nFrom: Ada <ada@club.example>\r\n"
    b"To: bo@club.example\r\nSubject: Wax\r\nMessage-ID: <1@club.example>\r\n"
    b"MIME-Version: 1.0\r\nContent-Type: text/plain; charset=utf-8\r\n\r\nTwo bows.\r\n"
)


class Server:
    """smtp_server.py as a process, with its lines."""

    def __init__(self, folder, mode, port=0):
        self.process = subprocess.Popen(
            [sys.executable, HERE / "smtp_server.py", "--dir", folder, "--mode", mode]
            + ["--port", str(port), "--obey-stdin"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.port = int(self.line().removeprefix("listening 127.0.0.1:"))

    def line(self):
        return self.process.stdout.readline().strip()

    def tell(self, line):
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def end(self):
        self.process.stdin.close()
        self.process.wait(timeout=10)
        self.process.stdout.close()


@contextlib.contextmanager
def serving(mode):
    with tempfile.TemporaryDirectory() as folder:
        server = Server(folder, mode)
        try:
            yield server, pathlib.Path(folder)
        finally:
            server.end()


def two_part_mail():
    mail = EmailMessage()
    mail["From"] = "Tautline <club@club.example>"
    mail["To"] = "Bo Ångström <bo@club.example>"
    mail["Cc"] = "coach@club.example"
    mail["Subject"] = "Wax “Ålesund” before Saturday"
    mail["Date"] = "Sat, 14 Mar 2026 09:00:00 +0100"
    mail["Message-ID"] = "<0190-1@club.example>"
    mail["Auto-Submitted"] = "auto-generated"
    mail.set_content("Two bows.\n.a line that begins with a dot\n")
    mail.add_alternative("<p>Two <b>bows</b>.<br></p>", subtype="html")
    return mail


def send(port, mail=None, timeout=10):
    with smtplib.SMTP("127.0.0.1", port, timeout=timeout) as client:
        client.send_message(mail or two_part_mail())


class TheServer(unittest.TestCase):
    def test_keeps_what_was_sent_and_a_stranger_can_read_it(self):
        with serving("accept") as (server, folder):
            send(server.port)
            self.assertEqual(server.line(), "accepted 0001")
            send(server.port)
            self.assertEqual(server.line(), "accepted 0002")
            envelope = json.loads((folder / "0001.json").read_text())
            read = subprocess.run(
                [sys.executable, HERE / "read_mail.py", folder / "0001.eml", folder / "0002.eml"],
                check=True,
                capture_output=True,
            )
            self.assertEqual(sorted(p.name for p in folder.iterdir() if p.suffix == ".part"), [])
        first, second = json.loads(read.stdout)
        self.assertEqual(first, second)
        self.assertEqual(envelope["mail_from"], "club@club.example")
        self.assertEqual(envelope["rcpt_tos"], ["bo@club.example", "coach@club.example"])
        self.assertEqual(first["to"], ["Bo Ångström <bo@club.example>"])
        self.assertEqual(first["cc"], ["coach@club.example"])
        self.assertEqual(first["subject"], "Wax “Ålesund” before Saturday")
        self.assertEqual(first["date"], "2026-03-14T09:00:00+01:00")
        self.assertEqual(first["message_id"], "<0190-1@club.example>")
        self.assertEqual(first["headers"], {"Auto-Submitted": "auto-generated"})
        self.assertEqual(
            first["content_types"], ["multipart/alternative", "text/plain", "text/html"]
        )
        self.assertEqual(first["text"], "Two bows.\n.a line that begins with a dot\n")
        self.assertEqual(first["defects"], [])
        self.assertEqual(first["html_problems"], [])

    def test_numbers_on_after_a_restart_on_the_same_port(self):
        with tempfile.TemporaryDirectory() as folder:
            server = Server(folder, "accept")
            send(server.port)
            server.end()
            again = Server(folder, "accept", server.port)
            send(again.port)
            self.assertEqual(again.line(), "accepted 0002")
            again.end()

    def test_refuses_as_told(self):
        for mode, code in [
            ("reject-451", 451),
            ("reject-550", 550),
            ("reject-451-after-data", 451),
            ("reject-550-after-data", 550),
        ]:
            with self.subTest(mode), serving(mode) as (server, folder):
                with self.assertRaises(smtplib.SMTPException) as caught:
                    send(server.port)
                self.assertIn(str(code), repr(caught.exception))
                self.assertEqual(server.line(), f"refused {code}")
                self.assertEqual(list(folder.iterdir()), [])

    def test_changes_its_mode_while_it_runs(self):
        with serving("reject-451") as (server, _):
            with self.assertRaises(smtplib.SMTPException):
                send(server.port)
            self.assertEqual([server.line(), server.line()], ["refused 451", "refused 451"])
            server.tell("mode accept")
            self.assertEqual(server.line(), "mode accept")
            send(server.port)
            self.assertEqual(server.line(), "accepted 0001")
            server.tell("mode nonsense")
            self.assertEqual(server.line(), "not understood: mode nonsense")

    def test_holds_a_connection_without_a_greeting(self):
        with serving("hang-at-connect") as (server, folder):
            with socket.create_connection(("127.0.0.1", server.port), timeout=10) as client:
                self.assertEqual(server.line(), "held connection")
                client.settimeout(0.2)
                with self.assertRaises(TimeoutError):
                    client.recv(1)
            self.assertEqual(list(folder.iterdir()), [])

    def test_holds_a_message_without_an_answer_and_does_not_keep_it(self):
        with serving("hang-after-data") as (server, folder):
            with self.assertRaisesRegex(smtplib.SMTPServerDisconnected, "timed out"):
                send(server.port, timeout=0.5)
            self.assertEqual(server.line(), "held after data")
            self.assertEqual(list(folder.iterdir()), [])

    def test_drops_the_connection_and_keeps_only_what_it_says(self):
        for mode, kept, line in [
            ("drop-at-data", 0, "dropped at data"),
            ("drop-after-data", 1, "accepted 0001"),
        ]:
            with self.subTest(mode), serving(mode) as (server, folder):
                with self.assertRaises((smtplib.SMTPServerDisconnected, ConnectionError)):
                    send(server.port)
                self.assertEqual(server.line(), line)
                self.assertEqual(len(list(folder.glob("*.eml"))), kept)


def operation(schema):
    answer = {"description": "", "content": {"application/json": {"schema": schema}}}
    return {"get": {"responses": {"200": answer}}}


class FaultyApi(http.server.BaseHTTPRequestHandler):
    """Answers as its document says, but for one planted fault of each kind."""

    DOCUMENT = {
        "openapi": "3.1.0",
        "info": {"title": "Planted", "version": "1"},
        "paths": {
            "/right": operation({"type": "integer"}),
            "/fails": operation({"type": "integer"}),
            "/another-shape": operation({"type": "string"}),
            "/another-status": operation({"type": "integer"}),
            "/hangs-up": operation({"type": "integer"}),
        },
    }

    def do_GET(self):
        if self.path == "/hangs-up":
            self.close_connection = True
            return
        codes = {"/fails": 500, "/another-status": 202}
        body = json.dumps(self.DOCUMENT if self.path == "/openapi.json" else 7).encode()
        self.send_response(codes.get(self.path, 200))
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def refuse(self):
        self.send_response(405)
        self.send_header("Allow", "GET")
        self.send_header("Content-Length", "0")
        self.end_headers()

    do_TRACE = do_QUERY = do_POST = do_PUT = do_PATCH = do_DELETE = do_OPTIONS = refuse

    def log_message(self, *_):
        pass


class TheGenerator(unittest.TestCase):
    def test_finds_each_planted_fault(self):
        server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), FaultyApi)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        with tempfile.TemporaryDirectory() as folder:
            config = (HERE / "fuzz.toml").read_text()
            pathlib.Path(folder, "fuzz.toml").write_text(config)
            for line in config.splitlines():
                if "from-file" in line:
                    pathlib.Path(folder, line.split('"')[1]).write_text('"1"\n')
            url = f"http://127.0.0.1:{server.server_port}/openapi.json"
            run = subprocess.run(
                [sys.executable, "-m", "schemathesis.cli", "--config-file", "fuzz.toml", "run", url]
                + ["--max-examples", "2", "--seed", "1"]
                + ["--report", "json", "--report-json-path", "report.json", "--continue-on-failure"],
                cwd=folder,
                capture_output=True,
            )
            report = json.loads(pathlib.Path(folder, "report.json").read_text())
        server.shutdown()
        server.server_close()
        self.assertEqual(run.returncode, 1, run.stdout.decode())
        found = {
            (failure["type"], at) for failure in report["failures"] for at in failure["operations"]
        }
        self.assertEqual(
            found,
            {
                ("ServerError", "GET /fails"),
                ("UndefinedStatusCode", "GET /fails"),
                ("JsonSchemaError", "GET /another-shape"),
                ("UndefinedStatusCode", "GET /another-status"),
            },
        )
        self.assertEqual(report["errors"], [{"title": "Network Error", "count": 1}])


class TheReader(unittest.TestCase):
    def defects(self, raw):
        return read_mail.read(raw)["defects"]

    def test_finds_nothing_in_a_clean_mail(self):
        self.assertEqual(self.defects(CLEAN), [])

    def test_finds_each_planted_defect(self):
        planted = {
            "a line does not end in CRLF": CLEAN.replace(b"bows.\r\n", b"bows.\n"),
            "a line is longer than 998 bytes": CLEAN.replace(b"Two", b"x" * 999),
            "a header has a byte that is not ASCII": CLEAN.replace(b"Ada", "Åda".encode()),
            "no date header": CLEAN.replace(b"Date:", b"Day:"),
            "more than one to header": CLEAN.replace(b"Subject:", b"To:"),
            "Date: InvalidDateDefect": CLEAN.replace(b"14 Mar", b"14 Foo"),
            "NoBoundaryInMultipartDefect": CLEAN.replace(b"text/plain", b"multipart/mixed"),
            "text/plain: 'utf-8' codec can't decode byte 0xff in position 4: invalid start byte": (
                CLEAN.replace(b"bows", b"\xff")
            ),
            "text/plain: unknown encoding: utf-0": CLEAN.replace(b"utf-8", b"utf-0"),
            "InvalidBase64CharactersDefect": CLEAN.replace(
                b"MIME-Version", b"Content-Transfer-Encoding: base64\r\nMIME-Version"
            ),
        }
        for defect, raw in planted.items():
            with self.subTest(defect):
                self.assertIn(defect, self.defects(raw))

    def test_finds_unclosed_and_crossed_tags(self):
        check = read_mail.html_problems
        self.assertEqual(check("<!doctype html><p>a<br>b<img src='x'></p>"), [])
        self.assertEqual(check("<p>a"), ["line 1: <p> is never closed"])
        self.assertEqual(check("a</p>"), ["line 1: </p> closes nothing"])
        self.assertEqual(check("<b><i>a</b>"), ["line 1: <i> is not closed before </b>"])
        self.assertEqual(check("\n<div/>"), ["line 2: <div/> does not close <div>"])


CALENDAR = (
    "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Planted//EN\r\nMETHOD:PUBLISH\r\n"
    "BEGIN:VEVENT\r\nUID:1@club.example\r\nDTSTAMP:20270314T000000Z\r\n"
    "DTSTART;VALUE=DATE:20270314\r\nDTEND;VALUE=DATE:20270315\r\nSEQUENCE:3\r\n"
    "STATUS:TENTATIVE\r\nTRANSP:TRANSPARENT\r\nSUMMARY:Wax\\, then: \r\n the string\r\n"
    "DESCRIPTION:One\\nÅ\r\nORGANIZER:mailto:club@club.example\r\nEND:VEVENT\r\n"
    "END:VCALENDAR\r\n"
)


def node(script, texts, ending):
    """What a program that runs in Node.js prints of some texts, or what it complains of."""
    with tempfile.TemporaryDirectory() as folder:
        paths = [pathlib.Path(folder, f"{number}.{ending}") for number in range(len(texts))]
        for path, text in zip(paths, texts):
            path.write_bytes(text.encode())
        run = subprocess.run(["node", HERE / script, *paths], capture_output=True, text=True)
    return json.loads(run.stdout) if run.returncode == 0 else run.stderr


class TheCalendarReaders(unittest.TestCase):
    def problems(self, text):
        raw = text.encode() if isinstance(text, str) else text
        return read_calendar.read(raw)["problems"]

    def test_read_the_same_of_a_clean_calendar(self):
        by_python = read_calendar.read(CALENDAR.encode())
        self.assertEqual(by_python.pop("problems"), [])
        self.assertEqual(node("read_calendar.mjs", [CALENDAR], "ics"), [by_python])
        entry = by_python["entries"][0]
        self.assertEqual((by_python["method"], entry["uid"]), ("PUBLISH", "1@club.example"))
        self.assertEqual(entry["summary"], "Wax, then: the string")
        self.assertEqual(entry["description"], "One\nÅ")
        self.assertEqual((entry["dtstart"], entry["dtend"]), ("2027-03-14", "2027-03-15"))
        self.assertEqual((entry["sequence"], entry["status"]), (3, "TENTATIVE"))
        self.assertEqual(entry["stamp"], "2027-03-14T00:00:00Z")
        self.assertTrue(entry["whole_days"])

    def test_find_each_planted_fault(self):
        event = CALENDAR[CALENDAR.index("BEGIN:VEVENT") : CALENDAR.index("END:VCALENDAR")]
        planted = {
            "a line does not end in CRLF": CALENDAR.replace("3\r\n", "3\n"),
            "the last line does not end": CALENDAR.removesuffix("\r\n"),
            "a line is longer than 75 octets": CALENDAR.replace("the string", "Å" * 38),
            "a control character": CALENDAR.replace("the string", "the\x07string"),
            "PRODID is not there once": CALENDAR.replace("PRODID:-//Planted//EN\r\n", ""),
            "DTSTAMP is not there once": CALENDAR.replace(
                "SEQUENCE", "DTSTAMP:20270314T000000Z\r\nSEQUENCE"
            ),
            "ORGANIZER is missing": CALENDAR.replace("ORGANIZER:mailto", "X-ORGANIZER:mailto"),
            "it ends before it begins": CALENDAR.replace("20270315", "20270314"),
            "two entries have one UID": CALENDAR.replace(event, event + event),
        }
        for problem, text in planted.items():
            with self.subTest(problem):
                # A stamp that is there twice cannot be read as one.
                if problem.startswith("DTSTAMP"):
                    calendar = read_calendar.icalendar.Calendar.from_ical(text.encode())
                    self.assertIn(problem, read_calendar.component_problems(calendar))
                else:
                    self.assertIn(problem, self.problems(text))
        torn = CALENDAR.encode().replace("Å".encode(), b"\xc3\r\n \x85")
        self.assertIn("a character is torn", read_calendar.raw_problems(torn))

    def test_refuse_what_is_no_calendar(self):
        for text in ("", "BEGIN:VCALENDAR\r\n", CALENDAR.replace("20270314T", "2027T")):
            with self.subTest(text):
                self.assertIsInstance(node("read_calendar.mjs", [text], "ics"), str)
        with self.assertRaises(ValueError):
            read_calendar.read(b"")


class TheHtmlChecker(unittest.TestCase):
    def test_finds_each_planted_fault_and_nothing_in_a_clean_page(self):
        page = (
            '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
            '<title>Wax</title>\n</head>\n<body style="margin: 0">\n<p>Two bows.</p>\n'
            "</body>\n</html>\n"
        )
        planted = {
            "close-order": page.replace("<p>Two bows.</p>", "<p><b>Two bows.</p></b>"),
            "element-required-attributes": page.replace("Two bows.", "<img>"),
            "element-permitted-content": page.replace("<p>Two bows.</p>", "<ul><p>1</p></ul>"),
            "no-dup-id": page.replace("<p>Two bows.</p>", '<p id="a">1</p><p id="a">2</p>'),
            "deprecated": page.replace("Two bows.", "<font>Two bows.</font>"),
            "no-raw-characters": page.replace("Two bows.", "1 < 2 & 3 > 2"),
        }
        found = node("check_html.mjs", [page, *planted.values()], "html")
        rules = [{one["rule"] for one in file["problems"]} for file in found]
        self.assertEqual(rules[0], set())
        for rule, of_file in zip(planted, rules[1:]):
            self.assertIn(rule, of_file)


if __name__ == "__main__":
    unittest.main()
