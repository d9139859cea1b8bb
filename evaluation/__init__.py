"""How good the diagnosis is: suites of cars whose fault is known, diagnosed by the product and scored."""
