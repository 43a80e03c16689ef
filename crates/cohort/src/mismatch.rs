//! In what the triangles of a file differ from those of the template.

use std::fmt;

use formkin_geometry::Topology;

/// In what the triangles of a file differ from those of the template. Vertices and triangles count from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Mismatch {
    /// Another number of vertices.
    Vertices {
        /// Of the template.
        expected: usize,
        /// Of the file.
        found: usize,
    },
    /// Another number of triangles.
    Triangles {
        /// Of the template.
        expected: usize,
        /// Of the file.
        found: usize,
    },
    /// The same triangles on the same vertices, listed in another order or from another corner.
    Reordered {
        /// The first place where the lists differ.
        triangle: usize,
        /// The template's triangle there.
        expected: [u32; 3],
        /// The file's triangle there.
        found: [u32; 3],
    },
    /// The same triangles turned over: their corners run the other way round.
    TurnedOver {
        /// How many of them are.
        triangles: usize,
    },
    /// Another list of triangles, but vertex for vertex and triangle for triangle as many neighbours: the vertices
    /// look renumbered.
    Renumbered {
        /// The first place where the lists differ.
        triangle: usize,
        /// The template's triangle there.
        expected: [u32; 3],
        /// The file's triangle there.
        found: [u32; 3],
    },
    /// Another surface.
    Triangle {
        /// The first place where the lists differ.
        triangle: usize,
        /// The template's triangle there.
        expected: [u32; 3],
        /// The file's triangle there.
        found: [u32; 3],
    },
}

impl fmt::Display for Mismatch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Vertices { expected, found } => {
                write!(f, "other topology: {found} vertices, the template has {expected}")
            }
            Self::Triangles { expected, found } => {
                write!(f, "other topology: {found} triangles, the template has {expected}")
            }
            Self::Reordered { triangle, expected, found } => write!(
                f,
                "the template's triangles in another order, first at triangle {triangle}: {found:?} instead of {expected:?}; \
                 export it with the template's face list"
            ),
            Self::TurnedOver { triangles } => {
                write!(
                    f,
                    "the template's triangles, but {triangles} of them are turned over (corners the other way round)"
                )
            }
            Self::Renumbered { triangle, expected, found } => write!(
                f,
                "the vertices look permuted: a surface like the template's under other vertex numbers, first at triangle \
                 {triangle}: {found:?} instead of {expected:?}; export it with the vertex order kept"
            ),
            Self::Triangle { triangle, expected, found } => write!(
                f,
                "other topology: triangle {triangle} is {found:?}, the template has {expected:?} there"
            ),
        }
    }
}

/// Compares a file's triangles with the template's; `None` where they are the same list.
#[must_use]
pub fn compare(template: &Topology, vertices: usize, triangles: &[[u32; 3]]) -> Option<Mismatch> {
    let wanted = template.triangles();
    if vertices != template.vertices() {
        return Some(Mismatch::Vertices { expected: template.vertices(), found: vertices });
    }
    if triangles.len() != wanted.len() {
        return Some(Mismatch::Triangles { expected: wanted.len(), found: triangles.len() });
    }
    let triangle = wanted.iter().zip(triangles).position(|(a, b)| a != b)?;
    let (expected, found) = (wanted[triangle], triangles[triangle]);
    let turned =
        wanted.iter().zip(triangles).filter(|(a, b)| first_corner(**a) != first_corner(**b)).all(|(a, b)| {
            let [x, y, z] = *b;
            first_corner(*a) == first_corner([x, z, y])
        });
    Some(if sorted(wanted) == sorted(triangles) {
        Mismatch::Reordered { triangle, expected, found }
    } else if turned {
        let turned =
            wanted.iter().zip(triangles).filter(|(a, b)| first_corner(**a) != first_corner(**b)).count();
        Mismatch::TurnedOver { triangles: turned }
    } else if valences(vertices, wanted) == valences(vertices, triangles) {
        Mismatch::Renumbered { triangle, expected, found }
    } else {
        Mismatch::Triangle { triangle, expected, found }
    })
}

/// The triangle from its lowest corner, in the same sense.
fn first_corner([a, b, c]: [u32; 3]) -> [u32; 3] {
    if a <= b && a <= c {
        [a, b, c]
    } else if b <= c {
        [b, c, a]
    } else {
        [c, a, b]
    }
}

fn sorted(triangles: &[[u32; 3]]) -> Vec<[u32; 3]> {
    let mut all: Vec<_> = triangles.iter().map(|&t| first_corner(t)).collect();
    all.sort_unstable();
    all
}

/// For each triangle how many triangles meet at its corners, all sorted: the same for renumbered vertices.
fn valences(vertices: usize, triangles: &[[u32; 3]]) -> Vec<[u32; 3]> {
    let mut at = vec![0u32; vertices];
    for v in triangles.iter().flatten() {
        if let Some(n) = at.get_mut(*v as usize) {
            *n += 1;
        }
    }
    let mut all: Vec<[u32; 3]> = triangles
        .iter()
        .map(|t| {
            let mut n = t.map(|v| at.get(v as usize).copied().unwrap_or(0));
            n.sort_unstable();
            n
        })
        .collect();
    all.sort_unstable();
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A strip of triangles on 6 vertices.
    fn strip() -> Topology {
        Topology::new(6, vec![[0, 1, 2], [1, 3, 2], [2, 3, 4], [3, 5, 4]]).unwrap()
    }

    #[test]
    fn every_difference_is_named() {
        let t = strip();
        assert_eq!(compare(&t, 6, t.triangles()), None);
        assert_eq!(compare(&t, 7, t.triangles()), Some(Mismatch::Vertices { expected: 6, found: 7 }));
        assert_eq!(compare(&t, 6, &t.triangles()[..3]), Some(Mismatch::Triangles { expected: 4, found: 3 }));
        assert!(matches!(
            compare(&t, 6, &[[1, 3, 2], [0, 1, 2], [2, 3, 4], [3, 5, 4]]),
            Some(Mismatch::Reordered { triangle: 0, expected: [0, 1, 2], found: [1, 3, 2] })
        ));
        assert!(matches!(
            compare(&t, 6, &[[0, 1, 2], [1, 3, 2], [3, 4, 2], [3, 5, 4]]),
            Some(Mismatch::Reordered { triangle: 2, .. })
        ));
        assert_eq!(
            compare(&t, 6, &[[0, 1, 2], [1, 2, 3], [2, 3, 4], [3, 5, 4]]),
            Some(Mismatch::TurnedOver { triangles: 1 })
        );
        // vertices 0 and 3 exchanged
        let renumbered: Vec<_> = t
            .triangles()
            .iter()
            .map(|t| {
                t.map(|v| {
                    if v == 0 {
                        3
                    } else if v == 3 {
                        0
                    } else {
                        v
                    }
                })
            })
            .collect();
        assert!(matches!(compare(&t, 6, &renumbered), Some(Mismatch::Renumbered { triangle: 0, .. })));
        assert!(matches!(
            compare(&t, 6, &[[0, 1, 2], [1, 3, 2], [2, 3, 4], [2, 5, 4]]),
            Some(Mismatch::Triangle { triangle: 3, expected: [3, 5, 4], found: [2, 5, 4] })
        ));
    }
}
