//! Gain, corners, impedances and noise of whole designs: against an independent solution and against published figures.

#[cfg(test)]
#[path = "../supply/bench.rs"]
mod bench;
#[cfg(test)]
mod charts;
#[cfg(test)]
mod large;
#[cfg(test)]
mod loads;
#[cfg(test)]
mod points;
#[cfg(test)]
mod powers;
#[cfg(test)]
mod reference;
#[cfg(test)]
mod table;
