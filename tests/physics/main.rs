//! Physics against independent solutions of the same networks and against published figures.

#[cfg(test)]
mod build;
#[cfg(test)]
mod cases;
#[cfg(test)]
mod discharge;
#[cfg(test)]
mod operating_point;
#[cfg(test)]
mod published;
#[cfg(test)]
mod robustness;
#[cfg(test)]
mod small_signal;
#[cfg(test)]
mod steady_state;
#[cfg(test)]
mod supplies;
#[cfg(test)]
mod transient;
