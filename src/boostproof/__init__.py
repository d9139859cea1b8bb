"""boostproof: find out why a turbocharged car does not hold its boost."""
