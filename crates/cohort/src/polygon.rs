//! Polygons of mesh files cut into triangles.

/// Cuts a polygon into a fan from its first corner while its corners arrive.
#[derive(Default)]
pub(crate) struct Fan {
    first: u32,
    last: u32,
    corners: usize,
}

impl Fan {
    pub(crate) fn corner(&mut self, vertex: u32, triangle: &mut impl FnMut([u32; 3])) {
        match self.corners {
            0 => self.first = vertex,
            1 => {}
            _ => triangle([self.first, self.last, vertex]),
        }
        self.last = vertex;
        self.corners += 1;
    }

    pub(crate) fn corners(&self) -> usize {
        self.corners
    }
}
