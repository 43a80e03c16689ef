//! A population in percentiles, correlations and values out of the usual.

use std::collections::BTreeMap;

use formkin_stats::bootstrap::bootstrap;
use formkin_stats::interval::n_eff;
use formkin_stats::moments::{mean, sd};
use formkin_stats::quantile::{MAD_TO_SD, mad, median, quantile};
use formkin_table::{NumberColumn, Table, TableError};
use serde::{Deserialize, Serialize};

use crate::MeasureError;
use crate::correlation::correlation;
use crate::summary::{PEOPLE_FOR_P1, PEOPLE_FOR_P5};

/// The percentiles given.
pub(crate) const PERCENTILES: [f64; 9] = [1.0, 5.0, 10.0, 25.0, 50.0, 75.0, 90.0, 95.0, 99.0];
/// P10 and P90 are given from this many people on, by the rule of P5: three are expected beyond each.
pub(crate) const PEOPLE_FOR_P10: usize = 30;
/// P25 and P75 are given from this many people on, by the same rule.
pub(crate) const PEOPLE_FOR_P25: usize = 12;

/// What a population is summed up by.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PopulationParams {
    /// The column that groups people.
    pub by: Option<String>,
    /// The column that weighs them.
    pub weight: Option<String>,
    /// Resamples of people for each interval; 0 for no intervals.
    pub resamples: usize,
    /// Seed of the resamples.
    pub seed: u64,
    /// A value is out of the usual from this many robust standard deviations (1.4826 MAD) from its group's median, both weighted.
    pub out_of_range: f64,
}

impl Default for PopulationParams {
    /// 1,000 resamples, and 3.5 robust standard deviations (Iglewicz & Hoaglin 1993, from memory).
    fn default() -> Self {
        Self { by: None, weight: None, resamples: 1000, seed: 1, out_of_range: 3.5 }
    }
}

/// One percentile.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Percentile {
    /// Which, 0 to 100.
    pub percent: f64,
    /// Its value; `None` where the people do not support it.
    pub value: Option<f64>,
    /// 95 % percentile interval of the bootstrap over people.
    pub interval: Option<(f64, f64)>,
}

/// One dimension of one group.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Distribution {
    /// The dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: Option<String>,
    /// The group; `None` for everyone.
    pub group: Option<String>,
    /// People with a value.
    pub n: usize,
    /// (sum w)^2 / sum w^2; n without weights.
    pub n_eff: f64,
    /// Weighted mean.
    pub mean: Option<f64>,
    /// Weighted standard deviation.
    pub sd: Option<f64>,
    /// The percentiles; those that the people do not support are there without a value.
    pub percentiles: Vec<Percentile>,
}

/// A value far from those of its group.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct OutOfRange {
    /// The person.
    pub id: String,
    /// The dimension.
    pub dimension: String,
    /// The group it is judged in; `None` for everyone.
    pub group: Option<String>,
    /// The value.
    pub value: f64,
    /// The group's median, weighted as the percentiles are.
    pub median: f64,
    /// Distance from the median in robust standard deviations.
    pub robust_sds: f64,
}

/// A population.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Population {
    /// The settings.
    pub params: PopulationParams,
    /// Every dimension of everyone, then of each group.
    pub distributions: Vec<Distribution>,
    /// The dimensions of the correlation table.
    pub correlated: Vec<String>,
    /// Weighted correlations of everyone, over people who have both; `None` where one does not vary.
    pub correlations: Vec<Vec<Option<f64>>>,
    /// How many people have both: n of each correlation.
    #[serde(default)]
    pub correlation_n: Vec<Vec<usize>>,
    /// Values to look at. None is deleted: people of unusual size are those that sizes must reach.
    pub out_of_range: Vec<OutOfRange>,
    /// What must be read with it.
    pub caution: String,
}

impl PopulationParams {
    /// Sums up a table with one row a person.
    ///
    /// # Errors
    /// [`TableError::Column`] for unknown columns, weights that are missing or negative, and a person (column `participant`) with several rows.
    pub fn take(&self, table: &Table) -> Result<Population, MeasureError> {
        table.one_row_a_person(0..table.rows())?;
        let weights = self.weights(table)?;
        let mut groups: Vec<(Option<String>, Vec<usize>)> = vec![(None, (0..table.rows()).collect())];
        if let Some(by) = &self.by {
            let mut rows: BTreeMap<String, Vec<usize>> = BTreeMap::new();
            for (i, word) in table.text(by)?.into_iter().enumerate() {
                rows.entry(word).or_default().push(i);
            }
            groups.extend(rows.into_iter().map(|(word, rows)| (Some(word), rows)));
        }
        let named = |c: &&NumberColumn, name: &Option<String>| {
            name.as_ref().is_some_and(|n| c.name == *n || c.header() == *n)
        };
        // the number of a frame is no amount
        let amount = |c: &&NumberColumn| c.name != "frame" && !named(c, &self.weight) && !named(c, &self.by);
        let columns: Vec<&NumberColumn> = table.numbers.iter().filter(amount).collect();
        let mut distributions = Vec::new();
        for (group, rows) in &groups {
            for column in &columns {
                distributions.push(self.one(column, group.clone(), rows, weights.as_deref())?);
            }
        }
        // unusual within one's own group where there are groups
        let judged = if groups.len() > 1 { &groups[1..] } else { &groups[..] };
        let mut out_of_range = Vec::new();
        for (group, rows) in judged {
            for column in &columns {
                out_of_range.extend(self.unusual(table, column, group.as_ref(), rows, weights.as_deref()));
            }
        }
        out_of_range.sort_by(|a, b| b.robust_sds.abs().total_cmp(&a.robust_sds.abs()));
        let pairs: Vec<Vec<(Option<f64>, usize)>> = columns
            .iter()
            .map(|a| columns.iter().map(|b| correlation(a, b, weights.as_deref())).collect())
            .collect();
        let correlations = pairs.iter().map(|row| row.iter().map(|p| p.0).collect()).collect();
        let correlation_n = pairs.iter().map(|row| row.iter().map(|p| p.1).collect()).collect();
        Ok(Population {
            params: self.clone(),
            distributions,
            correlated: columns.iter().map(|c| c.name.clone()).collect(),
            correlations,
            correlation_n,
            out_of_range,
            caution: "percentiles do not add up: nobody is at the 95th percentile of every dimension, and a body put together from percentiles fits nobody".to_owned(),
        })
    }

    fn weights(&self, table: &Table) -> Result<Option<Vec<f64>>, MeasureError> {
        let Some(name) = &self.weight else { return Ok(None) };
        let column = table.number(name)?;
        let weights: Option<Vec<f64>> = column.values.iter().map(|v| v.filter(|w| *w >= 0.0)).collect();
        weights.map(Some).ok_or_else(|| {
            let reason =
                "a weight is missing or negative; give every person one, 0 to leave a person out".to_owned();
            TableError::Column { column: name.clone(), reason }.into()
        })
    }

    fn one(
        &self,
        column: &NumberColumn,
        group: Option<String>,
        rows: &[usize],
        weights: Option<&[f64]>,
    ) -> Result<Distribution, MeasureError> {
        let mut values = Vec::new();
        let mut own = Vec::new();
        for &i in rows {
            let w = weights.map_or(1.0, |w| w[i]);
            if let (Some(v), true) = (column.values[i].filter(|v| v.is_finite()), w > 0.0) {
                values.push(v);
                own.push(w);
            }
        }
        let n = values.len();
        let w = weights.map(|_| own.as_slice());
        let effective = if n == 0 { 0.0 } else { n_eff(&own) };
        let mut percentiles = Vec::new();
        for percent in PERCENTILES {
            let people = match percent.min(100.0 - percent) as usize {
                1 => PEOPLE_FOR_P1,
                5 => PEOPLE_FOR_P5,
                10 => PEOPLE_FOR_P10,
                25 => PEOPLE_FOR_P25,
                _ => 1,
            };
            let p = percent / 100.0;
            if n < people || effective < people as f64 - 1e-9 {
                percentiles.push(Percentile { percent, value: None, interval: None });
                continue;
            }
            let value = Some(quantile(&values, w, p)?);
            let interval = if self.resamples >= 2 && n > 1 {
                let each: Vec<usize> = (0..n).collect();
                let drawn = bootstrap(&each, self.resamples, 0.95, self.seed, |rows| {
                    let v: Vec<f64> = rows.iter().map(|&i| values[i]).collect();
                    let u: Vec<f64> = rows.iter().map(|&i| own[i]).collect();
                    quantile(&v, w.map(|_| u.as_slice()), p).ok()
                })?;
                Some((drawn.low, drawn.high))
            } else {
                None
            };
            percentiles.push(Percentile { percent, value, interval });
        }
        Ok(Distribution {
            dimension: column.name.clone(),
            unit: column.unit.clone(),
            group,
            n,
            n_eff: effective,
            mean: if n > 0 { Some(mean(&values, w)?) } else { None },
            sd: if n > 1 { Some(sd(&values, w)?) } else { None },
            percentiles,
        })
    }

    fn unusual(
        &self,
        table: &Table,
        column: &NumberColumn,
        group: Option<&String>,
        rows: &[usize],
        weights: Option<&[f64]>,
    ) -> Vec<OutOfRange> {
        // people of weight 0 are left out
        let there =
            |i: usize| column.values[i].filter(|v| v.is_finite() && weights.is_none_or(|w| w[i] > 0.0));
        let values: Vec<f64> = rows.iter().filter_map(|&i| there(i)).collect();
        let own: Option<Vec<f64>> =
            weights.map(|w| rows.iter().filter(|&&i| there(i).is_some()).map(|&i| w[i]).collect());
        let (Ok(middle), Ok(spread)) = (median(&values, own.as_deref()), mad(&values, own.as_deref())) else {
            return Vec::new();
        };
        if spread <= 0.0 {
            return Vec::new();
        }
        let far = |v: f64| (v - middle) / (MAD_TO_SD * spread);
        rows.iter()
            .filter_map(|&i| there(i).map(|v| (i, v)))
            .filter(|(_, v)| far(*v).abs() > self.out_of_range)
            .map(|(i, value)| OutOfRange {
                id: table.ids[i].clone(),
                dimension: column.name.clone(),
                group: group.cloned(),
                value,
                median: middle,
                robust_sds: far(value),
            })
            .collect()
    }
}

impl Population {
    /// Fewest and most people of a correlation of two dimensions; none where there are no two.
    #[must_use]
    pub fn correlation_n_range(&self) -> Option<(usize, usize)> {
        let rows = self.correlation_n.iter().enumerate();
        let pairs: Vec<usize> = rows.flat_map(|(i, row)| row[..i.min(row.len())].to_vec()).collect();
        Some((*pairs.iter().min()?, *pairs.iter().max()?))
    }
}

#[cfg(test)]
mod tests {
    use formkin_table::Sheet;

    use super::*;

    fn csv(sheet: &Sheet) -> String {
        sheet.csv_text().unwrap()
    }

    fn table(n: usize) -> Table {
        let rows: String = (0..n)
            .map(|i| {
                format!("P{i:04},{},{},{},{}\n", i + 1, 2 * i, if i % 2 == 0 { "f" } else { "m" }, 1 + i % 2)
            })
            .collect();
        Table::parse_csv(&format!("id,x_mm,y_mm,sex,weight\n{rows}"), "t", None).unwrap()
    }

    #[test]
    fn percentiles_lie_in_their_intervals_and_small_groups_have_fewer() {
        let params = PopulationParams { by: Some("sex".into()), resamples: 200, ..Default::default() };
        let made = params.take(&table(121)).unwrap();
        // x, y and weight (nobody named it as one) for everyone, f and m
        assert_eq!(made.distributions.len(), 9);
        let d = &made.distributions[0];
        assert_eq!((d.n, d.percentiles[4].value), (121, Some(61.0)));
        assert_eq!((d.percentiles[0].value, d.percentiles[1].value), (None, Some(7.0)));
        for p in d.percentiles.iter().filter(|p| p.value.is_some()) {
            let (low, high) = p.interval.unwrap();
            assert!(low <= p.value.unwrap() && p.value.unwrap() <= high && low < high);
        }
        let few = PopulationParams::default().take(&table(20)).unwrap();
        let given: Vec<f64> = few.distributions[0]
            .percentiles
            .iter()
            .filter(|p| p.value.is_some())
            .map(|p| p.percent)
            .collect();
        assert_eq!(given, [25.0, 50.0, 75.0]);
        assert!((made.correlations[0][1].unwrap() - 1.0).abs() < 1e-12);
        assert_eq!(params.take(&table(121)).unwrap(), made);
    }

    #[test]
    fn weights_move_the_median_and_lower_the_effective_number() {
        let csv = "id,x_mm,w\na,1,1\nb,2,1\nc,3,8\n";
        let t = Table::parse_csv(csv, "t", None).unwrap();
        let params = PopulationParams { weight: Some("w".into()), resamples: 0, ..Default::default() };
        let made = params.take(&t).unwrap();
        let d = &made.distributions[0];
        assert!((d.n_eff - 100.0 / 66.0).abs() < 1e-12);
        assert!((d.mean.unwrap() - 2.7).abs() < 1e-12 && d.percentiles[4].value.unwrap() > 2.0);
        assert_eq!(made.distributions.len(), 1);
        let negative = Table::parse_csv("id,x_mm,w\na,1,1\nb,2,-1\n", "t", None).unwrap();
        assert!(params.take(&negative).is_err());
    }

    #[test]
    fn rows_of_one_person_are_no_people_more() {
        let frames = "item,participant,x_mm\na,P1,1\nb,P2,2\nc,P1,3\n";
        let said = PopulationParams::default().take(&Table::parse_csv(frames, "t", None).unwrap());
        let said = said.unwrap_err().to_string();
        assert!(said.contains("`P1` has several rows") && said.contains("--per person"), "{said}");
        // people may be numbers
        let one = "item,participant,x_mm\na,1,1\nb,2,2\nc,3,3\n";
        let params = PopulationParams { resamples: 0, ..Default::default() };
        assert_eq!(params.take(&Table::parse_csv(one, "t", None).unwrap()).unwrap().correlated, ["x"]);
        assert!(params.take(&Table::parse_csv(&one.replace("b,2", "b,1"), "t", None).unwrap()).is_err());
    }

    #[test]
    fn the_unusual_are_named_and_kept() {
        let mut t = table(60);
        t.numbers[0].values[7] = Some(9000.0);
        let made = PopulationParams { resamples: 0, ..Default::default() }.take(&t).unwrap();
        assert_eq!((made.out_of_range.len(), made.out_of_range[0].id.as_str()), (1, "P0007"));
        assert_eq!(made.distributions[0].n, 60);
        assert!(csv(&made.out_of_range_sheet()).contains("P0007,x,all,9000,"));
        assert_eq!(csv(&made.correlations_sheet()).lines().count(), 4);
        assert_eq!(csv(&made.correlation_n_sheet()).lines().count(), 4);
        assert!(made.correlation_n.iter().flatten().all(|n| *n == 60));
        assert_eq!(made.correlation_n_range(), Some((60, 60)));
        assert_eq!(csv(&made.percentiles_sheet()).lines().count(), 4);
    }

    #[test]
    fn numbered_sessions_and_people_are_names() {
        let csv = "item,participant,session,frame,stature_mm\na,1,1,1,1700\nb,2,1,2,1800\n";
        let table = Table::parse_csv(csv, "t.csv", None).unwrap();
        let params = PopulationParams { resamples: 0, ..Default::default() };
        assert_eq!(params.take(&table).unwrap().correlated, ["stature"]);
        let by = PopulationParams { by: Some("session".into()), ..params };
        assert_eq!(by.take(&table).unwrap().distributions.len(), 2);
    }
}
