//! Tokens to a tree. Loosest first: `or`, `and`, `not`, one comparison, `+ -`, `* /`, a leading minus.

use super::ExpressionError;
use super::lexer::{Token, TokenKind};
use super::syntax::{Node, NodeKind, Operator};

/// Deeper nesting than any rule needs; keeps the stack within bounds whatever the input.
const DEEPEST: usize = 48;

pub(super) fn parse(tokens: &[Token], length: usize) -> Result<Node, ExpressionError> {
    let mut parser = Parser { tokens, next: 0, length, depth: 0 };
    let node = parser.either()?;
    match parser.peek() {
        None => Ok(node),
        Some(token) => Err(ExpressionError::new(
            token.start,
            token.end,
            "the expression should end here",
            "an operator is missing before this",
        )),
    }
}

struct Parser<'a> {
    tokens: &'a [Token],
    next: usize,
    length: usize,
    depth: usize,
}

impl Parser<'_> {
    fn peek(&self) -> Option<&Token> {
        self.tokens.get(self.next)
    }

    fn take_operator(&mut self, wanted: &[Operator]) -> Option<Operator> {
        match self.peek().map(|token| &token.what) {
            Some(TokenKind::Operator(operator)) if wanted.contains(operator) => {
                let operator = *operator;
                self.next += 1;
                Some(operator)
            }
            _ => None,
        }
    }

    fn take(&mut self, wanted: &TokenKind) -> Option<usize> {
        let token = self.peek()?;
        if &token.what != wanted {
            return None;
        }
        let end = token.end;
        self.next += 1;
        Some(end)
    }

    fn missing(&self, what: &str) -> ExpressionError {
        match self.peek() {
            Some(token) => {
                ExpressionError::new(token.start, token.end, format!("{what} is wanted here"), "found this instead")
            }
            None => ExpressionError::new(
                self.length,
                self.length,
                format!("the expression ends where {what} is wanted"),
                "ends here",
            ),
        }
    }

    fn deeper<T>(&mut self, read: impl FnOnce(&mut Self) -> Result<T, ExpressionError>) -> Result<T, ExpressionError> {
        if self.depth >= DEEPEST {
            let at = self.peek().map_or(self.length, |token| token.start);
            return Err(ExpressionError::new(at, self.length, "the expression is nested too deeply", "from here on"));
        }
        self.depth += 1;
        let outcome = read(self);
        self.depth -= 1;
        outcome
    }

    fn chain(
        &mut self,
        operators: &[Operator],
        side: fn(&mut Self) -> Result<Node, ExpressionError>,
    ) -> Result<Node, ExpressionError> {
        let mut left = side(self)?;
        let mut links = 0;
        while let Some(operator) = self.take_operator(operators) {
            links += 1;
            if links > DEEPEST {
                return Err(ExpressionError::new(
                    left.start,
                    self.length,
                    "the expression is too long",
                    "from here on",
                ));
            }
            let right = side(self)?;
            left = joined(operator, left, right);
        }
        Ok(left)
    }

    fn either(&mut self) -> Result<Node, ExpressionError> {
        self.chain(&[Operator::Or], Self::both)
    }

    fn both(&mut self) -> Result<Node, ExpressionError> {
        self.chain(&[Operator::And], Self::negated)
    }

    fn negated(&mut self) -> Result<Node, ExpressionError> {
        let start = self.peek().map_or(self.length, |token| token.start);
        if self.take(&TokenKind::Not).is_some() {
            let inner = self.deeper(Self::negated)?;
            return Ok(Node { start, end: inner.end, what: NodeKind::Not(Box::new(inner)) });
        }
        self.comparison()
    }

    fn comparison(&mut self) -> Result<Node, ExpressionError> {
        const COMPARISONS: [Operator; 6] = [
            Operator::Less,
            Operator::LessOrEqual,
            Operator::Greater,
            Operator::GreaterOrEqual,
            Operator::Equal,
            Operator::Unequal,
        ];
        let left = self.sum()?;
        let Some(operator) = self.take_operator(&COMPARISONS) else {
            return Ok(left);
        };
        let right = self.sum()?;
        if let Some(token) = self.peek()
            && matches!(&token.what, TokenKind::Operator(o) if o.compares())
        {
            return Err(ExpressionError::new(
                token.start,
                token.end,
                "comparisons cannot be chained",
                "a second comparison",
            )
            .help("join two comparisons with `and`"));
        }
        Ok(joined(operator, left, right))
    }

    fn sum(&mut self) -> Result<Node, ExpressionError> {
        self.chain(&[Operator::Add, Operator::Subtract], Self::product)
    }

    fn product(&mut self) -> Result<Node, ExpressionError> {
        self.chain(&[Operator::Multiply, Operator::Divide], Self::signed)
    }

    fn signed(&mut self) -> Result<Node, ExpressionError> {
        let start = self.peek().map_or(self.length, |token| token.start);
        if self.take_operator(&[Operator::Subtract]).is_some() {
            let inner = self.deeper(Self::signed)?;
            return Ok(Node { start, end: inner.end, what: NodeKind::Negate(Box::new(inner)) });
        }
        self.atom()
    }

    fn atom(&mut self) -> Result<Node, ExpressionError> {
        let Some(token) = self.peek() else {
            return Err(self.missing("a value"));
        };
        let (start, end) = (token.start, token.end);
        let what = match &token.what {
            TokenKind::Number(value, dimension) => NodeKind::Number(*value, *dimension),
            TokenKind::Word(word) => NodeKind::Word(word.clone()),
            TokenKind::Flag(flag) => NodeKind::Flag(*flag),
            TokenKind::Name(name) => {
                let name = name.clone();
                self.next += 1;
                return self.named(name, start, end);
            }
            TokenKind::Open => {
                self.next += 1;
                let inner = self.deeper(Self::either)?;
                let Some(end) = self.take(&TokenKind::Close) else {
                    return Err(self.missing("`)`"));
                };
                return Ok(Node { start, end, ..inner });
            }
            _ => return Err(self.missing("a value")),
        };
        self.next += 1;
        Ok(Node { what, start, end })
    }

    fn named(&mut self, name: String, start: usize, end: usize) -> Result<Node, ExpressionError> {
        if self.take(&TokenKind::Open).is_none() {
            return Ok(Node { what: NodeKind::Name(name), start, end });
        }
        let mut arguments = Vec::new();
        if let Some(end) = self.take(&TokenKind::Close) {
            let what = NodeKind::Call(name, arguments);
            return Ok(Node { what, start, end });
        }
        loop {
            arguments.push(self.deeper(Self::either)?);
            if let Some(end) = self.take(&TokenKind::Close) {
                let what = NodeKind::Call(name, arguments);
                return Ok(Node { what, start, end });
            }
            if self.take(&TokenKind::Comma).is_none() {
                return Err(self.missing("`,` or `)`"));
            }
        }
    }
}

fn joined(operator: Operator, left: Node, right: Node) -> Node {
    Node { start: left.start, end: right.end, what: NodeKind::Binary(operator, Box::new(left), Box::new(right)) }
}
