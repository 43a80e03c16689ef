//! The fields of a settings struct, read from its schema: name, meaning, unit, range, default. The section of the study file, the options of
//! the command and the reference are all made from them.
//!
//! A settings struct derives `serde` and [`schemars::JsonSchema`]. Doc comments become help; `#[schemars(range(min = 1))]` a range;
//! `#[schemars(extend("unit" = "mm"))]` a unit. Further words of `extend`:
//!
//! | word | meaning |
//! |---|---|
//! | `exclusiveMinimum`, `exclusiveMaximum` | open ends of a range |
//! | `position` | on the command line it is an argument without a name, at this place |
//! | `option` | the name of its option where it is not that of the field; `"-"` for none: it is a key of the study file alone |
//! | `value` | what stands for its value in the help |
//! | `rare` | its option stands among the rarer ones |
//! | `without` | the help of the option `--no-NAME` of a flag that is set unless it is given |
//! | `switch` | a table that may be absent is asked for by an option of its own name too |
//! | `study` | a source that is also a key of the study file |
//! | `words` | values of a source that are words and no paths |

use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

/// A struct of settings: plain fields with defaults and doc comments.
pub trait Settings:
    Serialize
    + DeserializeOwned
    + JsonSchema
    + Default
    + Clone
    + PartialEq
    + std::fmt::Debug
    + Send
    + Sync
    + 'static
{
}

impl<T> Settings for T where
    T: Serialize
        + DeserializeOwned
        + JsonSchema
        + Default
        + Clone
        + PartialEq
        + std::fmt::Debug
        + Send
        + Sync
        + 'static
{
}

/// No settings, or no sources.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Nothing {}

/// One field.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Its key in the study file and in JSON.
    pub name: String,
    /// Its option on the command line, without dashes; none where it has none.
    pub option: Option<String>,
    /// Its place on the command line, from 1, where it is an argument without a name.
    pub position: Option<u64>,
    /// What it is, in words.
    pub about: String,
    /// Its unit.
    pub unit: Option<String>,
    /// What stands for its value in the help.
    pub value: Option<String>,
    /// What may be given.
    pub kind: Kind,
    /// Whether it may be left out.
    pub optional: bool,
    /// What it is where it is left out.
    pub default: Value,
    /// Whether its option stands among the rarer ones.
    pub rare: bool,
    /// Whether, as a source, it is a key of the study file too.
    pub study: bool,
    /// Values that are words, where others are paths.
    pub words: Vec<String>,
    /// The help of the option that unsets a flag.
    pub without: Option<String>,
    /// Whether a table that may be absent is asked for by an option of its own name too.
    pub switch: bool,
}

/// What may be given for a field.
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// True or false.
    Flag,
    /// A whole number.
    Whole(Range),
    /// A number.
    Number(Range),
    /// A number, or one of some words.
    NumberOrWord(Range, Vec<String>),
    /// Words or a path.
    Word,
    /// One of some words, each with its meaning.
    Choice(Vec<(String, String)>),
    /// Several of something.
    List(Box<Kind>),
    /// So many of something.
    Fixed(Box<Kind>, usize),
    /// Values by name.
    Pairs(Box<Kind>),
    /// Fields in a table of their own.
    Table(Vec<Field>),
}

/// A range of numbers.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Range {
    /// The least value.
    pub least: Option<f64>,
    /// The greatest value.
    pub most: Option<f64>,
    /// What values lie above.
    pub above: Option<f64>,
    /// What values lie under.
    pub under: Option<f64>,
}

impl Range {
    fn of(schema: &Map<String, Value>) -> Self {
        let at = |key: &str| schema.get(key).and_then(Value::as_f64);
        Self {
            least: at("minimum"),
            most: at("maximum"),
            above: at("exclusiveMinimum"),
            under: at("exclusiveMaximum"),
        }
    }

    /// Whether a value lies in it.
    #[must_use]
    pub fn holds(&self, value: f64) -> bool {
        value.is_finite()
            && self.least.is_none_or(|l| value >= l)
            && self.most.is_none_or(|m| value <= m)
            && self.above.is_none_or(|a| value > a)
            && self.under.is_none_or(|u| value < u)
    }

    /// The range in words, such as `1 to 1000000` or `a number of mm above 0`.
    #[must_use]
    pub fn in_words(&self, whole: bool, unit: Option<&str>) -> String {
        let noun = match (whole, unit) {
            (true, _) => "a whole number".to_owned(),
            (false, Some(unit)) => format!("a number of {unit}"),
            (false, None) => "a number".to_owned(),
        };
        match (self.least, self.most, self.above, self.under) {
            (Some(least), Some(most), ..) => format!("{least} to {most}"),
            (Some(least), None, _, Some(under)) => format!("{least} or more, and under {under}"),
            (Some(least), ..) if whole && least > 0.0 => format!("{least} or more"),
            (Some(least), ..) => format!("{noun}, {least} or more"),
            (_, Some(most), Some(above), _) => format!("above {above}, and {most} at most"),
            (_, _, Some(above), Some(under)) => format!("above {above} and under {under}"),
            (_, Some(most), ..) => format!("{noun}, {most} at most"),
            (_, _, Some(above), _) => format!("{noun} above {above}"),
            (_, _, _, Some(under)) => format!("{noun} under {under}"),
            _ => noun,
        }
    }
}

/// The fields of a settings struct, in order.
#[must_use]
pub fn fields<S: Settings>() -> Vec<Field> {
    let mut settings = SchemaSettings::draft2020_12();
    settings.inline_subschemas = true;
    let schema = settings.into_generator().into_root_schema_for::<S>();
    let defaults = serde_json::to_value(S::default()).unwrap_or(Value::Null);
    schema.as_object().map(|object| table(object, &defaults)).unwrap_or_default()
}

fn table(schema: &Map<String, Value>, defaults: &Value) -> Vec<Field> {
    let required: Vec<&str> = schema
        .get("required")
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
        .collect();
    let properties = schema.get("properties").and_then(Value::as_object).into_iter().flatten();
    properties
        .filter_map(|(name, s)| {
            let default = defaults.get(name).cloned().unwrap_or(Value::Null);
            Some(field(name, s.as_object()?, default, required.contains(&name.as_str())))
        })
        .collect()
}

fn field(name: &str, schema: &Map<String, Value>, default: Value, required: bool) -> Field {
    let text = |key: &str| schema.get(key).and_then(Value::as_str).map(str::to_owned);
    let words = schema.get("words").and_then(Value::as_array).into_iter().flatten();
    let option = match text("option") {
        Some(word) if word == "-" => None,
        Some(word) => Some(word),
        None => Some(name.replace('_', "-")),
    };
    let kind = kind(schema, &default);
    // a default of the whole struct does not make a file or a column that it cannot do without one that may be left out
    let needed = required || schema.get("needed").and_then(Value::as_bool).unwrap_or(false);
    Field {
        name: name.to_owned(),
        option,
        position: schema.get("position").and_then(Value::as_u64),
        about: text("description").unwrap_or_default().split_whitespace().collect::<Vec<_>>().join(" "),
        unit: text("unit"),
        value: text("value"),
        optional: !needed,
        default: if needed { Value::Null } else { default },
        rare: schema.get("rare").and_then(Value::as_bool).unwrap_or(false),
        study: schema.get("study").and_then(Value::as_bool).unwrap_or(false),
        words: words.filter_map(Value::as_str).map(str::to_owned).collect(),
        without: text("without"),
        switch: schema.get("switch").and_then(Value::as_bool).unwrap_or(false),
        kind,
    }
}

/// The kind of a schema, with `null` beside it taken away.
fn kind(schema: &Map<String, Value>, default: &Value) -> Kind {
    let several = ["anyOf", "oneOf"].iter().find_map(|key| schema.get(*key)).and_then(Value::as_array);
    if let Some(several) = several {
        let parts: Vec<&Map<String, Value>> =
            several.iter().filter_map(Value::as_object).filter(|o| type_of(o) != Some("null")).collect();
        if let [one] = parts[..]
            && one.get("const").is_none()
        {
            return kind(one, default);
        }
        let number = parts.iter().find(|p| matches!(type_of(p), Some("number" | "integer")));
        let choices = parts.iter().flat_map(|p| choices(p)).collect::<Vec<_>>();
        return match number {
            Some(number) => Kind::NumberOrWord(Range::of(number), choices.into_iter().map(|c| c.0).collect()),
            None => Kind::Choice(choices),
        };
    }
    let named = choices(schema);
    if !named.is_empty() {
        return Kind::Choice(named);
    }
    match type_of(schema) {
        Some("boolean") => Kind::Flag,
        Some("integer") => Kind::Whole(Range::of(schema)),
        Some("number") => Kind::Number(Range::of(schema)),
        Some("array") => {
            let items = schema.get("items").and_then(Value::as_object);
            let inner = Box::new(items.map_or(Kind::Word, |i| kind(i, &Value::Null)));
            match schema.get("minItems").and_then(Value::as_u64) {
                Some(n) if schema.get("maxItems").and_then(Value::as_u64) == Some(n) => {
                    Kind::Fixed(inner, n as usize)
                }
                _ => Kind::List(inner),
            }
        }
        Some("object") => match schema.get("additionalProperties").and_then(Value::as_object) {
            Some(values) => Kind::Pairs(Box::new(kind(values, &Value::Null))),
            None => Kind::Table(table(schema, default)),
        },
        _ => Kind::Word,
    }
}

fn type_of(schema: &Map<String, Value>) -> Option<&str> {
    match schema.get("type")? {
        Value::String(word) => Some(word),
        Value::Array(list) => list.iter().filter_map(Value::as_str).find(|w| *w != "null"),
        _ => None,
    }
}

/// The words of an enumeration, each with its meaning.
fn choices(schema: &Map<String, Value>) -> Vec<(String, String)> {
    // words with a meaning each stand in a list of their own, also inside another one
    let inner =
        ["anyOf", "oneOf"].iter().filter_map(|key| schema.get(*key)).filter_map(Value::as_array).flatten();
    let inner: Vec<_> = inner.filter_map(Value::as_object).flat_map(choices).collect();
    if !inner.is_empty() {
        return inner;
    }
    let about = schema.get("description").and_then(Value::as_str).unwrap_or_default();
    if let Some(word) = schema.get("const").and_then(Value::as_str) {
        return vec![(word.to_owned(), about.to_owned())];
    }
    let words = schema.get("enum").and_then(Value::as_array).into_iter().flatten();
    words.filter_map(Value::as_str).map(|w| (w.to_owned(), String::new())).collect()
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    /// How bodies are laid out.
    #[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
    #[serde(rename_all = "kebab-case")]
    enum Layout {
        /// In steps
        #[default]
        Diffusion,
        /// By coefficients
        Plain,
    }

    #[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
    #[serde(deny_unknown_fields, default)]
    struct Inner {
        /// Over how many millimetres
        #[schemars(extend("unit" = "mm", "exclusiveMinimum" = 0))]
        smoothing_mm: f64,
    }

    impl Default for Inner {
        fn default() -> Self {
            Self { smoothing_mm: 25.0 }
        }
    }

    #[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
    #[serde(deny_unknown_fields, default)]
    struct Example {
        /// How many modes; all where absent
        #[schemars(range(min = 1), extend("value" = "K"))]
        modes: Option<usize>,
        /// How
        layout: Layout,
        /// Where
        other: Option<Layout>,
        /// Leave nothing out
        whole: bool,
        /// The columns
        by: Vec<String>,
        /// Strain
        strain: Option<Inner>,
        /// Values by name
        values: std::collections::BTreeMap<String, f64>,
        /// An axis
        axis: Option<[String; 2]>,
    }

    impl Default for Example {
        fn default() -> Self {
            Self {
                modes: None,
                layout: Layout::Diffusion,
                other: None,
                whole: true,
                by: Vec::new(),
                strain: None,
                values: Default::default(),
                axis: None,
            }
        }
    }

    #[test]
    fn a_struct_tells_its_fields() {
        let fields = fields::<Example>();
        let of = |name: &str| fields.iter().find(|f| f.name == name).unwrap();
        let Kind::Whole(range) = of("modes").kind else { panic!("{:?}", of("modes")) };
        assert_eq!((range.least, range.in_words(true, None).as_str()), (Some(1.0), "1 or more"));
        assert_eq!(of("modes").about, "How many modes; all where absent");
        assert_eq!(of("modes").value.as_deref(), Some("K"));
        let words = vec![
            ("diffusion".to_owned(), "In steps".to_owned()),
            ("plain".to_owned(), "By coefficients".to_owned()),
        ];
        assert_eq!(of("layout").kind, Kind::Choice(words.clone()));
        assert_eq!(of("layout").default, "diffusion");
        assert_eq!(of("other").kind, Kind::Choice(words));
        assert_eq!((&of("whole").kind, &of("whole").default), (&Kind::Flag, &Value::Bool(true)));
        assert_eq!(of("by").kind, Kind::List(Box::new(Kind::Word)));
        let Kind::Table(inner) = &of("strain").kind else { panic!("{:?}", of("strain")) };
        let Kind::Number(range) = inner[0].kind else { panic!("{inner:?}") };
        assert_eq!(range.in_words(false, inner[0].unit.as_deref()), "a number of mm above 0");
        assert!(!range.holds(0.0) && range.holds(0.1) && !range.holds(f64::NAN));
        assert_eq!(of("values").kind, Kind::Pairs(Box::new(Kind::Number(Range::default()))));
        assert_eq!(of("axis").kind, Kind::Fixed(Box::new(Kind::Word), 2));
    }
}
