"""What went wrong between us and the broker, in a sentence that says what to do. Secrets are in none of them."""

import aiomqtt
from paho.mqtt.reasoncodes import ReasonCode

from watchdog.broker.link import Unreadable
from watchdog.broker.options import Options

_WORDS = 160  # characters of a library's own words


def why(fault: BaseException, options: Options) -> str:
    """Why there is no connection."""
    broker = f"MQTT: the broker {options.place}"
    if isinstance(fault, Unreadable):
        return f"MQTT: {fault}. Look at the files that [mqtt] names."
    code = _code(fault)
    if isinstance(fault, aiomqtt.exceptions.MqttConnectError):
        return f"{broker} refuses this service ({_plain(code or fault)}). {_refused(code)}"
    if code is not None and code.value == 142:
        return (
            f"{broker} has given our place to another client of the same name. Two services have one base topic: "
            "give each its own `base` in [mqtt]."
        )
    text = _plain(code or fault.__cause__ or fault)
    if "CERTIFICATE_VERIFY_FAILED" in text:
        return (
            f"{broker} shows a certificate that is not trusted here: {text}. Set root_certificate to the authority that "
            "signed it, and host to the name that it was made for."
        )
    if "SSL" in text or "TLS" in text:
        return f"{broker} cannot agree on an encrypted connection: {text}. Look at port, tls and certificate in [mqtt]."
    if "timed out" in text.lower():
        return (
            f"{broker} gives no answer. Is it one, at this port? With `tls` it may want a certificate of ours, or have "
            "refused the one that it got."
        )
    if isinstance(fault.__cause__, aiomqtt.MqttCodeError) or "during message iteration" in text:
        return (
            f"{broker} has gone, or the network to it ({text}). What it is to be told waits here. Look whether it runs; if "
            "it goes again and again, whether two services have one base topic and push each other off."
        )
    return f"{broker} cannot be reached: {text}. Is it running, and are host and port right?"


def publishing_refused(options: Options, topic: str, code: ReasonCode) -> str:
    """A message was not taken."""
    return (
        f"MQTT: the broker {options.place} does not let this service publish {topic} ({_plain(code)}). Allow its user to "
        f"write {options.base}/#."
    )


def subscribing_refused(options: Options, topic: str, code: ReasonCode) -> str:
    """A subscription was not taken."""
    return (
        f"MQTT: the broker {options.place} does not let this service read {topic} ({_plain(code)}). Allow its user to "
        "read it, or take the setting out that names it."
    )


def _refused(code: ReasonCode | None) -> str:
    if code is not None and code.value == 132:
        return 'Write protocol = "3.1.1" in [mqtt].'
    if code is not None and code.value in {136, 137, 151, 159}:  # unavailable, busy, quota, rate
        return "It may pass by itself; if it lasts, ask whoever looks after the broker."
    return "Look at user and password in [mqtt], and at whom the broker lets in."


def _code(fault: BaseException) -> ReasonCode | None:
    """The broker's own reason in `fault`, or in what brought it about."""
    for one in (fault, fault.__cause__):
        if isinstance(one, aiomqtt.MqttCodeError) and isinstance(one.rc, ReasonCode):
            return one.rc
    return None


def _plain(told: object) -> str:
    """On one line, and not long."""
    text = " ".join(str(told).split()).rstrip(".")
    return text if len(text) <= _WORDS else f"{text[: _WORDS - 1]}…"
