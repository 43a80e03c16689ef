//! One suite of contracts that every model obeys: fitting twice is equal, save and load is equal, a wrong shape is an error and
//! never a panic, the seed and the number of threads do what they say, and the order of the participants does not matter.

#![allow(clippy::unwrap_used)] // a test's helper fails the test

mod alignment;
mod dimensions;
mod motion;
mod sizes;
mod space;

use formkin_geometry::{Point, ShapeArray, Topology};
use std::sync::Arc;

/// What a model is fitted to.
#[derive(Clone)]
pub(crate) struct Cohort {
    pub(crate) topology: Arc<Topology>,
    pub(crate) shapes: Vec<Vec<Point>>,
}

impl Cohort {
    pub(crate) fn of(people: usize, seed: u64) -> Self {
        let (topology, array) = formkin_tests::bodies::people(people, seed);
        let shapes = (0..people).map(|i| array.shape(i).to_vec()).collect();
        Self { topology: topology.unwrap(), shapes }
    }

    pub(crate) fn source(&self) -> ShapeArray {
        let mut array = ShapeArray::new(self.shapes.first().map_or(0, Vec::len));
        for shape in &self.shapes {
            array.push(shape).unwrap();
        }
        array
    }

    /// The same people in reverse.
    fn reversed(mut self) -> Self {
        self.shapes.reverse();
        self
    }

    /// One vertex less on every shape, under the triangles as they were.
    fn cut(mut self) -> Self {
        self.shapes.iter_mut().for_each(|s| s.truncate(s.len() - 1));
        self
    }

    fn first(mut self, people: usize) -> Self {
        self.shapes.truncate(people);
        self
    }

    fn with(mut self, change: impl Fn(&mut Point)) -> Self {
        change(&mut self.shapes[2][5]);
        self
    }

    fn every(mut self, change: impl Fn(&Point) -> Point) -> Self {
        self.shapes[2] = self.shapes[2].iter().map(change).collect();
        self
    }
}

/// A model as the contracts see it.
pub(crate) trait Model: Sized {
    /// The order of what it is fitted to means something: frames in time.
    const IN_TIME: bool = false;
    /// Whether a seed is among its settings and shows in its numbers.
    const SEEDED: bool = false;
    /// How far numbers may be from those of another order of participants: absolute, in their own unit (mm or mm2), and relative.
    const ORDER: (f64, f64) = (1e-3, 1e-6);

    fn fit(cohort: &Cohort, seed: u64) -> Result<Self, String>;
    /// Everything that must be equal to the bit when the fit is done again.
    fn numbers(&self) -> Vec<f64>;
    /// What does not depend on the order of the participants.
    fn unordered(&self) -> Vec<f64>;
    fn save(&self) -> Vec<u8>;
    fn load(bytes: &[u8]) -> Result<Self, String>;
    /// Uses the fitted model on a shape, where it can be.
    fn apply(&self, _shape: &[Point]) -> Option<Result<Vec<f64>, String>> {
        None
    }
}

fn same_bits(a: &[f64], b: &[f64]) {
    assert_eq!(a.len(), b.len());
    assert!(!a.is_empty() && a.iter().all(|x| x.is_finite()));
    let off = a.iter().zip(b).position(|(x, y)| x.to_bits() != y.to_bits());
    assert!(off.is_none(), "number {off:?} differs");
}

pub(crate) fn fitting_twice_is_equal<M: Model>() {
    let cohort = Cohort::of(14, 3);
    let (a, b) = (M::fit(&cohort, 1).unwrap(), M::fit(&cohort, 1).unwrap());
    same_bits(&a.numbers(), &b.numbers());
    assert!(a.save() == b.save(), "saved twice it is not the same to the byte");
}

pub(crate) fn save_and_load_is_equal<M: Model>() {
    let fitted = M::fit(&Cohort::of(14, 3), 1).unwrap();
    let bytes = fitted.save();
    let loaded = M::load(&bytes).unwrap();
    assert!(loaded.save() == bytes, "saved again it is not the same to the byte");
    for (x, y) in fitted.numbers().iter().zip(loaded.numbers()) {
        // Positions are stored as f32: seven digits.
        assert!((x - y).abs() <= 1e-6 * x.abs().max(1e-3), "{x} came back as {y}");
    }
    for wrong in [&bytes[..bytes.len() / 2], &bytes[..0], b"{}", b"\xff\xff\xff\xff\xff\xff\xff\xff\xff"] {
        assert!(M::load(wrong).is_err(), "{} bytes of it were taken for a model", wrong.len());
    }
}

pub(crate) fn a_wrong_shape_is_an_error<M: Model>() {
    let cohort = || Cohort::of(8, 3);
    let point = |p: &Point| p.map(|_| 4.0);
    let line = |p: &Point| [0.0, 0.0, p[2]];
    for (what, wrong) in [
        ("a vertex less", cohort().cut()),
        ("nobody", cohort().first(0)),
        ("NaN", cohort().with(|p| p[1] = f64::NAN)),
        ("infinity", cohort().with(|p| p[1] = f64::INFINITY)),
        ("all vertices in one point", cohort().every(point)),
        ("all vertices on one line", cohort().every(line)),
    ] {
        match M::fit(&wrong, 1) {
            Ok(_) => panic!("{what} was fitted"),
            Err(message) => assert!(message.len() > 12, "{what}: {message}"),
        }
    }
    let fitted = M::fit(&cohort(), 1).unwrap();
    let good = &cohort().shapes[0];
    let mut hole = good.clone();
    hole[3][0] = f64::NAN;
    for shape in [&good[1..], &[], &hole] {
        if let Some(result) = fitted.apply(shape) {
            assert!(result.is_err());
        }
    }
    if let Some(result) = fitted.apply(good) {
        assert!(result.unwrap().iter().all(|x| x.is_finite()));
    }
}

pub(crate) fn threads_make_no_difference<M: Model + Send>() {
    // Enough vertices and people for several chunks.
    let cohort = Cohort::of(70, 5);
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| M::fit(&cohort, 1).unwrap().numbers())
    };
    let one = with(1);
    same_bits(&one, &with(2));
    same_bits(&one, &with(5));
}

pub(crate) fn the_seed_does_what_it_says<M: Model>() {
    let cohort = Cohort::of(23, 3);
    let with = |seed| M::fit(&cohort, seed).unwrap().numbers();
    same_bits(&with(4), &with(4));
    if M::SEEDED {
        assert!(with(4) != with(5), "another seed makes no difference");
    } else {
        same_bits(&with(4), &with(5));
    }
}

pub(crate) fn order_does_not_matter<M: Model>() {
    if M::IN_TIME {
        return;
    }
    let cohort = Cohort::of(14, 3);
    let (a, b) =
        (M::fit(&cohort, 1).unwrap().unordered(), M::fit(&cohort.clone().reversed(), 1).unwrap().unordered());
    assert_eq!(a.len(), b.len());
    for (x, y) in a.iter().zip(&b) {
        assert!((x - y).abs() <= M::ORDER.0 + M::ORDER.1 * x.abs(), "{x} became {y}");
    }
}

/// The suite for one model.
#[macro_export]
macro_rules! contracts {
    ($model:ty) => {
        #[test]
        fn fitting_twice_is_equal() {
            $crate::fitting_twice_is_equal::<$model>();
        }
        #[test]
        fn save_and_load_is_equal() {
            $crate::save_and_load_is_equal::<$model>();
        }
        #[test]
        fn a_wrong_shape_is_an_error() {
            $crate::a_wrong_shape_is_an_error::<$model>();
        }
        #[test]
        fn threads_make_no_difference() {
            $crate::threads_make_no_difference::<$model>();
        }
        #[test]
        fn the_seed_does_what_it_says() {
            $crate::the_seed_does_what_it_says::<$model>();
        }
        #[test]
        fn order_does_not_matter() {
            $crate::order_does_not_matter::<$model>();
        }
    };
}
