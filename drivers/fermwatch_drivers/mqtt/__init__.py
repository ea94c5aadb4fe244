"""Readings that others publish to an MQTT broker. Speaks through aiomqtt, the later name of asyncio-mqtt."""
