//! A language server over the same library: what `inspect` says, as one types.
//!
//! Knows nothing of the command line and opens no file by itself: what lies around a design it is told through
//! [`Surroundings`]. Only `protocol` knows the types of the language server protocol.

mod actions;
mod answer;
mod buffers;
mod completion;
mod conversation;
mod diagnostics;
mod hints;
mod hover;
mod outline;
mod position;
mod protocol;
mod rename;
mod server;
mod sheet;
mod surroundings;
mod tokens;
mod uri;

pub use conversation::serve;
pub use surroundings::{Bench, Surroundings};
