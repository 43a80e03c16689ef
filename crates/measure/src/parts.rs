//! What does not change from body to body: the regions that definitions name, made ready on the template.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use formkin_geometry::Template;
use formkin_geometry::clusters::Clusters;

use crate::definition::{Definition, Extent, Kind, Level, Place, Slab};
use crate::enclosed::Shell;

/// Regions of the template taken together.
pub(crate) struct Part {
    /// For each vertex whether it is in one of them.
    pub(crate) mask: Vec<bool>,
    /// Those vertices, ascending.
    pub(crate) vertices: Vec<u32>,
    /// The groups of triangles that reach into them.
    pub(crate) groups: Vec<u32>,
    /// Of each triangle with a corner in them: its place in the order of triangles, and its share, a third for each of those corners.
    pub(crate) shares: Vec<(u32, f64)>,
    /// Their triangles and rims, or why they enclose nothing; made when first asked for.
    shell: OnceLock<Result<Shell, String>>,
}

impl Part {
    /// What the regions enclose.
    pub(crate) fn shell(&self, parts: &Parts) -> Result<&Shell, String> {
        let make = || Shell::new(parts.template.mesh.topology(), parts.clusters.order(), &self.mask);
        self.shell.get_or_init(make).as_ref().map_err(Clone::clone)
    }
}

/// What does not change from body to body.
pub(crate) struct Parts<'a> {
    pub(crate) template: &'a Template,
    /// Vertices on a triangle.
    pub(crate) used: Vec<bool>,
    parts: BTreeMap<Vec<String>, Part>,
    /// For regions that are taken away, the triangles that stay, by triangle: those whose corners are not mostly in them.
    kept: BTreeMap<Vec<String>, Vec<bool>>,
    /// The triangles in groups.
    pub(crate) clusters: Clusters,
    /// The triangles in the order of the groups, in which sums over the surface find its positions in the cache.
    pub(crate) ordered: Vec<[u32; 3]>,
    /// To look at all triangles for every section and path.
    pub(crate) full: bool,
}

impl<'a> Parts<'a> {
    pub(crate) fn new(template: &'a Template, definitions: &[Definition], places: &[&Place]) -> Self {
        let topology = template.mesh.topology();
        let mut used = vec![false; topology.vertices()];
        for v in topology.triangles().iter().flatten() {
            used[*v as usize] = true;
        }
        let clusters = Clusters::new(topology, template.mesh.positions());
        let ordered = clusters.order().iter().map(|&t| topology.triangles()[t as usize]).collect();
        let mut lists = BTreeSet::new();
        let mut without = BTreeSet::new();
        for place in places {
            regions_of(place, &mut lists);
        }
        for definition in definitions {
            named(&definition.kind, &mut lists);
            without.extend(definition.kind.cut().map(|c| c.without.clone()).filter(|w| !w.is_empty()));
        }
        lists.remove(&Vec::new());
        let mut made = Self {
            template,
            used,
            parts: BTreeMap::new(),
            kept: BTreeMap::new(),
            ordered,
            clusters,
            full: false,
        };
        for list in lists {
            if let Ok(part) = made.make(&list) {
                made.parts.insert(list, part);
            }
        }
        for list in without {
            if let Ok(mask) = made.mask(&list) {
                let kept = |t: &[u32; 3]| t.iter().filter(|v| mask[**v as usize]).count() < 2;
                made.kept.insert(list, topology.triangles().iter().map(kept).collect());
            }
        }
        made
    }

    /// Whether each vertex is in one of these regions.
    fn mask(&self, regions: &[String]) -> Result<Vec<bool>, String> {
        let mut mask = vec![false; self.used.len()];
        for name in regions {
            let list = self.template.regions.get(name);
            for &v in list.ok_or_else(|| format!("the template has no region `{name}`"))? {
                if let Some(m) = mask.get_mut(v as usize) {
                    *m = true;
                }
            }
        }
        Ok(mask)
    }

    fn make(&self, regions: &[String]) -> Result<Part, String> {
        let mask = self.mask(regions)?;
        let topology = self.template.mesh.topology();
        let order = self.clusters.order();
        let share = |t: u32| topology.triangles()[t as usize].iter().filter(|&&v| mask[v as usize]).count();
        let shares = order
            .iter()
            .enumerate()
            .map(|(i, &t)| (i as u32, share(t) as f64 / 3.0))
            .filter(|(_, share)| *share > 0.0)
            .collect();
        Ok(Part {
            vertices: (0..mask.len() as u32).filter(|&v| mask[v as usize]).collect(),
            groups: self.clusters.touching(topology, &mask),
            shares,
            shell: OnceLock::new(),
            mask,
        })
    }

    /// Regions as made ready for the definitions.
    pub(crate) fn part(&self, regions: &[String]) -> Result<&Part, String> {
        self.parts.get(regions).ok_or_else(|| self.missing(regions))
    }

    /// The triangles that stay where regions are taken away, as made ready; `None` where nothing is.
    pub(crate) fn kept(&self, regions: &[String]) -> Result<Option<&[bool]>, String> {
        if regions.is_empty() {
            return Ok(None);
        }
        self.kept.get(regions).map(|k| Some(k.as_slice())).ok_or_else(|| self.missing(regions))
    }

    fn missing(&self, regions: &[String]) -> String {
        self.mask(regions).err().unwrap_or_else(|| "its regions were not made ready".to_owned())
    }
}

/// Every list of regions that a place names.
fn regions_of(place: &Place, lists: &mut BTreeSet<Vec<String>>) {
    match place {
        Place::Furthest { region, .. } => {
            lists.insert(region.clone());
        }
        Place::Middle(list) => list.iter().for_each(|p| regions_of(p, lists)),
        Place::Landmark(_) | Place::Joint(_) => {}
    }
}

/// Every list of regions that a definition names, those it takes away aside.
fn named(kind: &Kind, lists: &mut BTreeSet<Vec<String>>) {
    let mut places: Vec<&Place> = Vec::new();
    match kind {
        Kind::Height { at, from } => places.extend(std::iter::once(at).chain(from)),
        Kind::Distance { between } => places.extend(between),
        Kind::Breadth { extent } | Kind::Depth { extent } => match extent {
            Extent::Places(between) => places.extend(between),
            Extent::Regions(names) => {
                lists.insert(names.clone());
            }
            Extent::Section(_) => {}
        },
        Kind::Path { through, .. } => places.extend(through),
        Kind::Area { region, slab } | Kind::Volume { region, slab } => {
            places.extend(slab.iter().flat_map(Slab::places));
            lists.insert(region.clone());
        }
        Kind::Angle { at, between } => places.extend(std::iter::once(at).chain(between)),
        Kind::Girth { .. } | Kind::Derived { .. } => {}
    }
    if let Some(cut) = kind.cut() {
        lists.insert(cut.region.clone());
        match &cut.level {
            Level::At { place, .. } => places.push(place),
            Level::Between { ends, .. } | Level::Search { ends, .. } => places.extend(ends),
        }
        places.extend(cut.axis.iter().flatten());
        places.extend(cut.plane.as_deref().into_iter().flatten());
        places.extend(&cut.around);
    }
    for place in places {
        regions_of(place, lists);
    }
}
