//! Published worked examples and handbook figures, computed by the whole house from a design.

#[cfg(test)]
#[path = "../supply/bench.rs"]
mod bench;
#[cfg(test)]
mod rectifiers;
#[cfg(test)]
mod worked;
