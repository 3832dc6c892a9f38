//! What the program prints: every renderer on reports made by hand, the places it names, and the program itself as its
//! users run it.

#[cfg(test)]
mod fixtures;
#[cfg(test)]
mod house;
#[cfg(test)]
mod places;
#[cfg(test)]
mod program;
#[cfg(test)]
mod renderers;
#[cfg(test)]
mod roll;
#[cfg(test)]
mod schema;
