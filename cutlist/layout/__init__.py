"""Places and runs: where the bus bars go, how long every cable is."""
