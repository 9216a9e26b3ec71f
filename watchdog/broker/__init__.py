"""The network's MQTT broker: what the watch says there and hears there. Its library is loaded only where a broker is set up.

options     which broker, and how much may wait for it
topics      where everything is said: the contract's names
payloads    what is said: the contract's values, versioned
waiting     what is still to be said while the broker is away or slow
link        one connection, by aiomqtt
remedies    what went wrong, as a sentence that says what to do
broker      all of it together: connects, says, hears, connects again
"""
