//! Rules as data: the expression language, rule files, judging, waivers, and the proofs of the built-in rules.
#![cfg(test)]

mod built_in;
mod derating;
mod expressions;
mod inspecting;
mod judging;
mod proofs;
mod reading;
mod remembered;
mod silent;
mod tables;
mod waivers;
mod walking;
