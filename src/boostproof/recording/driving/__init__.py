"""What the driver and the drive line did: full load, gears, slip, limiter, plate, launch."""
