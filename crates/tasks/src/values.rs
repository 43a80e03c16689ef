//! Holds values against the fields that they are given for: unknown keys, wrong types, values out of range, all at once.

use formkin_table::near::advice;
use serde_json::Value;

use crate::fields::{Field, Kind};
use crate::problem::{Problems, shown};

/// What is wrong with the values of a table. `at` is the path of the table within its section, empty for the section itself.
pub fn check_values(fields: &[Field], values: &Value, at: &str, problems: &mut Problems) {
    let under = |name: &str| if at.is_empty() { name.to_owned() } else { format!("{at}.{name}") };
    let Some(values) = values.as_object() else {
        problems.wrong(at, format!("it is {}", word_of(values)), "it must be a table of keys and values");
        return;
    };
    for name in values.keys().filter(|name| !fields.iter().any(|f| f.name == **name)) {
        let near = advice(name, fields.iter().map(|f| f.name.as_str()));
        problems.wrong(&under(name), "there is no such key", near);
    }
    for field in fields {
        match values.get(&field.name) {
            None | Some(Value::Null) if field.optional => {}
            None | Some(Value::Null) => {
                problems.wrong(
                    &under(&field.name),
                    "it is missing",
                    "add it; docs/reference.md describes it",
                );
            }
            Some(value) => {
                check_value(&field.kind, field.unit.as_deref(), value, &under(&field.name), problems)
            }
        }
    }
}

fn check_value(kind: &Kind, unit: Option<&str>, value: &Value, at: &str, problems: &mut Problems) {
    let fits = match (kind, value) {
        (Kind::Table(fields), _) => return check_values(fields, value, at, problems),
        (Kind::List(inner), Value::Array(list)) => {
            return list.iter().for_each(|v| check_value(inner, unit, v, at, problems));
        }
        (Kind::Fixed(inner, n), Value::Array(list)) => {
            if list.len() != *n {
                let wrong = format!("it has {} values", list.len());
                return problems.wrong(at, wrong, format!("it must be a list of {n}"));
            }
            return list.iter().for_each(|v| check_value(inner, unit, v, at, problems));
        }
        (Kind::Pairs(inner), Value::Object(pairs)) => {
            return pairs
                .iter()
                .for_each(|(name, v)| check_value(inner, unit, v, &format!("{at}.{name}"), problems));
        }
        (Kind::Choice(words), Value::String(word)) => {
            if !words.iter().any(|w| w.0 == *word) {
                let near = advice(word, words.iter().map(|w| w.0.as_str()));
                problems.wrong(at, format!("there is no `{word}`"), near);
            }
            return;
        }
        (Kind::NumberOrWord(_, words), Value::String(word)) => words.contains(word),
        (Kind::Number(range) | Kind::NumberOrWord(range, _), Value::Number(n)) => {
            let n = n.as_f64().unwrap_or(f64::NAN);
            return problems.within(at, range.holds(n), shown(n), &range.in_words(false, unit));
        }
        (Kind::Whole(range), Value::Number(n)) if n.is_i64() || n.is_u64() => {
            let n = n.as_f64().unwrap_or(f64::NAN);
            return problems.within(at, range.holds(n), shown(n), &range.in_words(true, unit));
        }
        (Kind::Flag, Value::Bool(_)) | (Kind::Word, Value::String(_)) => true,
        _ => false,
    };
    if !fits {
        problems.wrong(at, format!("it is {}", word_of(value)), format!("it must be {}", wanted(kind, unit)));
    }
}

/// What may be given, in words.
#[must_use]
pub fn wanted(kind: &Kind, unit: Option<&str>) -> String {
    match kind {
        Kind::Flag => "true or false".to_owned(),
        Kind::Whole(range) => typed("a whole number", &range.in_words(true, unit)),
        Kind::Number(range) => typed("a number", &range.in_words(false, unit)),
        Kind::NumberOrWord(range, words) => {
            let words: Vec<String> = words.iter().map(|w| format!("\"{w}\"")).collect();
            format!("{}, or {}", range.in_words(false, unit), words.join(", "))
        }
        Kind::Word => "words in quotation marks".to_owned(),
        Kind::Choice(words) => words.iter().map(|w| format!("\"{}\"", w.0)).collect::<Vec<_>>().join(" or "),
        Kind::List(_) => "a list, [a, b, ..]".to_owned(),
        Kind::Fixed(_, n) => format!("a list of {n}"),
        Kind::Pairs(_) | Kind::Table(_) => "a table of keys and values".to_owned(),
    }
}

/// A range with what lies in it said first.
fn typed(noun: &str, range: &str) -> String {
    if range.starts_with(noun) { range.to_owned() } else { format!("{noun}, {range}") }
}

fn word_of(value: &Value) -> String {
    match value {
        Value::Array(_) => "a list".to_owned(),
        Value::Object(_) => "a table".to_owned(),
        Value::Null => "empty".to_owned(),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::fields::Range;
    use crate::problem::Given;

    #[test]
    fn everything_wrong_is_said_at_once() {
        let field = |name: &str, kind| Field {
            name: name.to_owned(),
            option: None,
            position: None,
            about: String::new(),
            unit: None,
            value: None,
            kind,
            optional: true,
            default: Value::Null,
            rare: false,
            study: false,
            words: Vec::new(),
            without: None,
            switch: false,
        };
        let whole = Kind::Whole(Range { least: Some(1.0), most: Some(1e6), ..Range::default() });
        let open = Kind::Number(Range { above: Some(0.0), under: Some(1.0), ..Range::default() });
        let cutoff =
            Kind::NumberOrWord(Range { above: Some(0.0), ..Range::default() }, vec!["residual".into()]);
        let words = Kind::Choice(vec![("stills".into(), String::new()), ("all".into(), String::new())]);
        let fields = [
            field("folds", whole.clone()),
            field("level", open),
            field("cutoff", cutoff),
            field("items", words),
            field("by", Kind::List(Box::new(Kind::Word))),
            field("strain", Kind::Table(vec![field("modes", whole)])),
        ];
        let values = json!({
            "folde": 3, "folds": 0, "level": 7, "cutoff": "often", "items": "still", "by": "sex", "strain": { "modes": -1 },
        });
        let mut problems = Problems::new(Given::Section("space".into()));
        check_values(&fields, &values, "", &mut problems);
        let said: Vec<String> = problems.found.iter().map(ToString::to_string).collect();
        for (words, key) in [
            ("space.folde: there is no such key; did you mean `folds`?", "folde"),
            ("space.folds: it is 0; it must be 1 to 1000000", "folds"),
            ("space.level: it is 7; it must be above 0 and under 1", "level"),
            ("space.cutoff: it is \"often\"; it must be a number above 0, or \"residual\"", "cutoff"),
            ("space.items: there is no `still`; did you mean `stills`?", "items"),
            ("space.by: it is \"sex\"; it must be a list, [a, b, ..]", "by"),
            ("space.strain.modes: it is -1; it must be 1 to 1000000", "modes"),
        ] {
            assert!(said.iter().any(|s| s == words), "{key}: {said:#?}");
        }
    }
}
