//! Rules.
mod built_in;
mod inspecting;
mod proofs;
