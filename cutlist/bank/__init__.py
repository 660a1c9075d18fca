"""The things a bank is made of, as plain frozen values. Metres, volts, amperes, ohms, degrees Celsius."""
