//! Layer 4: the wiring file read into a netlist; every problem of it at once.
