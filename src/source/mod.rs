//! Files, spans, and text split into statements: everything that is about text and nothing that is about electronics.
//!
//! The `kdl` crate is named in one module here and nowhere else.

mod complaint;
mod cursor;
mod diagnose;
mod kdl_bridge;
mod parse;
mod plain;
mod scan;
mod span;
mod split;
mod statement;
mod tidy;

pub use complaint::{Complaint, Severity};
pub use cursor::{Cursor, cursor};
pub use parse::{parse, parse_text, states};
pub use span::{FileId, SourceFile, Sources, Span, Spanned};
pub use statement::{Property, Scalar, Statement};
pub use tidy::tidy;
