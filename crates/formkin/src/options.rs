//! The options of a command, made from the fields of its task, and the values that a person gave for them.

use std::ffi::OsString;

use anyhow::{Context, bail};
use clap::builder::PossibleValue;
use clap::{Arg, ArgAction, ArgMatches};
use formkin_tasks::fields::{Field, Kind, Range, Settings};
use formkin_tasks::values::wanted;
use serde_json::{Map, Number, Value};

/// What options that are seldom needed are headed with.
const RARE: &str = "Rarer options";

/// The options of fields.
pub(crate) fn args(fields: &[Field]) -> Vec<Arg> {
    fields.iter().flat_map(|f| field_args(f, &f.name)).collect()
}

/// The options of one field; `id` is its path within the settings.
fn field_args(field: &Field, id: &str) -> Vec<Arg> {
    if let Kind::Table(inner) = &field.kind {
        let switch = field.switch.then(|| field.option.clone()).flatten();
        let switch = switch.map(|o| {
            let id = format!("{id}?");
            headed(Arg::new(id).long(o).action(ArgAction::SetTrue).help(field.about.clone()), field)
        });
        let of_table = field.option.as_deref();
        let own = inner.iter().flat_map(|f| {
            let mut f = f.clone();
            // an inner field without a name of its own is called after its table
            if let (Some(table), Some(option)) = (of_table, &f.option)
                && *option == f.name.replace('_', "-")
                && field.switch
            {
                f.option = Some(format!("{table}-{option}"));
            }
            f.rare |= field.rare;
            field_args(&f, &format!("{id}.{}", f.name))
        });
        return switch.into_iter().chain(own).collect();
    }
    let arg = Arg::new(id.to_owned());
    let arg = match (&field.option, field.position) {
        (_, Some(at)) => arg.index(at as usize).required(!field.optional),
        (Some(option), None) if is_unset(field) => {
            let help = field.without.clone().unwrap_or_else(|| format!("Not: {}", field.about));
            return vec![headed(
                arg.long(format!("no-{option}")).action(ArgAction::SetTrue).help(help),
                field,
            )];
        }
        (Some(option), None) => arg.long(option.clone()).required(!field.optional),
        (None, None) => return Vec::new(),
    };
    vec![headed(valued(arg, field), field)]
}

/// Whether the field is a flag that an option takes away.
fn is_unset(field: &Field) -> bool {
    field.kind == Kind::Flag && field.default == Value::Bool(true)
}

fn headed(arg: Arg, field: &Field) -> Arg {
    if field.rare { arg.help_heading(RARE) } else { arg }
}

fn valued(arg: Arg, field: &Field) -> Arg {
    let arg = arg.help(help(field));
    if field.kind == Kind::Flag {
        return arg.action(ArgAction::SetTrue);
    }
    let name = field.value.clone().unwrap_or_else(|| value_name(field));
    let arg = arg.value_name(name).allow_negative_numbers(true);
    let several = matches!(field.kind, Kind::List(_) | Kind::Pairs(_));
    let arg = match (several, field.position) {
        (true, Some(_)) => arg.num_args(1..).action(ArgAction::Append),
        (true, None) => arg.action(ArgAction::Append),
        (false, _) => arg,
    };
    match &field.kind {
        Kind::Choice(words) => {
            let words: Vec<PossibleValue> = words
                .iter()
                .map(|(word, about)| match about.is_empty() {
                    true => PossibleValue::new(word.clone()),
                    false => PossibleValue::new(word.clone()).help(about.clone()),
                })
                .collect();
            arg.value_parser(words)
        }
        Kind::Whole(range) => arg.value_parser(whole(*range)),
        Kind::Number(range) => arg.value_parser(number(*range, field.unit.clone())),
        kind @ Kind::NumberOrWord(range, words) => {
            let (range, words, wanted) = (*range, words.clone(), wanted(kind, field.unit.as_deref()));
            arg.value_parser(move |text: &str| {
                let fits = words.iter().any(|w| w == text) || text.parse().is_ok_and(|n| range.holds(n));
                if fits { Ok(text.to_owned()) } else { Err(format!("it must be {wanted}")) }
            })
        }
        _ => arg.value_parser(clap::value_parser!(OsString)),
    }
}

fn help(field: &Field) -> String {
    let default = match (&field.kind, &field.default) {
        (Kind::Flag | Kind::Choice(_), Value::Bool(_)) => None,
        (_, Value::String(word)) if !word.is_empty() => Some(word.clone()),
        (_, Value::Number(n)) => Some(n.as_f64().map_or_else(|| n.to_string(), |x| x.to_string())),
        _ => None,
    };
    match default {
        Some(default) => format!("{} [default: {default}]", field.about),
        None => field.about.clone(),
    }
}

fn value_name(field: &Field) -> String {
    match (&field.kind, &field.unit) {
        (Kind::Pairs(_), _) => "NAME=VALUE".to_owned(),
        (Kind::Fixed(_, 2), _) => "FROM:TO".to_owned(),
        (Kind::Number(_), Some(unit)) => unit.to_uppercase(),
        (Kind::Whole(_) | Kind::Number(_), _) => "N".to_owned(),
        _ => field.name.to_uppercase(),
    }
}

fn whole(range: Range) -> impl Fn(&str) -> Result<String, String> + Clone + Send + Sync + 'static {
    move |text: &str| {
        let wanted = || format!("it must be {}", wanted(&Kind::Whole(range), None));
        match text.parse::<i128>() {
            Ok(n) if n > i128::from(u64::MAX) => Err("the number is too large".to_owned()),
            Ok(n) if range.holds(n as f64) => Ok(text.to_owned()),
            _ => Err(wanted()),
        }
    }
}

fn number(
    range: Range,
    unit: Option<String>,
) -> impl Fn(&str) -> Result<String, String> + Clone + Send + Sync + 'static {
    move |text: &str| match text.parse::<f64>() {
        Ok(n) if range.holds(n) => Ok(text.to_owned()),
        Ok(_) => Err(format!("it must be {}", range.in_words(false, unit.as_deref()))),
        Err(_) => Err("it must be a number, with a decimal point".to_owned()),
    }
}

/// The values that were given, by the names of the fields; those that were not are absent.
fn values(fields: &[Field], matches: &ArgMatches) -> anyhow::Result<Map<String, Value>> {
    let mut found = Map::new();
    for field in fields {
        if let Some(value) = value(field, &field.name, matches)? {
            found.insert(field.name.clone(), value);
        }
    }
    Ok(found)
}

fn value(field: &Field, id: &str, matches: &ArgMatches) -> anyhow::Result<Option<Value>> {
    if let Kind::Table(inner) = &field.kind {
        let mut table = Map::new();
        for f in inner {
            if let Some(v) = value(f, &format!("{id}.{}", f.name), matches)? {
                table.insert(f.name.clone(), v);
            }
        }
        let asked = field.switch && field.option.is_some() && matches.get_flag(&format!("{id}?"));
        return Ok((asked || !table.is_empty()).then_some(Value::Object(table)));
    }
    if field.option.is_none() && field.position.is_none() {
        return Ok(None);
    }
    if field.kind == Kind::Flag {
        return Ok(matches.get_flag(id).then_some(Value::Bool(!is_unset(field))));
    }
    let Some(raw) = matches.get_raw(id) else { return Ok(None) };
    let option = field.option.as_deref().map_or_else(|| field.name.clone(), |o| format!("--{o}"));
    let words = raw
        .map(|w| {
            w.to_str().map(str::to_owned).with_context(|| format!("{option}: {} is not UTF-8", w.display()))
        })
        .collect::<anyhow::Result<Vec<String>>>()?;
    Ok(Some(match &field.kind {
        Kind::List(inner) => {
            Value::Array(words.iter().map(|w| single(inner, w, &option)).collect::<Result<_, _>>()?)
        }
        Kind::Pairs(inner) => {
            let mut pairs = Map::new();
            for word in &words {
                // a name of a dimension may hold the sign, and so may a word that is given
                let parts = match **inner {
                    Kind::Whole(_) | Kind::Number(_) => word.rsplit_once('='),
                    _ => word.split_once('='),
                };
                let Some((name, given)) = parts.filter(|(n, v)| !n.is_empty() && !v.is_empty()) else {
                    bail!("{option} {word}: give NAME=VALUE");
                };
                let value = single(inner, given, &format!("{option} {word}"))?;
                if pairs.insert(name.to_owned(), value).is_some() {
                    bail!("{option}: {name} is given twice");
                }
            }
            Value::Object(pairs)
        }
        kind => single(kind, words.last().map_or("", String::as_str), &option)?,
    }))
}

fn single(kind: &Kind, word: &str, option: &str) -> anyhow::Result<Value> {
    Ok(match kind {
        Kind::Whole(_) => match (word.parse::<u64>(), word.parse::<i64>()) {
            (Ok(n), _) => n.into(),
            (_, Ok(n)) => n.into(),
            _ => bail!("{option}: `{word}` is no whole number"),
        },
        Kind::Number(_) => float(word)
            .with_context(|| format!("{option}: `{word}` is no number; write it with a decimal point"))?,
        Kind::NumberOrWord(..) => float(word).unwrap_or_else(|| Value::String(word.to_owned())),
        Kind::Fixed(inner, n) => {
            let parts: Vec<&str> = word.split(':').map(str::trim).collect();
            if parts.len() != *n || parts.iter().any(|p| p.is_empty()) {
                bail!("{option} `{word}`: {} names in place of {n} joined by colons", parts.len());
            }
            Value::Array(parts.iter().map(|p| single(inner, p, option)).collect::<Result<_, _>>()?)
        }
        _ => Value::String(word.to_owned()),
    })
}

fn float(word: &str) -> Option<Value> {
    let n: f64 = word.parse().ok()?;
    // whole numbers keep being so, for settings that tell them apart
    match word.parse::<i64>() {
        Ok(n) => Some(n.into()),
        Err(_) => Number::from_f64(n).map(Value::Number),
    }
}

/// What was given for a settings struct, over its defaults.
pub(crate) fn given<S: Settings>(fields: &[Field], matches: &ArgMatches) -> anyhow::Result<S> {
    let mut whole = serde_json::to_value(S::default())?;
    let given = values(fields, matches)?;
    merge(&mut whole, given);
    serde_json::from_value(whole).context("the options do not go together")
}

fn merge(whole: &mut Value, given: Map<String, Value>) {
    let Some(object) = whole.as_object_mut() else {
        *whole = Value::Object(given);
        return;
    };
    for (name, value) in given {
        match value {
            Value::Object(inner) if object.get(&name).is_some_and(Value::is_object) => {
                if let Some(at) = object.get_mut(&name) {
                    merge(at, inner);
                }
            }
            value => {
                object.insert(name, value);
            }
        }
    }
}
