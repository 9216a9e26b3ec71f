"""What every room's tests share."""

import contextlib
import getpass
import grp
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

# A busy computer makes any example slow; nothing here asserts a time.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--regold", action="store_true", help="write the golden files anew; the commit says why each change is right"
    )


@pytest.fixture
def golden(pytestconfig: pytest.Config) -> Callable[[Path, str], None]:
    """Compares a text with its golden file, or writes the file anew with `--regold`."""

    def check(file: Path, text: str) -> None:
        if pytestconfig.getoption("--regold"):
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        assert file.exists(), f"no golden file {file.name}; --regold writes it"
        assert text == file.read_text(encoding="utf-8")

    return check


MOSQUITTO = shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin:/usr/bin:/usr/local/bin")


class Mosquitto:
    """A real MQTT broker on a port of its own, that can be killed and started again."""

    def __init__(self, folder: Path, *lines: str) -> None:
        """`lines` of its configuration, beside the listener; nobody needs a password unless they say so."""
        folder.mkdir(parents=True, exist_ok=True)
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = int(free.getsockname()[1])
        self.log = folder / "mosquitto.log"
        self._config = folder / "mosquitto.conf"
        told = ["user root", f"listener {self.port} 127.0.0.1", f"log_dest file {self.log}", "log_type all", *lines]
        if not any(line.startswith("allow_anonymous") for line in lines):
            told.append("allow_anonymous true")
        self._config.write_text("\n".join(told) + "\n", encoding="utf-8")
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def process(self) -> int:
        """Its process number."""
        assert self._process is not None
        return self._process.pid

    def start(self) -> None:
        """Start it and wait until it listens."""
        assert MOSQUITTO is not None
        self._process = subprocess.Popen([MOSQUITTO, "-c", str(self._config)], stderr=subprocess.DEVNULL)
        deadline = time.monotonic() + 30
        while time.monotonic() < deadline and self._process.poll() is None:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
            except OSError:
                time.sleep(0.02)
            else:
                return
        raise RuntimeError(f"mosquitto does not listen:\n{self.log.read_text() if self.log.exists() else ''}")

    def kill(self) -> None:
        """kill -9: it forgets everything, and says good-bye to nobody."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(30)
            self._process = None


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Callable[..., Mosquitto]]:
    """Starts brokers, each with lines of configuration of its own; all are gone after the test."""
    if MOSQUITTO is None:
        pytest.skip("mosquitto is not installed")
    started: list[Mosquitto] = []

    def start(*lines: str) -> Mosquitto:
        broker = Mosquitto(tmp_path / f"mosquitto-{len(started)}", *lines)
        started.append(broker)
        broker.start()
        return broker

    yield start
    for broker in started:
        broker.kill()


DOVECOT = shutil.which("dovecot", path="/usr/sbin:/usr/local/sbin:/usr/bin:/usr/local/bin")


class Dovecot:
    """A real IMAP server with one account, `watch` with the password `pässword`, and a certificate of its own."""

    def __init__(self, folder: Path) -> None:
        """`folder` must have a short name, for sockets, and be one that everybody may enter."""
        self.folder = folder
        self.maildir = folder / "mails"
        self.log = folder / "dovecot.log"
        self.root = folder / "root.pem"
        folder.chmod(0o755)
        for part in ("cur", "new", "tmp", ".Answers/cur", ".Answers/new", ".Answers/tmp"):
            (self.maildir / part).mkdir(parents=True)
        self.port, self.plain_port = _free_ports(2)
        self._certify()
        self._config = folder / "dovecot.conf"
        self._configure()
        self._process: subprocess.Popen[bytes] | None = None
        self._count = 0

    def _certify(self) -> None:
        words = (
            f"req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 -keyout {self.folder}/key.pem"
        )
        whom = ["-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost"]
        command = ["openssl", *words.split(), "-out", str(self.root), *whom]
        subprocess.run(command, check=True, capture_output=True)

    def _configure(self) -> None:
        (self.folder / "accounts").write_text("watch:{PLAIN}pässword\n", encoding="utf-8")
        own = getpass.getuser()
        reader = "nobody" if own == "root" else own  # the server reads no mail as root
        accounts = ""  # started by root, the server has accounts of its own for what needs few rights
        if own != "root":
            group = grp.getgrgid(os.getgid()).gr_name
            accounts = f"default_internal_user = {own}\ndefault_login_user = {own}\ndefault_internal_group = {group}\n"
        lines = f"""
base_dir = {self.folder}/run
state_dir = {self.folder}/state
log_path = {self.log}
protocols = imap
listen = 127.0.0.1
{accounts}first_valid_uid = 1
ssl = required
ssl_cert = <{self.root}
ssl_key = <{self.folder}/key.pem
mail_location = maildir:{self.maildir}
namespace inbox {{
  inbox = yes
  separator = /
}}
passdb {{
  driver = passwd-file
  args = {self.folder}/accounts
}}
userdb {{
  driver = static
  args = uid={reader} gid={grp.getgrgid(pwd.getpwnam(reader).pw_gid).gr_name} home={self.folder}
}}
service imap-login {{
  chroot =
  inet_listener imap {{
    port = {self.plain_port}
  }}
  inet_listener imaps {{
    port = {self.port}
    ssl = yes
  }}
}}
service anvil {{
  chroot =
}}
service stats {{
  chroot =
}}
"""
        self._config.write_text(lines, encoding="utf-8")
        if own == "root":
            for place in (self.maildir, *self.maildir.rglob("*")):
                shutil.chown(place, reader)

    def start(self) -> None:
        """Start it and wait until it listens."""
        assert DOVECOT is not None
        command = [DOVECOT, "-F", "-c", str(self._config)]
        self._process = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        deadline = time.monotonic() + 30
        while time.monotonic() < deadline and self._process.poll() is None:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
            except OSError:
                time.sleep(0.02)
            else:
                return
        raise RuntimeError(f"dovecot does not listen:\n{self.log.read_text() if self.log.exists() else ''}")

    def stop(self) -> None:
        """End it, and every connection with it."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(30)
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self._process.pid, signal.SIGKILL)  # sessions go on by themselves
            self._process = None

    def deliver(self, mail: bytes, folder: str = "") -> str:
        """Put a mail into the inbox, or into the folder `.NAME`, as a mail server does; its name."""
        self._count += 1
        name = f"{int(time.time())}.M{self._count}P{os.getpid()}.localhost"
        waiting = self.maildir / folder / "tmp" / name
        waiting.write_bytes(mail)
        shutil.chown(waiting, self.maildir.owner())
        waiting.rename(self.maildir / folder / "new" / name)
        return name

    def seen(self, name: str, folder: str = "") -> bool:
        """Whether the mail is marked as seen; it must still be there."""
        (file,) = [*(self.maildir / folder).glob(f"*/{name}*")]
        return "S" in file.name.rpartition(":2,")[2] and ":2," in file.name


def _free_ports(count: int) -> list[int]:
    with contextlib.ExitStack() as held:
        opened = [held.enter_context(socket.create_server(("127.0.0.1", 0))) for _ in range(count)]
        return [int(one.getsockname()[1]) for one in opened]


@pytest.fixture
def dovecot() -> Iterator[Dovecot]:
    """A running IMAP server with an empty mailbox."""
    if DOVECOT is None:
        pytest.skip("dovecot is not installed")
    folder = Path(tempfile.mkdtemp(prefix="imap-", dir="/tmp"))
    server = Dovecot(folder)
    try:
        server.start()
        yield server
    finally:
        server.stop()
        shutil.rmtree(folder, ignore_errors=True)
