"""Temperature controllers that speak Modbus: read as a source of readings, and asked to do something.

frames        one question and its answer, as bytes; alone in knowing the protocol's library
register_map  what a controller's registers mean, as a file says it
registers     registers and bits to values, and values to registers; pure
picture       which questions a map needs, and what their answers show; pure
orders        what may be asked of a device, and the one write that asks it; pure
line          what every wire is to those who ask on it
tcp           a connection to a controller or a gateway, shared by all who ask there
rtu           a serial line with devices on it, as well
controller    one device, by the contract of controllers
driver        the same device as a source of readings
"""
