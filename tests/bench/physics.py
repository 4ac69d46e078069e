"""The bench's circuit: a vehicle's wiring put into a netlist and solved, and the number the module makes of it."""

from dataclasses import replace

from .netlist import Netlist

PLUG = ("plug_signal", "plug_return")
AT_MODULE = ("pin", "module_return")
MODULE_RETURN_OHM = 0.02


def add_sensor(net, wiring, fed=False):
    """Put the sensor between its own two pins; fed from the module it may warm itself."""
    sensor_c = wiring.sensor_c + (wiring.self_heating_k if fed else 0.0)
    own_ohm = wiring.sensor.ohm(sensor_c) if wiring.sensor_own_ohm is None else wiring.sensor_own_ohm
    net.resistor("sensor_signal", "sensor_inside", wiring.sensor_series_ohm)
    net.resistor("sensor_inside", "sensor_return", own_ohm)
    net.resistor("sensor_signal", "sensor_return", wiring.sensor_parallel_ohm)


def solve(wiring, sensor_fitted=True, stand_in=None, harness=True):
    """Volts of every node against battery negative, key on [V].

    stand_in is (node, node, ohm), anything put on with leads; harness is False with the module
    unplugged from it and measured at its own pins.
    """
    volts = _solve(wiring, sensor_fitted, stand_in, harness, wiring.contact_ohm)
    if wiring.contact_knee_a is None or not sensor_fitted:
        return volts
    # A film on a contact: its ohms fall as the current breaks it down, and one polarity of it does so sooner.
    contact_ohm = wiring.contact_ohm
    for _ in range(60):
        ampere = (volts["plug_signal"] - volts["sensor_signal"]) / contact_ohm
        wanted_ohm = wiring.contact_ohm / (1.0 + abs(ampere) / wiring.contact_knee_a)
        contact_ohm = (contact_ohm * wanted_ohm) ** 0.5
        volts = _solve(wiring, sensor_fitted, stand_in, harness, contact_ohm)
    return volts


def _solve(wiring, sensor_fitted, stand_in, harness, contact_ohm):
    net = Netlist("battery_negative")
    net.source("battery_positive", "battery_negative", wiring.battery_v)
    net.source("module_ground", "battery_negative", wiring.module_ground_v)
    net.source("chassis", "battery_negative", wiring.chassis_v)
    net.source("rail", "module_ground", wiring.supply_v)
    net.resistor("rail", "pin", wiring.pull_up_ohm)
    net.resistor("module_return", "module_ground", MODULE_RETURN_OHM)
    if harness:
        net.resistor("pin", "plug_signal", wiring.signal_ohm)
        net.resistor("plug_signal", "chassis", wiring.ground_leak_ohm)
        net.resistor("plug_signal", "battery_positive", wiring.battery_leak_ohm)
        for position, (feed_v, feed_ohm) in enumerate(wiring.feeds):
            net.source(f"feed_{position}", "battery_negative", feed_v)
            net.resistor(f"feed_{position}", "plug_signal", feed_ohm)
        net.resistor("plug_signal", "return_splice", wiring.harness_leak_ohm)
        net.resistor("plug_return", "return_splice", wiring.return_ohm)
        # Foreign current through the shared last stretch of return lifts its harness end.
        net.source("return_splice", "module_return", wiring.return_raised_v)
    if sensor_fitted:
        net.resistor("plug_signal", "plug_return", wiring.plug_leak_ohm)
        net.resistor("plug_signal", "sensor_signal", contact_ohm)
        add_sensor(net, wiring, fed=True)
        net.resistor("sensor_return", "plug_return", wiring.contact_ohm / 10.0)
    if stand_in:
        net.resistor(*stand_in)
    return net.volts()


def pin_fraction(wiring, volts):
    """What the converter sees at its pin over its reference; crosstalk adds to it inside the module."""
    return (volts["pin"] - volts["module_ground"] + wiring.input_offset_v) / wiring.reference_v


def shows_c(module, wiring, volts):
    """The number of degC the module shows for solved volts."""
    return wiring.frozen_c if wiring.frozen_c is not None else module.shows_c(pin_fraction(wiring, volts))


def largest_error_k(module, wiring):
    """How far the number shown strays from the sensor's true temperature between 20 and 90 degC [K]."""
    errors = []
    for true_c in range(20, 91, 10):
        here = replace(wiring, sensor_c=float(true_c))
        errors.append(abs(shows_c(module, here, solve(here)) - true_c))
    return max(errors)


def return_ohms(wiring):
    """Key off, plug's return to battery negative: nothing feeds the network but the meter [ohm]."""
    net = Netlist("battery_negative")
    net.resistor("plug_return", "module_return", wiring.return_ohm)
    net.resistor("module_return", "module_ground", MODULE_RETURN_OHM)
    net.resistor("module_ground", "battery_negative", wiring.ground_path_ohm)
    return net.ohms_between("plug_return", "battery_negative")


def sensor_pins_ohm(wiring):
    """The unplugged sensor's own two pins on an ohmmeter [ohm]."""
    net = Netlist("sensor_return")
    add_sensor(net, wiring)
    return net.ohms_between("sensor_signal", "sensor_return")
