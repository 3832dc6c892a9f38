//! The library behind the `coldcheck` program: a design of a tube amplifier in, findings out.
//!
//! Data flows one way: source → design → circuit → physics → facts → rules → findings → remedies → report / editor → cli.

pub mod catalogue;
pub mod circuit;
pub mod cli;
pub mod design;
pub mod editor;
pub mod facts;
pub mod findings;
pub mod inspection;
pub mod physics;
pub mod remedies;
pub mod report;
pub mod rules;
pub mod source;
pub mod spread;
pub mod substitution;
pub mod units;
