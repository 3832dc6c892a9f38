//! Designs that differ from the shipped examples, against an independent solution of the same equations: `reference.py`
//! beside this file, where each netlist is typed by hand.

mod bias;
mod drawings;
mod figures;
mod findings;
