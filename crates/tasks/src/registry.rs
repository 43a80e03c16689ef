//! Every task, a line each, in the order in which a report shows them. A study runs them in the order of their needs.

use crate::Task;

/// Something that is done with every task.
pub trait Visitor {
    /// Does it with the task `T`.
    fn visit<T: Task>(&mut self);
}

/// Visits every task in order.
pub fn visit_all(visitor: &mut impl Visitor) {
    visitor.visit::<crate::check::Check>();
    visitor.visit::<crate::space::Space>();
    visitor.visit::<crate::predictions::Predictions>();
    visitor.visit::<crate::predict::Predict>();
    visitor.visit::<crate::complete::Complete>();
    visitor.visit::<crate::compare::Compare>();
    visitor.visit::<crate::regress::Regress>();
    visitor.visit::<crate::symmetry::Symmetry>();
    visitor.visit::<crate::map::Map>();
    visitor.visit::<crate::sample::Sample>();
    visitor.visit::<crate::measure::Measure>();
    visitor.visit::<crate::joints::Joints>();
    visitor.visit::<crate::project::Project>();
    visitor.visit::<crate::merge::Merge>();
    visitor.visit::<crate::movements::Movements>();
    visitor.visit::<crate::motion::Motion>();
    visitor.visit::<crate::points::Points>();
    visitor.visit::<crate::export::Glb>();
    visitor.visit::<crate::export::Meshes>();
    visitor.visit::<crate::export::Coefficients>();
    visitor.visit::<crate::ml::LearningSet>();
    visitor.visit::<crate::percentiles::Percentiles>();
    visitor.visit::<crate::agree::Agree>();
    visitor.visit::<crate::size::Size>();
}
