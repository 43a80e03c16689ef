//! What is known of a target population, and limits of dimensions, from TOML or CSV.

use formkin_shape::sample::{Margin, Wanted};
use formkin_table::Table;
use formkin_table::wording::at_line;
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// Margins of a target population.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Population {
    /// One a dimension.
    pub margins: Vec<GivenMargin>,
}

/// A margin as it is written.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GivenMargin {
    /// The dimension.
    pub dimension: String,
    /// The unit of the values; that of the definition where absent.
    pub unit: Option<String>,
    /// What is known.
    pub wanted: Wanted,
}

/// Limits of dimensions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// One a dimension.
    pub limits: Vec<Limit>,
}

/// The limits of a dimension.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Limit {
    /// The dimension.
    pub dimension: String,
    /// The unit of the values; that of the definition where absent.
    pub unit: Option<String>,
    /// The least value.
    pub least: Option<f64>,
    /// The greatest.
    pub most: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    #[serde(default)]
    margin: Vec<WrittenMargin>,
    #[serde(default)]
    limit: Vec<Limit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenMargin {
    dimension: String,
    unit: Option<String>,
    mean: Option<f64>,
    sd: Option<f64>,
    percentiles: Option<std::collections::BTreeMap<String, f64>>,
}

/// How many of `to` one `from` is; lengths only.
fn factor(dimension: &str, from: Option<&str>, to: Option<&str>) -> Result<f64, TaskError> {
    let mm = |u: &str| match u {
        "mm" => Some(1.0),
        "cm" => Some(10.0),
        "m" => Some(1000.0),
        _ => None,
    };
    let found = match (from, to) {
        (None, _) => Some(1.0),
        (Some(a), Some(b)) if a == b => Some(1.0),
        (Some(a), Some(b)) => mm(a).zip(mm(b)).map(|(a, b)| a / b),
        (Some(_), None) => None,
    };
    found.ok_or_else(|| TaskError::Space {
        reason: format!(
            "`{dimension}` is in {}, and its margin or limit is in {}: write it in that unit",
            to.unwrap_or("no unit"),
            from.unwrap_or("no unit")
        ),
    })
}

impl GivenMargin {
    /// The margin in the unit of the definition.
    ///
    /// # Errors
    /// [`TaskError::Space`] for a unit that is not one of lengths.
    pub fn in_unit(&self, unit: Option<&str>) -> Result<Margin, TaskError> {
        let f = factor(&self.dimension, self.unit.as_deref(), unit)?;
        let wanted = match &self.wanted {
            Wanted::Mean(m) => Wanted::Mean(m * f),
            Wanted::MeanSd(m, s) => Wanted::MeanSd(m * f, s * f),
            Wanted::Percentiles(all) => Wanted::Percentiles(all.iter().map(|(p, v)| (*p, v * f)).collect()),
        };
        Ok(Margin { dimension: self.dimension.clone(), wanted })
    }
}

impl Limit {
    /// The limits in the unit of the definition.
    ///
    /// # Errors
    /// [`TaskError::Space`] for a unit that is not one of lengths.
    pub fn in_unit(&self, unit: Option<&str>) -> Result<(Option<f64>, Option<f64>), TaskError> {
        let f = factor(&self.dimension, self.unit.as_deref(), unit)?;
        Ok((self.least.map(|x| x * f), self.most.map(|x| x * f)))
    }
}

fn fault(text: &str, e: &toml::de::Error) -> String {
    at_line(text, e.span().map(|s| s.start), e.message())
}

fn percentile(name: &str) -> Option<f64> {
    name.trim().strip_prefix('p').and_then(|p| p.parse::<f64>().ok()).filter(|p| *p > 0.0 && *p < 100.0)
}

fn wanted(
    dimension: &str,
    mean: Option<f64>,
    sd: Option<f64>,
    mut percentiles: Vec<(f64, f64)>,
) -> Result<Wanted, String> {
    percentiles.sort_by(|a, b| a.0.total_cmp(&b.0));
    match (mean, sd, percentiles.is_empty()) {
        (Some(m), Some(s), true) => Ok(Wanted::MeanSd(m, s)),
        (Some(m), None, true) => Ok(Wanted::Mean(m)),
        (None, None, false) => Ok(Wanted::Percentiles(percentiles)),
        (None, None, true) => {
            Err(format!("`{dimension}` says nothing: give mean, mean and sd, or percentiles"))
        }
        (None, Some(_), _) => Err(format!("`{dimension}` has an sd and no mean")),
        (Some(_), _, false) => {
            Err(format!("`{dimension}` has a mean and percentiles: give one or the other"))
        }
    }
}

impl Population {
    /// Reads margins: CSV where the name ends so (columns `dimension`, `mean`, `sd`, `p5`, `p50` .., `unit`), else TOML (`[[margin]]`).
    ///
    /// # Errors
    /// [`TaskError::Nothing`] with what is wrong.
    pub fn parse(text: &str, name: &str) -> Result<Self, TaskError> {
        let no = |what: String| TaskError::Nothing {
            what: format!("{name}: {what}"),
            advice: "see Target populations in docs/formats.md".into(),
        };
        let mut margins = Vec::new();
        if name.to_lowercase().ends_with(".csv") {
            let table = Table::parse_csv(text, name, Some("dimension"))?;
            let number = |column: &str, row: usize| {
                table.numbers.iter().find(|c| c.header() == column).and_then(|c| c.values[row])
            };
            for c in &table.numbers {
                let header = c.header();
                if !matches!(header.as_str(), "mean" | "sd") && percentile(&header).is_none() {
                    return Err(no(format!(
                        "the column `{header}` is not mean, sd or a percentile such as p5"
                    )));
                }
            }
            if let Some(c) = table.texts.iter().find(|c| c.name != "unit") {
                return Err(no(format!("the column `{}` holds no numbers", c.name)));
            }
            let units = table.texts.iter().find(|c| c.name == "unit");
            for (row, dimension) in table.ids.iter().enumerate() {
                let percentiles =
                    table.numbers.iter().filter_map(|c| percentile(&c.header()).zip(c.values[row])).collect();
                let unit = units.map(|u| u.values[row].trim().to_owned()).filter(|u| !u.is_empty());
                let wanted = wanted(dimension, number("mean", row), number("sd", row), percentiles);
                margins.push(GivenMargin { dimension: dimension.clone(), unit, wanted: wanted.map_err(no)? });
            }
        } else {
            let written: Written = toml::from_str(text).map_err(|e| no(fault(text, &e)))?;
            for m in written.margin {
                let mut percentiles = Vec::new();
                for (key, value) in m.percentiles.into_iter().flatten() {
                    let p =
                        percentile(&key).ok_or_else(|| no(format!("`{key}` is no percentile such as p5")))?;
                    percentiles.push((p, value));
                }
                let wanted = wanted(&m.dimension, m.mean, m.sd, percentiles).map_err(no)?;
                margins.push(GivenMargin { dimension: m.dimension, unit: m.unit, wanted });
            }
        }
        if margins.is_empty() {
            return Err(no("it has no margin".into()));
        }
        let mut seen = std::collections::BTreeSet::new();
        if let Some(m) = margins.iter().find(|m| !seen.insert(m.dimension.clone())) {
            return Err(no(format!("`{}` has two margins", m.dimension)));
        }
        Ok(Self { margins })
    }
}

impl Limits {
    /// Reads limits: CSV where the name ends so (columns `dimension`, `least`, `most`, `unit`), else TOML (`[[limit]]`).
    ///
    /// # Errors
    /// [`TaskError::Nothing`] with what is wrong.
    pub fn parse(text: &str, name: &str) -> Result<Self, TaskError> {
        let no = |what: String| TaskError::Nothing {
            what: format!("{name}: {what}"),
            advice: "see Target populations in docs/formats.md".into(),
        };
        let limits = if name.to_lowercase().ends_with(".csv") {
            let table = Table::parse_csv(text, name, Some("dimension"))?;
            let number = |column: &str, row: usize| {
                table.numbers.iter().find(|c| c.header() == column).and_then(|c| c.values[row])
            };
            let units = table.texts.iter().find(|c| c.name == "unit");
            let limit = |(row, dimension): (usize, &String)| Limit {
                dimension: dimension.clone(),
                unit: units.map(|u| u.values[row].trim().to_owned()).filter(|u| !u.is_empty()),
                least: number("least", row),
                most: number("most", row),
            };
            table.ids.iter().enumerate().map(limit).collect()
        } else {
            toml::from_str::<Written>(text).map_err(|e| no(fault(text, &e)))?.limit
        };
        if limits.is_empty() {
            return Err(no("it has no limit".into()));
        }
        for l in &limits {
            if l.least.iter().chain(&l.most).any(|x| !x.is_finite()) {
                return Err(no(format!("a limit of `{}` is no finite number", l.dimension)));
            }
            if l.least.is_none() && l.most.is_none() || l.least.zip(l.most).is_some_and(|(a, b)| a >= b) {
                return Err(no(format!("`{}` needs least under most, or one of them", l.dimension)));
            }
        }
        Ok(Self { limits })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn margins_come_from_both_formats() {
        let toml = "[[margin]]\ndimension = \"stature\"\nunit = \"cm\"\nmean = 170\nsd = 7.0\n[[margin]]\ndimension = \"waist_girth\"\npercentiles = { p5 = 700.0, p50 = 850 }\n";
        let csv = "dimension,mean,sd,p5,p50,unit\nstature,170,7,,,cm\nwaist_girth,,,700,850,\n";
        let a = Population::parse(toml, "t.toml").unwrap();
        assert_eq!(a, Population::parse(csv, "t.csv").unwrap());
        assert_eq!(a.margins[0].in_unit(Some("mm")).unwrap().wanted, Wanted::MeanSd(1700.0, 70.0));
        assert!(a.margins[0].in_unit(Some("kg")).is_err());
        assert_eq!(a.margins[1].wanted, Wanted::Percentiles(vec![(5.0, 700.0), (50.0, 850.0)]));
    }

    #[test]
    fn what_is_no_margin_is_refused() {
        for (text, word) in [
            ("", "no margin"),
            ("[[margin]]\ndimension = \"a\"\n", "says nothing"),
            ("[[margin]]\ndimension = \"a\"\nsd = 3.0\n", "no mean"),
            (
                "[[margin]]\ndimension = \"a\"\nmean = 1\n[[margin]]\ndimension = \"a\"\nmean = 2\n",
                "two margins",
            ),
            ("[[margin]]\ndimension = \"a\"\nmean = 1\npercentiles = { p5 = 1.0 }\n", "one or the other"),
            ("[[margin]]\ndimension = \"a\"\npercentiles = { q5 = 1.0 }\n", "q5"),
            ("[[margin]]\ndimension = \"a\"\nmedian = 1\n", "median"),
            ("nonsense", "t.toml"),
        ] {
            let error = Population::parse(text, "t.toml").unwrap_err().to_string();
            assert!(error.contains(word), "{word}: {error}");
        }
        let csv = "dimension,mode\nstature,170\n";
        assert!(Population::parse(csv, "t.csv").unwrap_err().to_string().contains("mode"));
    }

    #[test]
    fn limits_are_read() {
        let l =
            Limits::parse("[[limit]]\ndimension = \"waist_girth\"\nunit = \"cm\"\nmost = 120\n", "l.toml")
                .unwrap();
        assert_eq!(l.limits[0].in_unit(Some("mm")).unwrap(), (None, Some(1200.0)));
        assert_eq!(
            Limits::parse("dimension,least,most\na,1,2\n", "l.csv").unwrap().limits[0].least,
            Some(1.0)
        );
        assert!(Limits::parse("dimension,least,most\na,3,2\n", "l.csv").is_err());
        assert!(Limits::parse("", "l.toml").is_err());
    }
}
