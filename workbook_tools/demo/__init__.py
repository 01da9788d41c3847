"""An invented program and simulated merchandisers, to see the whole job without a store."""
