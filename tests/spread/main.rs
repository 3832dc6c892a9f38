//! The spread of parts: worst corners and distributions that are known by other means, what findings say of them, and that
//! nothing that could not be solved is passed over.

#[cfg(test)]
mod bench;
#[cfg(test)]
mod corners;
#[cfg(test)]
mod findings;
#[cfg(test)]
mod lists;
#[cfg(test)]
mod margins;
#[cfg(test)]
mod sameness;
#[cfg(test)]
mod unsolved;
