//! The mean adult as a solid: smooth tables, lofts, the tables of the figure, the joined solid.

pub(crate) mod curve;
pub(crate) mod figure;
pub(crate) mod loft;
pub(crate) mod solid;
