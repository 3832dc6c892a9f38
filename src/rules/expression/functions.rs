//! The functions that expressions may call, apart from `known` and `shelf`, which look at facts instead of values.

/// A function of values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Function {
    /// The least of two or more.
    Min,
    /// The greatest of two or more.
    Max,
    /// Without its sign.
    Abs,
    /// Square root.
    Sqrt,
    /// Natural logarithm of a plain number.
    Ln,
    /// `pick(condition, a, b)`: `a` where the condition holds, else `b`; only the one picked is looked at.
    Pick,
}

/// All names that can be called.
pub(super) const CALLABLE: [&str; 8] = ["min", "max", "abs", "sqrt", "ln", "known", "shelf", "pick"];

impl Function {
    pub(super) fn named(name: &str) -> Option<Self> {
        Some(match name {
            "min" => Self::Min,
            "max" => Self::Max,
            "abs" => Self::Abs,
            "sqrt" => Self::Sqrt,
            "ln" => Self::Ln,
            "pick" => Self::Pick,
            _ => return None,
        })
    }

    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Min => "min",
            Self::Max => "max",
            Self::Abs => "abs",
            Self::Sqrt => "sqrt",
            Self::Ln => "ln",
            Self::Pick => "pick",
        }
    }

    pub(super) fn takes(self, count: usize) -> bool {
        match self {
            Self::Min | Self::Max => count >= 2,
            Self::Abs | Self::Sqrt | Self::Ln => count == 1,
            Self::Pick => count == 3,
        }
    }

    pub(super) fn wants(self) -> &'static str {
        match self {
            Self::Min | Self::Max => "two values or more",
            Self::Abs | Self::Sqrt | Self::Ln => "one value",
            Self::Pick => "a condition and two values",
        }
    }
}
