//! The tree of an expression as written, before names mean anything.

use crate::units::Dimension;

/// Operators with two sides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Operator {
    Add,
    Subtract,
    Multiply,
    Divide,
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
    Equal,
    Unequal,
    And,
    Or,
}

impl Operator {
    pub(super) fn sign(self) -> &'static str {
        match self {
            Self::Add => "+",
            Self::Subtract => "-",
            Self::Multiply => "*",
            Self::Divide => "/",
            Self::Less => "<",
            Self::LessOrEqual => "<=",
            Self::Greater => ">",
            Self::GreaterOrEqual => ">=",
            Self::Equal => "==",
            Self::Unequal => "!=",
            Self::And => "and",
            Self::Or => "or",
        }
    }

    pub(super) fn compares(self) -> bool {
        matches!(
            self,
            Self::Less | Self::LessOrEqual | Self::Greater | Self::GreaterOrEqual | Self::Equal | Self::Unequal
        )
    }
}

/// A node with its byte range.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Node {
    pub(super) what: NodeKind,
    pub(super) start: usize,
    pub(super) end: usize,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) enum NodeKind {
    Number(f64, Dimension),
    Word(String),
    Flag(bool),
    Name(String),
    Negate(Box<Node>),
    Not(Box<Node>),
    Binary(Operator, Box<Node>, Box<Node>),
    Call(String, Vec<Node>),
}
