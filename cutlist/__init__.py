"""evenlead: equal leads for battery banks, from a job file to a plan people can cut from."""
