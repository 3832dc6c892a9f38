//! The design language: what it means, what it refuses, and how it says so.

mod bench;
mod example;
