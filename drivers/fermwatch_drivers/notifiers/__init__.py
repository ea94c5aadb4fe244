"""Ways to people: a command, an address on the web, a topic on an MQTT broker, what the library apprise reaches."""
