//! Arithmetic of dimensions: `waist_girth / hip_girth`, `(a + b) / 2`.
//!
//! Numbers, names of dimensions, `+ - * /`, a sign before an operand, and parentheses, with the usual precedence.

use std::collections::BTreeSet;

/// An expression, as steps for a stack: operands before their operator.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Expression {
    steps: Vec<Step>,
}

#[derive(Debug, Clone, PartialEq)]
enum Step {
    Number(f64),
    Name(String),
    Negate,
    Operate(char),
}

/// Deeper parentheses than this are refused.
const DEEPEST: usize = 64;

struct Parser<'a> {
    text: &'a str,
    at: usize,
    depth: usize,
    steps: Vec<Step>,
}

impl Expression {
    /// Reads an expression.
    ///
    /// # Errors
    /// What is wrong and where, in words.
    pub(crate) fn parse(text: &str) -> Result<Self, String> {
        let mut parser = Parser { text, at: 0, depth: 0, steps: Vec::new() };
        parser.sum()?;
        parser.skip();
        if parser.at < text.len() {
            return Err(parser.fault("an operator (+ - * /) or the end"));
        }
        Ok(Self { steps: parser.steps })
    }

    /// The names in it.
    pub(crate) fn names(&self) -> BTreeSet<&str> {
        self.steps
            .iter()
            .filter_map(|s| if let Step::Name(n) = s { Some(n.as_str()) } else { None })
            .collect()
    }

    /// Its value.
    ///
    /// # Errors
    /// Why there is none: a name without a value (as `value` says), or a division by zero.
    pub(crate) fn evaluate(&self, value: impl Fn(&str) -> Result<f64, String>) -> Result<f64, String> {
        let mut stack = Vec::new();
        for step in &self.steps {
            let result = match step {
                Step::Number(n) => *n,
                Step::Name(name) => value(name)?,
                Step::Negate => -stack.pop().unwrap_or(f64::NAN),
                Step::Operate(operator) => {
                    let b: f64 = stack.pop().unwrap_or(f64::NAN);
                    let a: f64 = stack.pop().unwrap_or(f64::NAN);
                    match operator {
                        '+' => a + b,
                        '-' => a - b,
                        '*' => a * b,
                        _ if b == 0.0 => return Err("it divides by zero".to_owned()),
                        _ => a / b,
                    }
                }
            };
            stack.push(result);
        }
        match stack.pop() {
            Some(v) if v.is_finite() => Ok(v),
            _ => Err("its value is not a finite number".to_owned()),
        }
    }
}

impl Parser<'_> {
    fn rest(&self) -> &str {
        &self.text[self.at..]
    }

    fn skip(&mut self) {
        self.at = self.text.len() - self.rest().trim_start().len();
    }

    fn fault(&self, wanted: &str) -> String {
        let found = match self.rest().chars().next() {
            None => "it ends".to_owned(),
            Some(c) => format!("there is `{c}`"),
        };
        format!(
            "formula `{}`: at character {} {found} where {wanted} should be",
            self.text,
            self.text[..self.at].chars().count() + 1
        )
    }

    /// The next character, if it is one of these, is taken.
    fn take(&mut self, wanted: &[char]) -> Option<char> {
        self.skip();
        let c = self.rest().chars().next().filter(|c| wanted.contains(c))?;
        self.at += c.len_utf8();
        Some(c)
    }

    fn sum(&mut self) -> Result<(), String> {
        self.product()?;
        while let Some(operator) = self.take(&['+', '-']) {
            self.product()?;
            self.steps.push(Step::Operate(operator));
        }
        Ok(())
    }

    fn product(&mut self) -> Result<(), String> {
        self.signed()?;
        while let Some(operator) = self.take(&['*', '/']) {
            self.signed()?;
            self.steps.push(Step::Operate(operator));
        }
        Ok(())
    }

    fn signed(&mut self) -> Result<(), String> {
        let mut negative = false;
        while let Some(sign) = self.take(&['-', '+']) {
            negative ^= sign == '-';
        }
        self.operand()?;
        if negative {
            self.steps.push(Step::Negate);
        }
        Ok(())
    }

    fn operand(&mut self) -> Result<(), String> {
        if self.take(&['(']).is_some() {
            self.depth += 1;
            if self.depth > DEEPEST {
                return Err(format!("formula: parentheses are nested more than {DEEPEST} deep"));
            }
            self.sum()?;
            self.depth -= 1;
            return match self.take(&[')']) {
                Some(_) => Ok(()),
                None => Err(self.fault("`)`")),
            };
        }
        let word: String =
            self.rest().chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_' || *c == '.').collect();
        let first = word.chars().next().ok_or_else(|| self.fault("a number, a dimension or `(`"))?;
        let step = if first.is_ascii_digit() || first == '.' {
            let number = word.parse::<f64>().ok().filter(|n| n.is_finite());
            Step::Number(number.ok_or_else(|| format!("formula `{}`: `{word}` is not a number", self.text))?)
        } else {
            Step::Name(word.clone())
        };
        self.at += word.len();
        self.steps.push(step);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(text: &str) -> Result<f64, String> {
        Expression::parse(text)?.evaluate(|n| match n {
            "waist" => Ok(800.0),
            "hip" => Ok(1000.0),
            _ => Err(format!("{n} is missing")),
        })
    }

    #[test]
    fn precedence_and_association_are_the_usual_ones() {
        for (text, expected) in [
            ("waist / hip", 0.8),
            ("1 + 2 * 3", 7.0),
            ("(1 + 2) * 3", 9.0),
            ("10 - 4 - 3", 3.0),
            ("24 / 4 / 2", 3.0),
            ("-2 * -(3 + 1)", 8.0),
            ("2 - -1", 3.0),
            ("0.5*(waist+hip)", 900.0),
            (" .5 ", 0.5),
            ("1.5e2", 150.0),
        ] {
            assert_eq!(value(text), Ok(expected), "{text}");
        }
        assert_eq!(
            Expression::parse("a + b * a").unwrap().names().into_iter().collect::<Vec<_>>(),
            ["a", "b"]
        );
    }

    #[test]
    fn faults_say_where() {
        assert!(value("waist /").unwrap_err().contains("it ends"));
        assert!(value("waist hip").unwrap_err().contains("character 7"));
        assert!(value("(1 + 2").unwrap_err().contains("`)`"));
        assert!(value("1 $ 2").unwrap_err().contains("`$`"));
        assert!(value("1.2.3").unwrap_err().contains("1.2.3"));
        assert!(value("").is_err() && value("()").is_err() && value("ä").is_err());
        assert!(value("1 / (waist - 800)").unwrap_err().contains("zero"));
        assert!(value("chest / 2").unwrap_err().contains("chest is missing"));
        assert!(value(&"(".repeat(100_000)).is_err());
        assert!(value(&format!("{}1", "-".repeat(100_000))).is_ok());
    }
}
