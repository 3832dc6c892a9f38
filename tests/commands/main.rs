//! What the program prints: every renderer on reports made by hand, the places it names, and the program itself as its
//! users run it.

#[cfg(test)]
mod compare;
#[cfg(test)]
mod derating;
#[cfg(test)]
mod fixtures;
#[cfg(test)]
mod house;
#[cfg(test)]
mod markdown;
#[cfg(test)]
mod places;
#[cfg(test)]
mod program;
#[cfg(test)]
mod proved;
#[cfg(test)]
mod renderers;
#[cfg(test)]
mod roll;
#[cfg(test)]
mod sarif;
#[cfg(test)]
mod scale;
#[cfg(test)]
mod schema;
#[cfg(test)]
mod schema_check;
#[cfg(test)]
mod since;
#[cfg(test)]
mod spread;
#[cfg(test)]
mod tools;
#[cfg(test)]
mod why;
#[cfg(test)]
mod workflows;
#[cfg(test)]
mod workshop;
