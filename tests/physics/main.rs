//! Physics against independent solutions of the same networks and against published figures.

mod build;
mod cases;
mod discharge;
mod operating_point;
mod published;
mod robustness;
mod small_signal;
mod steady_state;
mod transient;
