"""The engine: radio-wave propagation, antennas and advice, with no screen, clock or network of its own."""
