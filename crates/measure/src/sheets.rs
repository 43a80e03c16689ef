//! What is said of dimensions, as tables to hand over.

use formkin_table::{NumberFormat, Sheet};

use crate::agreement::{Agreement, Comparison, LimitType, Repeatability, Verdict};
use crate::population::{Distribution, OutOfRange, PERCENTILES, Population};

const MM: Option<&str> = Some("mm");

/// Name, meaning and value of a column.
type Column<T, V> = (&'static str, &'static str, fn(&T) -> V);

impl Population {
    /// Percentiles as a table, one row a dimension and group.
    #[must_use]
    pub fn percentiles_sheet(&self) -> Sheet {
        let all = &self.distributions;
        let shortest = NumberFormat::Shortest;
        let group = |d: &Distribution| d.group.clone().unwrap_or_else(|| "all".to_owned());
        let mut sheet = Sheet::new()
            .text("dimension", "The dimension", all.iter().map(|d| d.dimension.clone()))
            .text("unit", "The unit of the values", all.iter().map(|d| d.unit.clone().unwrap_or_default()))
            .text("group", "The group of people, or all of them", all.iter().map(group))
            .whole("n", None, "People with a value", all.iter().map(|d| d.n))
            .number(
                "n_eff",
                None,
                "Effective number of people under weights",
                shortest,
                all.iter().map(|d| d.n_eff),
            )
            .optional_number("mean", None, "Mean", shortest, all.iter().map(|d| d.mean))
            .optional_number("sd", None, "Standard deviation", shortest, all.iter().map(|d| d.sd));
        for (k, p) in PERCENTILES.iter().enumerate() {
            let at = |d: &Distribution| d.percentiles.get(k).and_then(|p| p.value);
            let of = |d: &Distribution| d.percentiles.get(k).and_then(|p| p.interval);
            sheet = sheet
                .optional_number(
                    &format!("p{p}"),
                    None,
                    &format!("Percentile {p}"),
                    shortest,
                    all.iter().map(at),
                )
                .optional_number(
                    &format!("p{p}_low"),
                    None,
                    &format!("Lower end of the interval of percentile {p}"),
                    shortest,
                    all.iter().map(|d| of(d).map(|i| i.0)),
                )
                .optional_number(
                    &format!("p{p}_high"),
                    None,
                    &format!("Upper end of the interval of percentile {p}"),
                    shortest,
                    all.iter().map(|d| of(d).map(|i| i.1)),
                );
        }
        sheet
    }

    /// Values to look at as a table, the furthest first.
    #[must_use]
    pub fn out_of_range_sheet(&self) -> Sheet {
        let all = &self.out_of_range;
        let group = |o: &OutOfRange| o.group.clone().unwrap_or_else(|| "all".to_owned());
        let shortest = NumberFormat::Shortest;
        let far = "Distance from the median in robust standard deviations";
        Sheet::new()
            .text("person", "The person", all.iter().map(|o| o.id.clone()))
            .text("dimension", "The dimension", all.iter().map(|o| o.dimension.clone()))
            .text("group", "The group of people, or all of them", all.iter().map(group))
            .number(
                "value",
                None,
                "The value, in the unit of its dimension",
                shortest,
                all.iter().map(|o| o.value),
            )
            .number("median", None, "The median of the group", shortest, all.iter().map(|o| o.median))
            .number("robust_sds", None, far, NumberFormat::Fixed(2), all.iter().map(|o| o.robust_sds))
    }

    /// The table of correlations: one row and one column a dimension.
    #[must_use]
    pub fn correlations_sheet(&self) -> Sheet {
        let mut sheet = Sheet::new().text("dimension", "The dimension", self.correlated.iter());
        for (k, name) in self.correlated.iter().enumerate() {
            let values = self.correlations.iter().map(|row| row.get(k).copied().flatten());
            let meaning = format!("Correlation with {name}");
            sheet = sheet.optional_number(name, None, &meaning, NumberFormat::Fixed(4), values);
        }
        sheet
    }

    /// How many people each correlation is of, in the layout of [`Self::correlations_sheet`].
    #[must_use]
    pub fn correlation_n_sheet(&self) -> Sheet {
        let mut sheet = Sheet::new().text("dimension", "The dimension", self.correlated.iter());
        for (k, name) in self.correlated.iter().enumerate() {
            let values = self.correlation_n.iter().map(|row| row.get(k).copied());
            sheet = sheet.optional_whole(name, None, &format!("People with it and {name}"), values);
        }
        sheet
    }
}

impl Comparison {
    /// One row a dimension.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let all = &self.dimensions;
        let mut sheet = Sheet::new()
            .text("dimension", "The dimension", all.iter().map(|a| a.dimension.clone()))
            .whole("n", None, "People in both tables", all.iter().map(|a| a.n))
            .text(
                "limit_type",
                "The type of dimension, by which the limit goes",
                all.iter().map(|a| a.limit_type.map_or("", LimitType::name)),
            )
            .optional_number(
                "limit",
                MM,
                "The greatest permitted mean error",
                NumberFormat::Shortest,
                all.iter().map(|a| a.limit_mm),
            );
        let columns: [Column<Agreement, f64>; 11] = [
            ("mean_scan", "Mean of the scans", |a| a.mean_scan_mm),
            ("mean_hand", "Mean by hand", |a| a.mean_hand_mm),
            ("mean_error", "Mean of scan less hand", |a| a.mean_error_mm),
            ("sd_error", "Standard deviation of scan less hand", |a| a.sd_error_mm),
            ("ci_low", "Lower end of the interval of the mean error", |a| a.interval_mm.0),
            ("ci_high", "Upper end of the interval of the mean error", |a| a.interval_mm.1),
            ("agreement_low", "Lower limit of agreement", |a| a.limits_of_agreement_mm.0),
            ("agreement_high", "Upper limit of agreement", |a| a.limits_of_agreement_mm.1),
            ("mean_absolute_error", "Mean of the distance of scan and hand", |a| a.mean_absolute_error_mm),
            ("largest_error", "The largest distance of scan and hand", |a| a.largest_error_mm),
            ("tem", "Technical error of measurement", |a| a.tem_mm),
        ];
        for (name, meaning, value) in columns {
            sheet = sheet.number(name, MM, meaning, NumberFormat::Shortest, all.iter().map(value));
        }
        let verdict = |a: &Agreement| match a.verdict {
            Verdict::Within => "within",
            Verdict::NotWithin => "not-within",
            Verdict::TooFew => "too-few",
            Verdict::NoLimit => "no-limit",
        };
        sheet.text("verdict", "Whether the mean error keeps to the limit", all.iter().map(verdict))
    }
}

/// Repeatability as a table, one row a dimension.
#[must_use]
pub fn repeatability_sheet(made: &[Repeatability]) -> Sheet {
    let mut sheet = Sheet::new()
        .text("dimension", "The dimension", made.iter().map(|r| r.dimension.clone()))
        .text("unit", "The unit of the values", made.iter().map(|r| r.unit.clone().unwrap_or_default()))
        .whole("people", None, "People with two trials or more", made.iter().map(|r| r.people))
        .whole("values", None, "Their values", made.iter().map(|r| r.values));
    let columns: [Column<Repeatability, Option<f64>>; 13] = [
        ("mean", "Mean of all values", |r| Some(r.mean)),
        ("sd", "Standard deviation of all values", |r| Some(r.sd)),
        ("tem", "Technical error of measurement", |r| Some(r.tem)),
        ("tem_low", "Lower end of its 95 % interval", |r| Some(r.tem_interval.0)),
        ("tem_high", "Upper end of its 95 % interval", |r| Some(r.tem_interval.1)),
        ("relative_tem_percent", "Technical error over the mean, in percent", |r| r.tem_percent),
        ("reliability", "1 - TEM^2 / SD^2", |r| r.reliability),
        ("icc_one_way", "One-way intraclass correlation, ICC(1,1)", |r| r.icc_one_way.map(|i| i.value)),
        ("icc_one_way_low", "Lower end of its 95 % interval", |r| r.icc_one_way.map(|i| i.low)),
        ("icc_one_way_high", "Upper end of its 95 % interval", |r| r.icc_one_way.map(|i| i.high)),
        ("icc_agreement", "Intraclass correlation for agreement, ICC(2,1)", |r| r.icc_agreement),
        ("icc_consistency", "Intraclass correlation for consistency, ICC(3,1)", |r| r.icc_consistency),
        ("least_detectable_change", "Least change that can be distinguished from error", |r| {
            Some(r.least_detectable_change)
        }),
    ];
    for (name, meaning, value) in columns {
        sheet = sheet.optional_number(name, None, meaning, NumberFormat::Shortest, made.iter().map(value));
    }
    sheet
}
