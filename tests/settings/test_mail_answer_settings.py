"""The mailbox of answers: what can be set, what is refused, and what of it is a secret."""

from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.alerts.routes import Person, Route
from watchdog.settings import load
from watchdog.settings.mail_answers import MailAnswersTable
from watchdog.settings.mail_options import mail_addresses, mailbox_of
from watchdog.settings.network import NetworkTable

TABLE = '[mail_answers]\nhost = "imap.example.org"\nuser = "watch@example.org"\n'
WORD = "a-wOrd-of-ours"


def test_left_out_it_is_encrypted_and_reads_the_inbox_every_half_minute(written: Callable[[str], Path]) -> None:
    settings = load(written(f'{TABLE}password = "{WORD}"\n'))
    options = mailbox_of(settings.mail_answers, settings.network)
    assert options is not None
    assert (options.port, options.tls, options.folder, options.every) == (993, "tls", "INBOX", 30)
    assert (options.password, options.root) == (WORD, None)
    assert mailbox_of(None, settings.network) is None


def test_with_starttls_another_port_is_usual_and_the_network_s_root_is_trusted() -> None:
    root = Path("/etc/emberward/network-root.pem")
    told = MailAnswersTable.model_validate({"host": "h", "user": "u", "password": "p", "tls": "starttls"})
    options = mailbox_of(told, NetworkTable(root_certificate=root))
    assert options is not None
    assert (options.port, options.tls, options.root) == (143, "starttls", root)


def test_the_password_is_repeated_nowhere(written: Callable[[str], Path]) -> None:
    """Settings and options are printed where something goes wrong."""
    settings = load(written(f'{TABLE}password = "{WORD}"\n'))
    assert WORD not in repr(settings) + str(mailbox_of(settings.mail_answers, settings.network))


def test_the_password_comes_from_a_file_or_a_credential(
    written: Callable[[str], Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "mailbox").write_text(f"{WORD}\n", encoding="utf-8")
    (tmp_path / "mailbox").chmod(0o600)
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path))
    for place in (f'password_file = "{tmp_path}/mailbox"', 'credential = "mailbox"'):
        settings = load(written(f"{TABLE}{place}\n"))
        options = mailbox_of(settings.mail_answers, settings.network)
        assert options is not None
        assert options.password == WORD


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        (TABLE, "mail_answers", "there is no password. Give exactly one of password, password_file and credential."),
        (f'{TABLE}password = "a"\ncredential = "b"\n', "mail_answers", "there are password and credential"),
        (f'{TABLE}credential = "mailbox"\n', "mail_answers.credential", "CREDENTIALS_DIRECTORY"),
        (f'{TABLE}password_file = "/nowhere/at/all"\n', "mail_answers.password_file", "No such file"),
        (f'{TABLE}password = ""\n', "mail_answers.password", "it is empty"),
        (f'{TABLE}password = "a"\nfolder = "Entw\\u00fcrfe"\n', "mail_answers.folder", "letters without accents"),
        (f'{TABLE}password = "a"\nfolder = "a\\" b"\n', "mail_answers.folder", "is no folder"),
        (f'{TABLE}password = "a"\ntls = "none"\n', "mail_answers.tls", "Valid here: starttls, tls"),
        (f'{TABLE}password = "a"\nevery = "1 s"\n', "mail_answers.every", "out of bounds"),
        ('[mail_answers]\nhost = "imaps://h"\nuser = "u"\npassword = "p"\n', "mail_answers.host", "without imaps://"),
    ],
)
def test_a_mistake_names_its_place_and_its_remedy(
    text: str, place: str, words: str, mistakes: Callable[[str], list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("CREDENTIALS_DIRECTORY", raising=False)
    told = mistakes(text)
    assert any(line.startswith(f"{place}: ") and words in line for line in told), told


def test_a_password_that_others_can_read_is_refused(tmp_path: Path, mistakes: Callable[[str], list[str]]) -> None:
    file = tmp_path / "mailbox"
    file.write_text(WORD, encoding="utf-8")
    file.chmod(0o644)
    (told,) = mistakes(f'{TABLE}password_file = "{file}"\n')
    assert "others on this computer can read the password" in told
    assert WORD not in told


def test_where_a_person_s_mails_go_is_read_from_the_routes() -> None:
    """An answer from elsewhere is noted; of whom it cannot be told, nothing is."""
    urls = {
        "to": "mailtos://watch:pw@example.org?smtp=mail.example.org&to=Desk@example.org,lead@example.org",
        "path": "mailto://watch:pw@example.org/warden@example.org/",
        "itself": "mailtos://own:pw@example.org",
        "sign-in": "mailtos://own%40example.com:pw@mail.example.org",
        "phone": "jsons://push.example.org/x@y",
        "odd": "mailto://[nowhere",
    }
    people = [Person(name, (Route(name, url),)) for name, url in urls.items()]
    assert mail_addresses(people) == {
        "to": {"desk@example.org", "lead@example.org"},
        "path": {"warden@example.org"},
        "itself": {"own@example.org"},
        "sign-in": {"own@example.com"},
    }
