//! Rules.
mod built_in;
