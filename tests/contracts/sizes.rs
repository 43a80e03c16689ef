//! Size systems. Their shapes are rows of a table: one person's stature, girth and depth, read off the bodies.

use formkin_sizing::{Plan, SizeSystem};
use formkin_table::{NumberColumn, Table};

use crate::{Cohort, Model};

struct Fitted(SizeSystem);

fn table(cohort: &Cohort) -> Table {
    let extent = |axis: usize| {
        let of = move |s: &Vec<[f64; 3]>| {
            let (low, high) = s
                .iter()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[axis]), h.max(p[axis])));
            // NaN and infinity go into the table as they are: it is the plan's work to refuse them.
            let wrong = s.iter().flatten().find(|c| !c.is_finite());
            Some(wrong.copied().unwrap_or(high - low))
        };
        cohort.shapes.iter().map(of).collect()
    };
    let column = |name: &str, values| NumberColumn { name: name.into(), unit: Some("mm".into()), values };
    // The name of a person goes with the person, whatever the order.
    let id = |s: &Vec<[f64; 3]>| format!("p{:x}", s.first().map_or(0, |p| p[0].to_bits()));
    Table {
        id: "participant".into(),
        ids: cohort.shapes.iter().map(id).collect(),
        numbers: vec![column("stature", extent(2)), column("breadth", extent(0))],
        texts: Vec::new(),
    }
}

impl Model for Fitted {
    const SEEDED: bool = true;

    fn fit(cohort: &Cohort, seed: u64) -> Result<Self, String> {
        let plan = format!(
            "seed = {seed}\nfolds = 3\nrepeats = 2\nmissing = \"refuse\"\n[sizes]\ncount = 3\n\
             [[control]]\ndimension = \"stature\"\ntolerance = {{ below = 60.0, above = 60.0 }}\n\
             [[control]]\ndimension = \"breadth\"\ntolerance = {{ below = 30.0, above = 30.0 }}\n"
        );
        let plan = Plan::from_toml(&plan).map_err(|e| e.to_string())?;
        plan.derive(&table(cohort)).map(Self).map_err(|e| e.to_string())
    }

    fn numbers(&self) -> Vec<f64> {
        let mut all = self.unordered();
        all.extend(self.0.groups.iter().flat_map(|g| g.assignments.iter().map(|a| a.loss)));
        all
    }

    fn unordered(&self) -> Vec<f64> {
        let s = &self.0;
        let mut all =
            vec![s.coverage_in_sample, s.coverage_held_out, s.held_out_interval.0, s.held_out_interval.1];
        all.extend(s.groups.iter().flat_map(|g| g.sizes.iter().flat_map(|z| z.centre.values().copied())));
        all
    }

    fn save(&self) -> Vec<u8> {
        serde_json::to_vec(&self.0).unwrap()
    }

    fn load(bytes: &[u8]) -> Result<Self, String> {
        serde_json::from_slice(bytes).map(Self).map_err(|e| e.to_string())
    }
}

mod contracts {
    use super::Fitted;

    #[test]
    fn fitting_twice_is_equal() {
        crate::fitting_twice_is_equal::<Fitted>();
    }
    #[test]
    fn save_and_load_is_equal() {
        crate::save_and_load_is_equal::<Fitted>();
    }
    #[test]
    fn threads_make_no_difference() {
        crate::threads_make_no_difference::<Fitted>();
    }
    #[test]
    fn the_seed_does_what_it_says() {
        crate::the_seed_does_what_it_says::<Fitted>();
    }
    #[test]
    fn order_does_not_matter() {
        crate::order_does_not_matter::<Fitted>();
    }
}

/// What is wrong for a table is not what is wrong for a surface.
#[test]
fn a_wrong_table_is_an_error() {
    let good = Cohort::of(12, 3);
    for (what, wrong) in [
        ("nobody", good.clone().first(0)),
        ("fewer people than sizes", good.clone().first(2)),
        ("NaN", good.clone().with(|p| p[1] = f64::NAN)),
        ("infinity", good.clone().with(|p| p[1] = f64::INFINITY)),
    ] {
        match Fitted::fit(&wrong, 1) {
            Ok(_) => panic!("{what} was fitted"),
            Err(message) => assert!(message.len() > 12, "{what}: {message}"),
        }
    }
}
