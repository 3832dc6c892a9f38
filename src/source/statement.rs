//! A statement as the rooms above see it: a name, arguments, properties, children, each with its span.
//!
//! Neutral of the parser: no type of the `kdl` crate passes this point.

use super::{Span, Spanned};

/// A value as written.
#[derive(Clone, Debug, PartialEq)]
pub enum Scalar {
    /// A string, quoted or bare.
    Text(String),
    /// A finite number.
    Number(f64),
    /// `#true` or `#false`.
    Flag(bool),
    /// `#null`.
    Null,
}

/// `name=value`.
#[derive(Clone, Debug, PartialEq)]
pub struct Property {
    /// The key.
    pub name: Spanned<String>,
    /// The value; its span covers the value as written, quotes included.
    pub value: Spanned<Scalar>,
}

/// One node with everything in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Statement {
    /// The node's name.
    pub name: Spanned<String>,
    /// Positional values.
    pub arguments: Vec<Spanned<Scalar>>,
    /// Named values, in order, each name once.
    pub properties: Vec<Property>,
    /// The nodes between its braces.
    pub children: Vec<Statement>,
    /// From the name to the end of the last argument, property or closing brace, no trailing blanks.
    pub span: Span,
    /// Whether something of it could not be read; there is a complaint already, so what is missing needs no other.
    pub broken: bool,
}

impl Statement {
    /// The property of a name.
    #[must_use]
    pub fn property(&self, name: &str) -> Option<&Property> {
        self.properties.iter().find(|property| property.name.value == name)
    }

    /// The argument at a position.
    #[must_use]
    pub fn argument(&self, index: usize) -> Option<&Spanned<Scalar>> {
        self.arguments.get(index)
    }
}
