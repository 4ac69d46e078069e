"""Owns how what a hook-up shows is laid out in a row of numbers."""

# Per hook-up: the number before ends, limits and default, its slope against ln ohm, pin volts over the converter's own
# reference; volts of the signal, of supply and of return, to return and to battery negative; the chance that a module that
# switches its pull-up is on its second; the sensor's own ohms and those of the return. On the second pull-up the first five lie
# OTHER further on.
(VALUE, SLOPE, SHARE, TO_RETURN, TO_BATTERY, SUPPLY_TO_RETURN, SUPPLY_TO_BATTERY, RETURN_TO_BATTERY, BRANCH, OWN, RETURN_OHM, TRUE,
 OTHER) = range(13)
SWITCHED = 5
WIDTH = OTHER + SWITCHED
BETWEEN = {"volts-return": TO_RETURN, "volts-battery": TO_BATTERY, "supply-return": SUPPLY_TO_RETURN,
           "supply-battery": SUPPLY_TO_BATTERY, "return-battery": RETURN_TO_BATTERY}
SHARE_ENDS = (1e-7, 1.0 - 1e-7)
# The lead a meter cannot null out (common practice, no source).
LEAD_OHM = 0.2
