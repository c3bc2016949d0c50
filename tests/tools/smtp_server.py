"""A real SMTP server for the tests, a process of its own built on aiosmtpd.

It prints one line for each thing a test may want to wait for:

    listening 127.0.0.1:PORT   ready for connections
    held connection            hang-at-connect: a client is connected and gets no greeting
    held after data            hang-after-data: a message came in whole and gets no answer
    dropped after data         drop-after-data: a message was kept, the answer was not sent
    refused CODE               a client was answered with CODE
    accepted NAME              NAME.eml and NAME.json are on disk
    mode MODE                  the mode was changed through standard input

Each message kept is DIR/NNNN.eml (the bytes as received) and DIR/NNNN.json (its envelope). The .eml is
renamed into place last: whoever sees it can read both. It knows nothing of what a mail should say.
"""

import argparse
import asyncio
import datetime
import itertools
import json
import os
import pathlib
import signal
import sys

from aiosmtpd.smtp import SMTP

MODES = {
    "accept": "keep every message",
    "reject-451": "refuse each recipient for now",
    "reject-550": "refuse each recipient for good",
    "reject-451-after-data": "refuse the whole message for now, after its last byte",
    "reject-550-after-data": "refuse the whole message for good, after its last byte",
    "hang-at-connect": "take the connection and never send a greeting",
    "hang-after-data": "take the message and never answer; it is not kept",
    "drop-at-data": "close the connection at the DATA command; nothing is kept",
    "drop-after-data": "keep the message, then close without answering: the sender cannot know",
}
REPLIES = {451: "451 4.3.0 try again later", 550: "550 5.1.1 no such mailbox"}
FOREVER_S = 7 * 24 * 3600


def say(line):
    print(line, flush=True)


class Mailbox:
    """Writes messages into a folder, numbered after those that are there already."""

    def __init__(self, folder):
        self.folder = pathlib.Path(folder)
        self.folder.mkdir(parents=True, exist_ok=True)
        taken = [int(p.stem) for p in self.folder.glob("*.eml") if p.stem.isdigit()]
        self.numbers = itertools.count(max(taken, default=0) + 1)

    def keep(self, envelope):
        name = f"{next(self.numbers):04}"
        facts = {
            "mail_from": envelope.mail_from,
            "rcpt_tos": envelope.rcpt_tos,
            "received_at": datetime.datetime.now(datetime.timezone.utc).isoformat(),
        }
        self._put(f"{name}.json", json.dumps(facts, indent=2).encode())
        self._put(f"{name}.eml", envelope.original_content)
        return name

    def _put(self, name, content):
        unfinished = self.folder / f".{name}.part"
        unfinished.write_bytes(content)
        os.replace(unfinished, self.folder / name)


class Behaviour:
    """What the server does with a message, which a test can change while it runs."""

    def __init__(self, mode, mailbox):
        self.mode = mode
        self.mailbox = mailbox

    def refuse(self, code):
        say(f"refused {code}")
        return REPLIES[code]

    async def handle_RCPT(self, server, session, envelope, address, rcpt_options):
        if self.mode in ("reject-451", "reject-550"):
            return self.refuse(int(self.mode.removeprefix("reject-")))
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        if self.mode.endswith("-after-data") and self.mode.startswith("reject-"):
            return self.refuse(int(self.mode.split("-")[1]))
        if self.mode == "hang-after-data":
            say("held after data")
            await asyncio.sleep(FOREVER_S)
        name = self.mailbox.keep(envelope)
        say(f"accepted {name}")
        if self.mode == "drop-after-data":
            server.hang_up()
            say("dropped after data")
        return "250 OK"


class Session(SMTP):
    """One client's connection."""

    def __init__(self, behaviour):
        super().__init__(
            behaviour, hostname="mail.example", ident="test", enable_SMTPUTF8=True, timeout=FOREVER_S
        )

    def connection_made(self, transport):
        if self.event_handler.mode == "hang-at-connect":
            # Left to the base class, the greeting would follow. The name is kept, so that the
            # transport is not collected and closed.
            self.held = transport
            say("held connection")
            return
        super().connection_made(transport)

    def connection_lost(self, error):
        if not hasattr(self, "held"):
            super().connection_lost(error)

    def data_received(self, data):
        if not hasattr(self, "held"):
            super().data_received(data)

    def eof_received(self):
        return None if hasattr(self, "held") else super().eof_received()

    async def smtp_DATA(self, argument):
        if self.event_handler.mode == "drop-at-data":
            say("dropped at data")
            self.hang_up()
            return
        await super().smtp_DATA(argument)

    def hang_up(self):
        self.transport.abort()


async def obey_standard_input(behaviour, stop):
    """`mode MODE` changes the mode; the end of the input ends the server."""
    loop = asyncio.get_running_loop()
    reader = asyncio.StreamReader()
    await loop.connect_read_pipe(lambda: asyncio.StreamReaderProtocol(reader), sys.stdin)
    while line := await reader.readline():
        word, _, mode = line.decode().strip().partition(" ")
        if word != "mode" or mode not in MODES:
            say(f"not understood: {line.decode().strip()}")
            continue
        behaviour.mode = mode
        say(f"mode {mode}")
    stop.set()


async def serve(options):
    loop = asyncio.get_running_loop()
    stop = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stop.set)
    behaviour = Behaviour(options.mode, Mailbox(options.dir))
    server = await loop.create_server(lambda: Session(behaviour), "127.0.0.1", options.port)
    say("listening 127.0.0.1:%d" % server.sockets[0].getsockname()[1])
    orders = None
    if options.obey_stdin:
        orders = asyncio.ensure_future(obey_standard_input(behaviour, stop))
    await stop.wait()
    server.close()
    if orders:
        orders.cancel()


def main():
    shape = argparse.RawDescriptionHelpFormatter
    modes = "modes:\n" + "\n".join(f"  {mode:<22} {what}" for mode, what in MODES.items())
    parser = argparse.ArgumentParser(description=__doc__, epilog=modes, formatter_class=shape)
    parser.add_argument("--port", type=int, default=0, help="0: one that the system chooses")
    parser.add_argument("--dir", required=True, help="where messages are kept")
    parser.add_argument("--mode", choices=MODES, default="accept", metavar="MODE")
    parser.add_argument(
        "--obey-stdin",
        action="store_true",
        help="read `mode MODE` lines, and end when standard input does (so with its parent)",
    )
    asyncio.run(serve(parser.parse_args()))


if __name__ == "__main__":
    main()
