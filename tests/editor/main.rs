//! The editor's server as a client meets it: over its standard input and output, message by message.
#![cfg(test)]

mod client;
mod figures;
mod names;
mod random;
mod remedies;
mod talk;
