//! What the parts of the section are made from.

use formkin_sizing::SizeSystem;
use formkin_table::Table;

use crate::size::mannequin::Mannequins;

/// A size system, and what is shown beside it.
pub(super) struct Shown<'a> {
    pub(super) system: &'a SizeSystem,
    pub(super) existing: Option<&'a SizeSystem>,
    /// The people, of whom the assignments are.
    pub(super) table: &'a Table,
    pub(super) mannequins: &'a Mannequins,
    /// The triangles of the mannequins.
    pub(super) triangles: &'a [[u32; 3]],
}
